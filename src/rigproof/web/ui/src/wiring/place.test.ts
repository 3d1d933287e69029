// @vitest-environment node
import { describe, expect, it } from "vitest";
import type { DrawnGroup } from "../shared/types";
import { freeSpot, GAP, keepGroups } from "./place";
import { GRID } from "./shape";

const group = (name: string, sort: DrawnGroup["sort"], ...modules: string[]): DrawnGroup => ({
  name,
  sort,
  modules,
  voices: [],
});
const before = [group("bass", "voice", "osc"), group("not heard", "apart", "echo", "spring")];
const named = (groups: readonly DrawnGroup[]) =>
  Object.fromEntries(groups.map((one) => [one.name, one.modules]));

describe("a group of what is not heard", () => {
  it("keeps its blocks and says so when some of them are heard, and all of them", () => {
    const some = [group("bass", "voice", "osc", "echo"), group("not heard", "apart", "spring")];
    expect(named(keepGroups(some, before))).toEqual({
      bass: ["osc"],
      "not all heard": ["echo", "spring"],
    });
    const all = [group("bass", "voice", "osc", "echo", "spring")];
    const kept = keepGroups(all, keepGroups(some, before));
    expect(named(kept)).toEqual({ bass: ["osc"], "wired since": ["echo", "spring"] });
    // The cables are pulled again, and what is put in then is not heard either.
    const none = [before[0]!, group("not heard", "apart", "echo", "spring", "tape")];
    expect(named(keepGroups(none, kept))).toEqual({
      bass: ["osc"],
      "not heard": ["echo", "spring", "tape"],
    });
  });

  it("is said to be heard in part where a module that is not heard joins heard ones", () => {
    const all = [group("bass", "voice", "osc", "echo", "spring")];
    const kept = keepGroups(all, before);
    const one = [...all, group("not heard", "apart", "tape")];
    expect(named(keepGroups(one, kept))).toEqual({
      bass: ["osc"],
      "not all heard": ["echo", "spring", "tape"],
    });
  });
});

describe("freeSpot", () => {
  const box = (x: number, y: number) => ({ x: x * GRID, y: y * GRID, width: 120, height: 96 });

  it("is where the block is wished for, on the grid, if there is room", () => {
    expect(freeSpot({ ...box(3, 4), x: 3.4 * GRID, y: 4.4 * GRID }, [box(40, 40)])).toEqual({
      x: 3 * GRID,
      y: 4 * GRID,
    });
  });

  it("is the nearest with room where another block stands", () => {
    const other = box(10, 10);
    const below = freeSpot({ ...other, y: other.y + 90 }, [other]);
    expect(below).toEqual({ x: other.x, y: other.y + other.height + GAP });
    const left = freeSpot({ ...other, x: other.x - 130 }, [other]);
    expect(left.y).toBe(other.y);
    expect(left.x + other.width).toBeLessThan(other.x);
  });

  it("finds its way out of a crowd", () => {
    const crowd = [0, 1, 2, 3, 4].flatMap((x) => [0, 1, 2, 3].map((y) => box(14 * x, 11 * y)));
    const { x, y } = freeSpot(box(28, 16), crowd);
    for (const other of crowd) {
      const isBeside = x >= other.x + other.width || other.x >= x + 120;
      const isBelow = y >= other.y + other.height + GAP || other.y >= y + 96 + GAP;
      expect(isBeside || isBelow).toBe(true);
    }
  });
});
