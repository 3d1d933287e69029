import { describe, expect, it } from "vitest";
import { stack, type Stacked } from "./stack";

const ROOM = 1;
const cost = (things: readonly Stacked[], tops: readonly number[]): number =>
  things.reduce(
    (sum, thing, index) =>
      sum + thing.wants.reduce((all, want) => all + Math.abs(want - (tops[index] ?? 0)), 0),
    0,
  );

/** The least sum over all ways to stack, tried one by one. */
function leastByTrying(things: readonly Stacked[], height: number): number {
  let least = Infinity;
  const place = (tops: number[], from: number): void => {
    const thing = things[tops.length];
    if (!thing) {
      least = Math.min(least, cost(things, tops));
      return;
    }
    for (let top = from; top + thing.height <= height; top += 1) {
      place([...tops, top], top + thing.height + ROOM);
    }
  };
  place([], 0);
  return least;
}

describe("stack", () => {
  it("puts things where they are wanted if nothing is in the way", () => {
    const things = [
      { height: 2, wants: [1] },
      { height: 2, wants: [7] },
    ];
    expect(stack(things, ROOM, 12)).toEqual([1, 7]);
  });

  it("keeps order, room and height, and is as good as the best of all ways", () => {
    let seed = 7;
    const next = (below: number): number => (seed = (seed * 48271) % 2147483647) % below;
    for (let round = 0; round < 60; round += 1) {
      const things = Array.from({ length: 3 }, () => ({
        height: 1 + next(3),
        wants: Array.from({ length: 1 + next(3) }, () => next(14) - 1),
      }));
      const tops = stack(things, ROOM, 13);
      tops.forEach((top, index) => {
        const above = index === 0 ? -ROOM : tops[index - 1]! + things[index - 1]!.height;
        expect(top).toBeGreaterThanOrEqual(above + ROOM);
      });
      expect(tops[2]! + things[2]!.height).toBeLessThanOrEqual(13);
      expect(cost(things, tops)).toBe(leastByTrying(things, 13));
    }
  });
});
