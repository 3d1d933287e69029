import { describe, expect, it } from "vitest";
import type { Hop, Trace } from "../shared/types";
import { hopWords, jackOf, tracedOn } from "./hops";
import { madeUp } from "./made_up";

const hop = (index: number, parent: number | null, place: Hop["place"], name: string): Hop => ({
  index,
  parent,
  depth: index,
  place,
  name,
  through: "",
  kind: "",
  output: "",
  signal: null,
  row: null,
  span: null,
  level: null,
  dbu: null,
  change_db: null,
  pulse: null,
  arrival: null,
  is_again: false,
});
const trace = (hops: Hop[]): Trace => ({
  revision: 1,
  start: "x",
  at: null,
  message: null,
  message_value: null,
  told: "",
  hops,
  heard: null,
});

describe("tracedOn", () => {
  const diagram = madeUp(2);

  it("numbers the wires in the order of the trace", () => {
    const { wires, modules } = tracedOn(
      trace([
        hop(0, null, "section", "osc-1.oscillator"),
        hop(1, 0, "output", "osc-1.saw"),
        hop(2, 1, "input", "filter-1.in"),
        hop(3, 2, "section", "filter-1.vcf"),
        hop(4, 3, "output", "filter-1.low"),
        { ...hop(5, 4, "input", "submix.in-1"), span: { lo: -5, hi: 5 } },
      ]),
      diagram,
    );
    expect([...wires].map(([key, one]) => [one.number, key, one.words])).toEqual([
      [1, "osc-1.saw>filter-1.in", ""],
      [2, "filter-1.low>submix.in-1", "−5 … 5 V"],
    ]);
    expect([...modules]).toEqual(["osc-1", "filter-1", "submix"]);
  });

  it("goes through a passive mult, by both of its cables", () => {
    const jacks = ["mult.a-1", "mult.a-2"];
    const through = {
      ...diagram,
      meetings: [{ module: "mult", sort: "mult" as const, jacks, cables: [0, 1] }],
      edges: [
        { ...diagram.edges[0]!, source: "clock.beat-1", target: "mult.a-1" },
        { ...diagram.edges[0]!, cable: 1, source: "mult.a-2", target: "seq-1.clock" },
      ],
    };
    const { wires, modules } = tracedOn(
      trace([hop(0, null, "output", "clock.beat-1"), hop(1, 0, "input", "seq-1.clock")]),
      through,
    );
    expect([...wires.keys()]).toEqual(["clock.beat-1>mult.a-1", "mult.a-2>seq-1.clock"]);
    expect(modules.has("mult")).toBe(true);
  });
});

describe("jackOf", () => {
  it("leaves out lanes and what is inside a host", () => {
    expect(jackOf("sampler.ribbon:voice-1")).toBe("sampler.ribbon");
    expect(jackOf("host/inner.out")).toBe("host.out");
    expect(jackOf("osc.saw")).toBe("osc.saw");
  });
});

describe("hopWords", () => {
  it("says volts, decibels and milliseconds", () => {
    const one = {
      ...hop(0, null, "input", "a.b"),
      span: { lo: 0, hi: 8 },
      change_db: -6.02,
      arrival: { lo_s: 0.0009, hi_s: 0.0113, turns: 0 },
    };
    expect(hopWords(one)).toBe("0 … 8 V, −6 dB, 0.9 … 11.3 ms");
  });
});
