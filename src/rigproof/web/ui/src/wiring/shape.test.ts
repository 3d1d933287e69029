import { describe, expect, it } from "vitest";
import type { Diagram } from "../shared/types";
import { madeUp } from "./made_up";
import { drawerOf, FIRST_PIN, GRID, keysOf, PITCH, sketchOf, type Shape } from "./shape";

const shapeNamed = (diagram: Diagram, id: string): Shape =>
  sketchOf(diagram, diagram.groups, new Set()).shapes.find((shape) => shape.id === id)!;

describe("sketchOf", () => {
  const diagram = madeUp(2);

  it("shows plugged jacks only, inputs left and outputs right, in the order of the panel", () => {
    const { pins, free } = shapeNamed(diagram, "filter-1");
    expect(pins.map((pin) => [pin.label, pin.side, pin.dy])).toEqual([
      ["in", "left", FIRST_PIN],
      ["cutoff", "left", FIRST_PIN + PITCH],
      ["low", "right", FIRST_PIN],
      ["high", "right", FIRST_PIN + PITCH],
    ]);
    expect(free).toEqual([]);
    expect(shapeNamed(diagram, "osc-1").free.map((pin) => pin.id)).toEqual(["osc-1.sine"]);
  });

  it("shows the jacks of a normal in use, though nothing is plugged", () => {
    const normal = {
      ...diagram.edges[0]!,
      sort: "normal" as const,
      cable: null,
      source: "submix.in-1",
      target: "osc-1.sine",
    };
    const some = { ...diagram, edges: [...diagram.edges, normal] };
    expect(shapeNamed(some, "osc-1").pins.map((pin) => pin.id)).toContain("osc-1.sine");
    const sketch = sketchOf(some, some.groups, new Set());
    expect(sketch.normals.map((one) => [one.from, one.to])).toEqual([
      ["submix.in-1", "osc-1.sine"],
    ]);
    expect(sketch.wires.length).toBe(diagram.edges.length);
  });

  it("lets the flow decide the side of a bare contact, and puts those that are one side by side", () => {
    const bare = (id: string, cable: number) => ({
      ...diagram.blocks[0]!.jacks[0]!,
      id,
      label: id,
      way: "bare" as const,
      is_used: true,
      cables: [cable],
    });
    const mult = {
      ...diagram.blocks[0]!,
      id: "mult",
      is_passive: true,
      jacks: [bare("a-1", 0), bare("b-1", 1), bare("a-2", 2), bare("b-2", 3)],
    };
    const edge = (cable: number, source: string, target: string) => ({
      ...diagram.edges[0]!,
      cable,
      source,
      target,
    });
    const patched: Diagram = {
      ...diagram,
      blocks: [...diagram.blocks, mult],
      edges: [
        edge(0, "clock.beat-1", "mult.a-1"),
        edge(1, "clock.beat-2", "mult.b-1"),
        edge(2, "mult.a-2", "seq-1.clock"),
        edge(3, "mult.b-2", "seq-2.clock"),
      ],
      meetings: [
        { module: "mult", sort: "mult", jacks: ["mult.a-1", "mult.a-2"], cables: [0, 2] },
        { module: "mult", sort: "mult", jacks: ["mult.b-1", "mult.b-2"], cables: [1, 3] },
      ],
    };
    const shape = shapeNamed(patched, "mult");
    const rows = Object.fromEntries(shape.pins.map((pin) => [pin.label, [pin.side, pin.dy]]));
    expect(rows).toEqual({
      "a-1": ["left", FIRST_PIN],
      "a-2": ["right", FIRST_PIN],
      "b-1": ["left", FIRST_PIN + PITCH],
      "b-2": ["right", FIRST_PIN + PITCH],
    });
    expect(shape.joints.length).toBe(2);
  });
});

describe("keysOf", () => {
  it("tells cables with the same ends apart, and keeps a name while others go", () => {
    const [a, b] = madeUp(2).edges;
    const keys = keysOf([a!, b!, { ...a!, cable: 7 }]);
    expect(new Set(keys).size).toBe(3);
    expect(keysOf([b!])[0]).toBe(keys[1]);
  });
});

describe("drawerOf", () => {
  it("puts free jacks below the block and moves no other pin", () => {
    const shape = shapeNamed(madeUp(2), "osc-1");
    const { pins, height } = drawerOf(shape);
    expect(pins.every((pin) => pin.dy > shape.height && pin.dy < shape.height + height)).toBe(true);
    expect(pins.every((pin) => pin.dy % GRID !== 0)).toBe(true);
    expect(shape.free[0]!.dy).toBe(0);
  });
});
