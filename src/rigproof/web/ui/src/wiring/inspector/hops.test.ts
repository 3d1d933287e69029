import { describe, expect, it } from "vitest";
import type { Hop, Project } from "../../shared/types";
import {
  afterWords,
  branchDepths,
  changeWords,
  hopChosen,
  provedAt,
  usualWords,
  wayWords,
} from "./hops";

const hop = (more: Partial<Hop>): Hop => ({
  index: 0,
  parent: null,
  depth: 0,
  place: "output",
  name: "a.out",
  through: "",
  kind: "",
  output: "",
  signal: "audio",
  row: 1,
  span: { lo: -5, hi: 5 },
  level: { lo_v: -5, hi_v: 5, dc_v: 0, rms_v: 1 },
  dbu: 2.218,
  change_db: -3.24,
  pulse: null,
  arrival: { lo_s: 0.008, hi_s: 0.01, turns: 0 },
  is_again: false,
  ...more,
});

it("puts branches in and leaves chains where they are", () => {
  const tree = [null, 0, 1, 2, 2, 4, 0].map((parent, index) => ({ index, parent }));
  //            0 - 1 - 2 - 3
  //            |       + - 4 - 5
  //            + - 6
  expect(branchDepths(tree)).toEqual([0, 1, 1, 2, 2, 2, 1]);
  expect(
    branchDepths([0, 1, 2].map((index) => ({ index, parent: index ? index - 1 : null }))),
  ).toEqual([0, 0, 0]);
});

describe("what is said of a hop", () => {
  it("tells sound in dBu and its change against the top of the travel", () => {
    expect(usualWords(hop({}))).toBe("2.2 dBu");
    expect(changeWords(hop({}))).toBe("−3.2 dB");
    expect(changeWords(hop({ change_db: 0.02 }))).toBe("");
    expect(provedAt(hop({}))).toBe("±5 V");
    expect(afterWords(hop({}))).toBe("8 to 10 ms");
  });
  it("tells a CV in volts, and pulses as pulses", () => {
    const level = { lo_v: 1, hi_v: 1, dc_v: 1, rms_v: 0 };
    expect(usualWords(hop({ signal: "cv", dbu: null, level }))).toBe("1 V");
    const pulse = {
      beat: "steady",
      per_quarter: "4",
      cycle_quarters: "1/4",
      length_s: 0.005,
      hz: null,
      chance: 1,
    };
    expect(usualWords(hop({ signal: "clock", pulse }))).toBe("sixteenths");
  });
  it("tells numbers where the room hears, and no volts", () => {
    const ear = hop({
      place: "ear",
      signal: null,
      level: { lo_v: -0.5, hi_v: 0.25, dc_v: 0, rms_v: 0.1 },
    });
    // 20 log10(0.5)
    expect(usualWords(ear)).toBe("peak −6 dBFS");
    expect(provedAt(ear)).toBe("");
    expect(changeWords(ear)).toBe("");
  });
  it("has nothing to say of volts on a MIDI line", () => {
    const line = hop({ signal: "midi", through: "line a.midi to b.midi", dbu: null });
    expect(usualWords(line)).toBe("");
    expect(provedAt(line)).toBe("");
    expect(wayWords(line)).toBe("line");
  });
});

it("leads to the jack, the control, or the module in which a section is", () => {
  const project = {
    rig: { modules: [{ id: "a", sheet: "s" }], outside: [], programs: [] },
    sheets: { s: { jacks: { out: {} } } },
  } as unknown as Project;
  expect(hopChosen({ place: "output", name: "a.out" }, project)).toEqual({
    sort: "jack",
    name: "a.out",
  });
  expect(hopChosen({ place: "input", name: "a.out:ring" }, project)).toEqual({
    sort: "jack",
    name: "a.out",
  });
  expect(hopChosen({ place: "section", name: "a.vca" }, project)).toEqual({
    sort: "module",
    name: "a",
  });
  expect(hopChosen({ place: "control", name: "a.level" }, project)).toEqual({
    sort: "control",
    name: "a.level",
  });
  expect(hopChosen({ place: "ear", name: "nobody.x" }, project)).toBeNull();
});
