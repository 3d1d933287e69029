import { describe, expect, it } from "vitest";
import { idLines, labelOf, narrowed, widthOf, wrapped } from "./labels";

describe("words on a module", () => {
  it("knows narrow letters from wide ones", () =>
    expect(widthOf("illi")).toBeLessThan(widthOf("mm")));
  it("wraps at words and says where more was", () => {
    expect(wrapped("Two slew limiters", 58, 3)).toEqual(["Two slew", "limiters"]);
    expect(wrapped("Two slew limiters", 80, 1)).toEqual(["Two slew …"]);
    expect(wrapped("Two slew limiters", 58, 1)).toEqual(["Two sle…"]);
    expect(wrapped("", 50, 2)).toEqual([]);
  });
  it("never goes beyond its width", () => {
    for (let px = 20; px < 200; px += 7)
      for (const line of wrapped("Percussion voice, four channels to one output", px, 4))
        expect(widthOf(line), line).toBeLessThanOrEqual(px);
  });
  it("cuts off what is too wide", () => {
    expect(narrowed("clock", 100)).toBe("clock");
    expect(narrowed("Attenuverters", 50)).toBe("Attenu…");
  });
  it("cuts an id at its dashes only", () => {
    expect(idLines("note-sequencer-16", 10, 3)).toEqual(["note-", "sequencer-", "16"]);
    expect(idLines("note-sequencer-16", 9, 3)).toBeNull();
    expect(idLines("a-b-c-d", 4, 3)).toEqual(["a-b-", "c-d"]);
    expect(idLines("a-b-c-d", 2, 3)).toBeNull();
  });
  it("turns up the panel where it is too narrow", () => {
    expect(labelOf("osc", "Oscillator", 70, 180)).toEqual({
      isUpright: false,
      id: ["osc"],
      title: ["Oscillator"],
    });
    expect(labelOf("buffered-mult-6", "Buffered mult", 28, 180)).toEqual({
      isUpright: true,
      id: ["buffered-mult-6"],
      title: [],
    });
    expect(labelOf("random-voltages", "Random voltages", 44, 180).title).toEqual([
      "Random voltages",
    ]);
    expect(labelOf("a-very-long-name-for-a-thing", "", 28, 180).id).toEqual(["a-very-long-name-…"]);
  });
});
