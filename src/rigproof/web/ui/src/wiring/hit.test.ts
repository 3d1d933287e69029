import { describe, expect, it } from "vitest";
import { distanceTo, middleOf, nearestSpot, nearestWay } from "./hit";

const corner = [
  { x: 0, y: 0 },
  { x: 100, y: 0 },
  { x: 100, y: 30 },
];

describe("distanceTo", () => {
  it("is that to the nearest straight", () => {
    expect(distanceTo(corner, { x: 50, y: 7 })).toBe(7);
    expect(distanceTo(corner, { x: 103, y: 34 })).toBe(5);
    expect(distanceTo(corner, { x: 100, y: 20 })).toBe(0);
  });
});

describe("nearestWay", () => {
  it("is the nearest within reach", () => {
    const low = corner.map(({ x, y }) => ({ x, y: y + 10 }));
    const ways = [["high", corner] as const, ["low", low] as const];
    expect(nearestWay(ways, { x: 50, y: 8 }, 6)).toBe("low");
    expect(nearestWay(ways, { x: 50, y: 3 }, 6)).toBe("high");
    expect(nearestWay(ways, { x: 50, y: 30 }, 6)).toBe(null);
  });
});

describe("nearestSpot", () => {
  it("is the nearest within reach", () => {
    const spots = [["a", { x: 0, y: 0 }] as const, ["b", { x: 10, y: 0 }] as const];
    expect(nearestSpot(spots, { x: 7, y: 1 }, 20)).toBe("b");
    expect(nearestSpot(spots, { x: 50, y: 0 }, 20)).toBe(null);
  });
});

describe("middleOf", () => {
  it("is in the middle of the longest straight", () => {
    expect(middleOf(corner)).toEqual({ x: 50, y: 0, isDown: false });
    expect(middleOf(corner.slice(1))).toEqual({ x: 100, y: 15, isDown: true });
  });
});
