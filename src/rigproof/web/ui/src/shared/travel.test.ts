import { describe, expect, it } from "vitest";
import { onTravel, travelOf } from "./travel";

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
