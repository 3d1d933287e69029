// @vitest-environment node
import { describe, expect, it } from "vitest";
import type { Diagram } from "../shared/types";
import { arrange, intoColumns } from "./arrange";
import { madeUp } from "./made_up";
import { GRID, sketchOf } from "./shape";

const arranged = (diagram: Diagram) => arrange(sketchOf(diagram, diagram.groups, new Set()));

describe("arrange", () => {
  it("places nothing where there is nothing, and one block where there is one", () => {
    const diagram = madeUp(1);
    expect(arranged({ ...diagram, blocks: [], edges: [], groups: [] }).size).toBe(0);
    const [block] = diagram.blocks;
    const [group] = diagram.groups;
    const one = {
      ...diagram,
      blocks: [block!],
      edges: [],
      groups: [{ ...group!, modules: [block!.id] }],
    };
    expect([...arranged(one).keys()]).toEqual([block!.id]);
  });

  it("places blocks that no wire joins", () => {
    const diagram = { ...madeUp(4), edges: [] };
    expect(arranged(diagram).size).toBe(diagram.blocks.length);
  });

  it("places every block of a rig twice as large as any, on the grid, while nobody waits", () => {
    const diagram = madeUp(30);
    const began = performance.now();
    const spots = arranged(diagram);
    expect(performance.now() - began).toBeLessThan(4000); // a tenth of it on a quiet machine
    expect(spots.size).toBe(diagram.blocks.length);
    for (const { x, y } of spots.values())
      expect([x % GRID, y % GRID].map(Math.abs)).toEqual([0, 0]);
  });
});

describe("intoColumns", () => {
  it("makes columns of about the same height, in order", () => {
    const some = [300, 100, 100, 100, 300].map((height, index) => ({ height, index }));
    const columns = intoColumns(some, 3);
    expect(columns.map((column) => column.map(({ index }) => index))).toEqual([
      [0],
      [1, 2, 3],
      [4],
    ]);
  });
});
