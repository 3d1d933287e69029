import { describe, expect, it } from "vitest";
import { isWhole, nextValue, onTravel, travelOf } from "./travel";

describe("travel", () => {
  const controls = [
    { lo: 0, hi: 1, taper: "linear" },
    { lo: 20, hi: 20_000, taper: "log" },
    { lo: -5, hi: 5, taper: "linear" },
    { lo: 0, hi: 10, taper: "square" },
  ];
  it.each(controls)("goes there and back again for $taper", (control) => {
    for (const travel of [0, 0.1, 0.5, 0.99, 1]) {
      expect(travelOf(control, onTravel(control, travel))).toBeCloseTo(travel, 12);
    }
  });
  it("stands at the geometric middle half-way up a log taper", () => {
    expect(onTravel({ lo: 20, hi: 20_000, taper: "log" }, 0.5)).toBeCloseTo(Math.sqrt(20 * 20_000));
  });
  it("stops at the ends", () => {
    expect(onTravel({ lo: 0, hi: 1, taper: "linear" }, 1.5)).toBe(1);
    expect(travelOf({ lo: 0, hi: 1, taper: "linear" }, -3)).toBe(0);
  });
});

it("steps by a hundredth and a tenth of the travel", () => {
  const cutoff = { lo: 20, hi: 20_000, taper: "log", unit: "Hz" };
  expect(nextValue(cutoff, 20, 1, false)).toBeCloseTo(20 * 1000 ** 0.01, 3);
  expect(nextValue(cutoff, 20, 1, true)).toBeCloseTo(20 * 1000 ** 0.1, 2);
  expect(nextValue({ lo: 0, hi: 1, taper: "linear", unit: "ratio" }, 0.5, -1, false)).toBe(0.49);
});
it("steps what is counted by whole numbers, and pitch by semitones and octaves", () => {
  const rotate = { lo: -16, hi: 16, taper: "linear", unit: "steps" };
  expect(isWhole(rotate)).toBe(true);
  expect(nextValue(rotate, 0, 1, false)).toBe(1);
  expect(nextValue(rotate, 10, 1, true)).toBe(16);
  const tune = { lo: -24, hi: 24, taper: "linear", unit: "semitones" };
  expect(isWhole(tune)).toBe(false);
  expect(nextValue(tune, 7.05, 1, false)).toBe(8.05);
  expect(nextValue(tune, -20, -1, true)).toBe(-24);
  const fine = { lo: -1, hi: 1, taper: "linear", unit: "semitones" };
  expect(nextValue(fine, 0, 1, false)).toBe(0.02);
});
