import { describe, expect, it } from "vitest";
import type { Flaw, Sheet } from "../shared/types";
import {
  asItIs,
  blank,
  changesAny,
  changesOf,
  formOf,
  grouped,
  isBegun,
  kindWords,
  nameOf,
  portsOf,
} from "./description";

const SEEN = {
  draw_ma: { "+12V": 20, "-12V": 20 },
  jacks: {
    pitch: { way: "in", lanes: { tip: ["oscillator.pitch"] } },
    out: { way: "out", lanes: { tip: ["vca.out"], ring: ["vca-2.out"] } },
  },
  controls: { tune: {} },
} as unknown as Sheet;

describe("a description", () => {
  it("begins from a sheet or from kinds", () => {
    expect(isBegun(blank())).toBe(false);
    expect(isBegun(blank("mixer-4"))).toBe(true);
    expect(isBegun({ ...blank("mixer-4"), begins: "kinds" })).toBe(false);
    expect(isBegun({ ...blank(), begins: "kinds", kinds: ["vca"] })).toBe(true);
  });

  it("sends only what was said", () =>
    expect(formOf(blank("mixer-4"), SEEN)).toEqual({
      name: "new-module",
      like: "mixer-4",
      typical: true,
    }));

  it("takes its name from the title unless it has one", () => {
    expect(nameOf({ ...blank(), title: "My Big Mixer" })).toBe("my-big-mixer");
    expect(nameOf({ ...blank(), title: "My Big Mixer", name: "mix" })).toBe("mix");
  });

  it("gives the draw whole and drops changes of what is gone", () =>
    expect(
      formOf(
        {
          ...blank("mixer-4"),
          title: "Mine",
          isTypical: false,
          hp: 12,
          draw_ma: { "-12V": 35 },
          jacks: { pitch: { range_v: [-2, 6] }, gone: { label: "x" } },
          controls: { gone: { range: [1, 2] } },
        },
        SEEN,
      ),
    ).toEqual({
      name: "mine",
      like: "mixer-4",
      typical: false,
      title: "Mine",
      hp: 12,
      draw_ma: { "+12V": 20, "-12V": 35 },
      jacks: { pitch: { range_v: [-2, 6] } },
    }));

  it("sends kinds with their wires", () =>
    expect(
      formOf(
        {
          ...blank("mixer-4"),
          begins: "kinds",
          kinds: ["oscillator", "vca"],
          wires: [["oscillator.saw", "vca.in"]],
        },
        null,
      ),
    ).toEqual({
      name: "new-module",
      typical: true,
      kinds: ["oscillator", "vca"],
      housing: "module",
      wires: [["oscillator.saw", "vca.in"]],
    }));

  it("finds the ports that wires can join", () =>
    expect(portsOf(SEEN)).toEqual({
      outputs: ["vca.out", "vca-2.out"],
      inputs: ["oscillator.pitch"],
    }));

  it("says what a kind does in its first sentence", () =>
    expect(kindWords({ doc: "AD envelope: a rise and\na fall. With a pulse.\n\nMore." })).toBe(
      "AD envelope: a rise and a fall.",
    ));

  it("puts flaws of the same sort together, worst first, and says what is amiss", () => {
    const flaw = (
      at: string,
      message: string,
      weight: Flaw["weight"],
      lint: string = weight,
    ): Flaw => ({ at, message, weight, lint, fault: `${lint} it is.`, do: "mend it." });
    const places = ["a", "b", "c", "d", "e", "f"].map((at) => flaw(at, "no place", "note"));
    expect(grouped([...places, flaw("hp", "not written", "wrong")])).toEqual([
      { weight: "wrong", fault: "wrong it is.", do: "mend it.", places: "hp: not written" },
      {
        weight: "note",
        fault: "note it is.",
        do: "mend it.",
        places: "a, b, c, d and 2 more: no place",
      },
    ]);
    expect(grouped(places.slice(0, 5))[0]?.places).toBe("a, b, c, d, e: no place");
    const unlike = ["a", "b", "c"].map((at) => flaw(at, `at ${at}`, "wrong"));
    expect(grouped(unlike, 1)[0]?.places).toBe("a: at a and 2 more");
  });
});

const OWN = {
  id: "mine",
  title: "Mine",
  summary: "",
  is_typical: false,
  hp: 8,
  depth_mm: 30,
  draw_ma: { "+12V": 20 },
  jacks: { out: { label: "OUT", range_v: [-5, 5] } },
  controls: { tune: { lo: 0, hi: 10, default: 2 } },
} as unknown as Sheet;

describe("a sheet of one's own", () => {
  it("sends nothing that is as it was, even where it was changed and changed back", () => {
    const said = {
      ...asItIs(OWN),
      hp: 8,
      draw_ma: { "+12V": 20, "-12V": 0 },
      jacks: { out: { label: "OUT", range_v: [-5, 5] } },
      controls: { tune: { range: [0, 10], default: 2 } },
    };
    expect(isBegun(said)).toBe(true);
    const form = changesOf(said, OWN);
    expect(form).toEqual({ name: "mine", change: true });
    expect(changesAny(form)).toBe(false);
  });

  it("sends what is another, the draw whole", () => {
    const form = changesOf(
      {
        ...asItIs(OWN),
        title: "Mine too",
        isTypical: true,
        draw_ma: { "-12V": 15 },
        jacks: { out: { label: "A", range_v: [-5, 5] } },
        controls: { tune: { range: [1, 10] } },
      },
      OWN,
    );
    expect(form).toEqual({
      name: "mine",
      change: true,
      title: "Mine too",
      typical: true,
      draw_ma: { "+12V": 20, "-12V": 15 },
      jacks: { out: { label: "A" } },
      controls: { tune: { range: [1, 10] } },
    });
    expect(changesAny(form)).toBe(true);
  });
});
