import { describe, expect, it } from "vitest";
import { clipped, labelOf, wrapped } from "./labels";

describe("words on a module", () => {
  it("wraps at words and says where more was", () => {
    expect(wrapped("Two slew limiters", 10, 3)).toEqual(["Two slew", "limiters"]);
    expect(wrapped("Two slew limiters", 10, 1)).toEqual(["Two slew …"]);
    expect(wrapped("Attenuverters", 8, 2)).toEqual(["Attenuv…"]);
    expect(wrapped("", 8, 2)).toEqual([]);
  });
  it("never gives more letters than fit", () => {
    for (let letters = 3; letters < 30; letters++)
      for (const line of wrapped("Percussion voice, four channels to one output", letters, 4))
        expect(line.length, line).toBeLessThanOrEqual(letters);
  });
  it("clips", () => {
    expect(clipped("clock", 5)).toBe("clock");
    expect(clipped("clock-6", 5)).toBe("cloc…");
  });
  it("turns up the panel where it is too narrow", () => {
    expect(labelOf("osc", "Oscillator", 70, 180)).toEqual({
      isUpright: false,
      id: "osc",
      title: ["Oscillat…"],
    });
    expect(labelOf("buffered-mult-6", "Buffered mult", 28, 180)).toEqual({
      isUpright: true,
      id: "buffered-mult-6",
      title: [],
    });
    expect(labelOf("random-voltages", "Random voltages", 56, 180).title).toEqual([
      "Random voltages",
    ]);
  });
});
