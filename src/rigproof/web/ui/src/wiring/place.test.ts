// @vitest-environment node
import { describe, expect, it } from "vitest";
import type { DrawnGroup } from "../shared/types";
import { GAP, keepGroups, letGoAt } from "./place";
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

describe("letGoAt", () => {
  const box = (x: number, y: number) => ({ x: x * GRID, y: y * GRID, width: 120, height: 96 });

  it("is where the block was let go, on the grid, if there is room", () => {
    const wish = { ...box(3, 4), x: 3.4 * GRID, y: 4.4 * GRID };
    expect(letGoAt(wish, [box(40, 40)])).toEqual({ x: 3 * GRID, y: 4 * GRID });
  });

  it("is below a block on whose lower half it lies, and stays on the upper half of one", () => {
    const other = box(10, 10);
    const below = { x: other.x, y: other.y + other.height + GAP };
    expect(letGoAt({ ...other, y: other.y + 60 }, [other])).toEqual(below);
    expect(letGoAt({ ...other, y: other.y + 24 }, [other])).toEqual({
      x: other.x,
      y: other.y + 24,
    });
  });

  it("leaves room for wires beside a block that it hardly touches", () => {
    const other = box(10, 10);
    const right = letGoAt({ ...other, x: other.x + 132 }, [other]);
    expect(right).toEqual({ x: other.x + 120 + 4 * GRID, y: other.y });
    const left = letGoAt({ ...other, x: other.x - 132 }, [other]);
    expect(left).toEqual({ x: other.x - 120 - 4 * GRID, y: other.y });
  });
});
