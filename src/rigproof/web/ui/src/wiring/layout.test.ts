// @vitest-environment node
import { beforeAll, describe, expect, it } from "vitest";
import type { Diagram } from "../shared/types";
import { withCable, withoutCable } from "./ahead";
import { arrange } from "./arrange";
import { madeUp } from "./made_up";
import { LEAST_PX, plateOf } from "./nameplate";
import { keepGroups, settle, type Box, type Spots } from "./place";
import { keepSame, pictureOf, type Picture } from "./picture";
import { GRID, sketchOf } from "./shape";
import { fit } from "./view";

const NONE: ReadonlySet<string> = new Set();

function overlap(a: Box, b: Box): boolean {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
}

const pairs = <T>(items: readonly T[]): [T, T][] =>
  items.flatMap((a, index) => items.slice(index + 1).map((b): [T, T] => [a, b]));

/** How many blocks have moved from one picture to another, and how far the middle one and the furthest have gone. */
function moved(a: Picture, b: Picture): { count: number; median: number; most: number } {
  const far = [...a.shapes]
    .map(([id, { box }]) => {
      const now = b.shapes.get(id)?.box ?? box;
      return Math.hypot(now.x - box.x, now.y - box.y);
    })
    .sort((x, y) => x - y);
  const count = far.filter((one) => one > 0).length;
  return { count, median: far[far.length >> 1] ?? 0, most: far[far.length - 1] ?? 0 };
}

const waysOf = (picture: Picture) =>
  new Map([...picture.wires].map(([key, one]) => [key, one.way]));

