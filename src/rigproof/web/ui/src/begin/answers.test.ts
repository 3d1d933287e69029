import { describe, expect, it } from "vitest";
import type { LibrarySheet } from "../shared/types";
import {
  FIRST,
  counted,
  forget,
  hasPulse,
  keep,
  kept,
  modulesOf,
  needsOf,
  outlined,
  wanted,
} from "./answers";

class Store {
  held = new Map<string, string>();
  getItem = (key: string): string | null => this.held.get(key) ?? null;
  setItem = (key: string, value: string): void => void this.held.set(key, value);
  removeItem = (key: string): void => void this.held.delete(key);
}

describe("answers", () => {
  it("are kept and found again", () => {
    const store = new Store();
    expect(kept(store)).toEqual(FIRST);
    const mine = { ...FIRST, name: "Harbour", counts: { "clock-6": 1, vca: 2 } };
    keep(store, mine);
    expect(kept(store)).toEqual(mine);
    forget(store);
    expect(kept(store)).toEqual(FIRST);
  });
  it("begin anew where what was kept is no answer", () => {
    const store = new Store();
    for (const text of ["{", "[1]", '"x"', '{"rows":[]}', '{"rows":7}']) {
      store.setItem("rigproof-begin", text);
      expect(kept(store), text).toEqual(FIRST);
    }
  });
  it("never share the first answers", () => {
    kept(new Store()).rows.push({ hp: 1, depth_mm: 1 });
    expect(FIRST.rows.length).toBe(1);
  });
});

describe("counts", () => {
  it("go up, down and away", () => {
    let counts = counted({}, "vca", 1);
    counts = counted(counts, "clock-6", 1);
    counts = counted(counts, "vca", 1);
    expect(modulesOf(counts)).toEqual(["vca", "vca", "clock-6"]);
    counts = counted(counted(counts, "vca", -1), "vca", -1);
    expect(counts).toEqual({ "clock-6": 1 });
    expect(counted(counts, "vca", -1)).toEqual({ "clock-6": 1 });
  });
});

describe("what is sent", () => {
  it("leaves out an empty name and rails of nothing", () =>
    expect(
      wanted({
        ...FIRST,
        name: "  ",
        rails_ma: { "+12V": 900, "-12V": 600, "+5V": 0 },
        counts: { "clock-6": 1 },
      }),
    ).toEqual({
      start: "owned",
      rows: [{ hp: 84, depth_mm: 50 }],
      rails_ma: { "+12V": 900, "-12V": 600 },
      tempo_bpm: 120,
      modules: ["clock-6"],
      controller: null,
      interface: "interface-2",
      first_sound: true,
    }));
});

describe("what a first sound needs", () => {
  const sheets = [
    { name: "osc", kinds: ["oscillator"], signals: { in: [], out: ["audio"] } },
    { name: "clock", kinds: ["clock"], signals: { in: [], out: ["clock"] } },
  ] as unknown as LibrarySheet[];
  it("is told by what is there", () => {
    expect(needsOf(FIRST, sheets).map((need) => need.has)).toEqual([false, true]);
    const full = { ...FIRST, counts: { osc: 1 }, interface: null };
    expect(needsOf(full, sheets).map((need) => need.has)).toEqual([true, false]);
    expect(hasPulse(full, sheets)).toBe(false);
    expect(hasPulse({ ...full, counts: { clock: 1 } }, sheets)).toBe(true);
  });
});

it("puts cables and settings below the line that announces them", () => {
  const lines = [
    "A first patch of 1 cable:",
    "osc.saw to out.in",
    "set out.gain to -6 dB",
    "Mind.",
  ];
  expect(outlined(lines)).toEqual([
    { line: lines[0], parts: [lines[1], lines[2]] },
    { line: "Mind.", parts: [] },
  ]);
  expect(outlined(["osc.saw to out.in"])).toEqual([{ line: "osc.saw to out.in", parts: [] }]);
});