describe("a patch of 60 modules", () => {
  const diagram = madeUp(14);
  let spots: Spots;
  let picture: Picture;

  const draw = (next: Diagram, folded = NONE, from = spots, ways = waysOf(picture)) =>
    pictureOf({
      diagram: next,
      groups: keepGroups(next.groups, diagram.groups),
      folded,
      spots: from,
      ways,
    });

  beforeAll(() => {
    spots = arrange(sketchOf(diagram, diagram.groups, NONE));
    const first = pictureOf({
      diagram,
      groups: diagram.groups,
      folded: NONE,
      spots,
      ways: new Map(),
    });
    spots = first.spots;
    picture = first.picture;
  });

  it("is as large as it says", () => {
    expect(diagram.blocks.length).toBe(60);
    expect(diagram.edges.length).toBe(128);
    expect(picture.shapes.size).toBe(60);
    expect(picture.wires.size).toBe(128);
  });

  it("lays no block on another and no group on another", () => {
    const boxes = [...picture.shapes.values()].map((one) => one.box);
    expect(pairs(boxes).filter(([a, b]) => overlap(a, b))).toEqual([]);
    const outlines = picture.outlines.map((one) => one.box);
    expect(pairs(outlines).filter(([a, b]) => overlap(a, b))).toEqual([]);
  });

  it("puts every block on the grid and inside the outline of its group", () => {
    for (const { shape, box } of picture.shapes.values()) {
      expect([box.x % GRID, box.y % GRID].map(Math.abs)).toEqual([0, 0]);
      const outline = picture.outlines.find((one) => one.group.name === shape.group)?.box;
      expect(outline && overlap(outline, box)).toBe(true);
      expect(outline && outline.x < box.x && outline.x + outline.width > box.x + box.width).toBe(
        true,
      );
    }
  });

  it("runs the voices from left to right, and at the end down", () => {
    const x = (id: string): number => picture.shapes.get(id)?.box.x ?? NaN;
    expect(x("clock")).toBeLessThan(x("seq-1"));
    expect(x("seq-1")).toBeLessThan(x("osc-1"));
    expect(x("osc-1")).toBeLessThan(x("filter-1"));
    expect(x("filter-1")).toBeLessThan(x("submix"));
    const [submix, desk] = ["submix", "desk"].map((id) => picture.shapes.get(id)!.box);
    const isBelow = desk!.y > submix!.y + submix!.height;
    expect(x("submix") < x("desk") || isBelow).toBe(true);
  });

  it("leads every wire from its pin to its pin, square-cornered, over no block", () => {
    const boxes = [...picture.shapes.values()].map((one) => one.box);
    for (const { wire, way } of picture.wires.values()) {
      expect(way[0]).toMatchObject({
        x: picture.pins.get(wire.from)?.x,
        y: picture.pins.get(wire.from)?.y,
      });
      expect(way.at(-1)).toMatchObject({
        x: picture.pins.get(wire.to)?.x,
        y: picture.pins.get(wire.to)?.y,
      });
      for (let i = 1; i < way.length; i += 1) {
        const a = way[i - 1]!;
        const b = way[i]!;
        expect(a.x === b.x || a.y === b.y, wire.key).toBe(true);
        const line = {
          x: Math.min(a.x, b.x),
          y: Math.min(a.y, b.y),
          width: Math.abs(a.x - b.x),
          height: Math.abs(a.y - b.y),
        };
        // The corner of a box touches nothing: a line on its edge would.
        const runsOver = boxes.filter((box) =>
          overlap(box, { ...line, width: line.width, height: line.height }),
        );
        expect(runsOver, wire.key).toEqual([]);
      }
    }
  });

  it("lets next to no wire run on another", () => {
    const users = new Map<string, Set<string>>();
    let length = 0;
    for (const { wire, way } of picture.wires.values()) {
      for (let i = 1; i < way.length; i += 1) {
        const a = way[i - 1]!;
        const b = way[i]!;
        const steps = (Math.abs(a.x - b.x) + Math.abs(a.y - b.y)) / GRID;
        for (let n = 0; n < steps; n += 1) {
          const x = a.x + Math.sign(b.x - a.x) * GRID * (n + 0.5);
          const y = a.y + Math.sign(b.y - a.y) * GRID * (n + 0.5);
          const there = users.get(`${x},${y}`) ?? new Set();
          users.set(`${x},${y}`, there.add(wire.net));
          length += 1;
        }
      }
    }
    const together = [...users.values()].filter((nets) => nets.size > 1).length;
    expect(together / length).toBeLessThan(0.002);
  });

  it.each([
    ["a laptop", 896, 640],
    ["a tablet held upright", 768, 710],
    ["a desk", 1296, 930],
  ])("can be read whole in the window of %s: no name is too small or cut", (_, width, height) => {
    const { picture: seen } = pictureOf({
      diagram,
      groups: diagram.groups,
      folded: NONE,
      spots: arrange(sketchOf(diagram, diagram.groups, NONE), width / height),
      ways: new Map(),
    });
    const { scale } = fit(seen.extent, width, height);
    for (const { shape, box } of seen.shapes.values()) {
      const plate = plateOf(shape.name, box.width * scale, box.height * scale);
      expect(plate.isCut, shape.name).toBe(false);
      expect(plate.size).toBeGreaterThanOrEqual(LEAST_PX);
    }
  });

  it("fills at least two thirds of a window of its shape in each direction", () => {
    for (const shape of [0.85, 1.1, 1.4, 1.75]) {
      const spots = arrange(sketchOf(diagram, diagram.groups, NONE), shape);
      const { picture } = pictureOf({
        diagram,
        groups: diagram.groups,
        folded: NONE,
        spots,
        ways: new Map(),
      });
      const { width, height } = picture.extent;
      expect(Math.abs(Math.log(width / height / shape))).toBeLessThan(Math.log(1.5));
    }
  });

  it("is the same in a window made a little larger", () => {
    const sketch = sketchOf(diagram, diagram.groups, NONE);
    const [one, other] = [arrange(sketch, 896 / 670), arrange(sketch, 896 / 640)];
    expect([...one]).toEqual([...other]);
    expect([...arrange(sketch, 768 / 700)]).not.toEqual([...one]);
  });

  it("comes out the same each time", () => {
    const again = arrange(sketchOf(diagram, diagram.groups, NONE));
    expect(settle(sketchOf(diagram, diagram.groups, NONE), again)).toEqual(spots);
  });

  it("hardly moves when one cable is added, wherever it is added", () => {
    const loose = (way: "in" | "out") =>
      diagram.blocks.flatMap((one) =>
        one.jacks.filter((j) => j.way === way && !j.is_used).map((j) => `${one.id}.${j.id}`),
      );
    const ways = waysOf(picture);
    const added = loose("out").slice(0, 6);
    const target = loose("in");
    expect(added.length).toBeGreaterThan(3);
    expect(target.length).toBeGreaterThan(0);
    added.forEach((source, index) => {
      const next = draw(withCable(diagram, { source, target: target[index % target.length]! }));
      const far = moved(picture, next.picture);
      expect(far.median).toBe(0);
      expect(far.count).toBeLessThanOrEqual(diagram.blocks.length / 5);
      expect(far.most).toBeLessThanOrEqual(2 * GRID);
      expect(next.picture.wires.size).toBe(129);
      const kept = [...next.picture.wires].filter(([key, one]) => ways.get(key) === one.way);
      expect(kept.length).toBeGreaterThan(115);
    });
  });

  it("hands the page anew only what has changed", () => {
    const again = structuredClone(
      withCable(diagram, { source: "osc-1.sine", target: "clock.run" }),
    );
    const next = keepSame(picture, draw(again).picture);
    const touched = [...next.shapes].filter(([id, one]) => picture.shapes.get(id) !== one);
    expect(touched.map(([id]) => id).sort()).toEqual(["clock", "osc-1"]);
    const rewired = [...next.wires].filter(([key, one]) => picture.wires.get(key) !== one);
    expect(rewired.map(([key]) => key)).toContain("osc-1.sine>clock.run");
    expect(rewired.length).toBeLessThan(16);
  });

  it("moves nothing at all when one cable is pulled out", () => {
    for (const index of [0, 17, 63, 127]) {
      const next = draw(withoutCable(diagram, index));
      expect(moved(picture, next.picture).most).toBe(0);
      expect(next.picture.wires.size).toBe(127);
    }
  });

  it("stays where it is when the server groups it otherwise", () => {
    const other = structuredClone(diagram);
    const [one, two] = other.groups;
    two!.modules.push(one!.modules.pop()!);
    expect(moved(picture, draw(other).picture).most).toBe(0);
  });

  it("finds room for a new module, and moves no other for it but downwards in its own group", () => {
    const bigger = structuredClone(diagram);
    const copy = structuredClone(bigger.blocks.find((one) => one.id === "env-3")!);
    copy.id = "env-new";
    bigger.blocks.push(copy);
    bigger.groups.find((one) => one.name === "voice-3")!.modules.push("env-new");
    const next = draw(bigger).picture;
    expect(next.shapes.size).toBe(61);
    const boxes = [...next.shapes.values()].map((one) => one.box);
    expect(pairs(boxes).filter(([a, b]) => overlap(a, b))).toEqual([]);
    const others = [...picture.shapes.values()].filter(({ box, shape }) => {
      const now = next.shapes.get(shape.id)!.box;
      return now.x !== box.x || now.y < box.y;
    });
    expect(others).toEqual([]);
  });

  it("leaves a block where it was put by hand, out of its outline, and moves no other for it", () => {
    const put = { x: -600, y: -480 };
    const next = pictureOf({
      diagram,
      groups: diagram.groups,
      folded: NONE,
      spots: new Map(spots).set("env-3", put),
      ways: waysOf(picture),
      byHand: new Set(["env-3"]),
    });
    expect(next.picture.shapes.get("env-3")!.box).toMatchObject(put);
    const others = [...next.picture.shapes].filter(
      ([id, { box }]) =>
        id !== "env-3" && JSON.stringify(box) !== JSON.stringify(picture.shapes.get(id)!.box),
    );
    expect(others).toEqual([]);
    const outline = next.picture.outlines.find((one) => one.group.name === "voice-3")!.box;
    expect(overlap(outline, next.picture.shapes.get("env-3")!.box)).toBe(false);
    expect(next.picture.extent.x).toBeLessThanOrEqual(put.x);
    const wires = [...next.picture.wires.values()].filter(({ wire }) => wire.from === "env-3.out");
    expect(wires.map(({ way }) => way[0])).toEqual([
      { x: next.picture.pins.get("env-3.out")!.x, y: next.picture.pins.get("env-3.out")!.y },
    ]);
    const again = pictureOf({
      ...next,
      diagram,
      groups: diagram.groups,
      folded: NONE,
      ways: new Map(),
      byHand: new Set(["env-3"]),
    });
    expect(again.spots).toEqual(next.spots);
  });

  it("lets what is in the way of a block that was put by hand slide down past it", () => {
    const at = picture.shapes.get("osc-3")!.box;
    const { picture: next } = pictureOf({
      diagram,
      groups: diagram.groups,
      folded: NONE,
      spots: new Map(spots).set("env-3", { x: at.x + GRID, y: at.y + GRID }),
      ways: new Map(),
      byHand: new Set(["env-3"]),
    });
    expect(next.shapes.get("env-3")!.box).toMatchObject({ x: at.x + GRID, y: at.y + GRID });
    const isUp = [...next.shapes].filter(([id, { box }]) => box.y < picture.shapes.get(id)!.box.y);
    expect(isUp.map(([id]) => id).filter((id) => id !== "env-3")).toEqual([]);
    const boxes = [...next.shapes.values()].map((one) => one.box);
    expect(pairs(boxes).filter(([a, b]) => overlap(a, b))).toEqual([]);
  });

  it("folds a group into one block whose wires bundle, and unfolds to what was", () => {
    const folded = draw(diagram, new Set(["voice-2"])).picture;
    expect(folded.shapes.size).toBe(57);
    const block = folded.shapes.get("fold:voice-2")!;
    expect(block.shape.title).toBe("4 modules, folded");
    // In: from the clock, the waves and the voice before; out: to the submix (two wires, one bundle) and the next voice.
    expect(block.shape.pins.map((pin) => `${pin.side} ${pin.label}`).sort()).toEqual([
      "left clock",
      "left filter-1",
      "left wave",
      "right seq-3",
      "right submix ×2",
    ]);
    const bundle = [...folded.wires.values()].filter(
      ({ wire }) => wire.from === "fold:voice-2:right:submix",
    );
    expect(bundle.map(({ wire }) => wire.edge.target).sort()).toEqual([
      "submix.cv-2",
      "submix.in-2",
    ]);
    expect(new Set(bundle.map(({ wire }) => wire.net)).size).toBe(1);
    expect(moved(picture, folded)).toMatchObject({ median: 0 });
    expect(moved(picture, folded).most).toBeLessThanOrEqual(2 * GRID);
    const back = draw(diagram, NONE, spots, waysOf(folded)).picture;
    expect(back.wires.size).toBe(128);
    expect(moved(picture, back).most).toBe(0);
  });
});
