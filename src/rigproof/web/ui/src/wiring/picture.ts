/** From places to a picture: pins, wires with their ways, outlines. */
import type { Diagram, DrawnGroup } from "../shared/types";
import {
  around,
  boxOf,
  isBare,
  membersOf,
  outlineOf,
  settle,
  snap,
  type Box,
  type Spot,
  type Spots,
} from "./place";
import { partings, routeAll, type Points, type RouteEnd, type RouteWish } from "./route";
import { GRID, moduleOf, sketchOf, type Shape, type Sketch, type Wire } from "./shape";

export interface DrawnShape {
  shape: Shape;
  box: Box;
}
export interface DrawnWire {
  wire: Wire;
  way: Points;
}
export interface Outline {
  group: DrawnGroup;
  box: Box;
  isFolded: boolean;
  /** Not drawn: the block in it says all that it would. */
  isBare: boolean;
}
export interface Picture {
  shapes: Map<string, DrawnShape>;
  wires: Map<string, DrawnWire>;
  normals: DrawnWire[];
  outlines: Outline[];
  /** Pins by name, of what is drawn. */
  pins: Map<string, RouteEnd>;
  /** Where several wires part or meet: filled dots. */
  dots: Spot[];
  extent: Box;
}

/** From an outline down to the middle of its title, and how high and wide titles are. */
const TITLE_HEIGHT = 2 * GRID;

export interface Arranged {
  diagram: Diagram;
  groups: readonly DrawnGroup[];
  folded: ReadonlySet<string>;
  spots: ReadonlyMap<string, Spot>;
  ways: ReadonlyMap<string, Points>;
  /** Blocks that were placed by hand. */
  byHand?: ReadonlySet<string>;
  /** Whether blocks may lie on one another: while one is in the hand. */
  isLoose?: boolean;
}

/**
 * Return the picture, and where the blocks stand now: as before but for what had to make room. Wires keep the ways that
 * they had where these still fit.
 */
export function pictureOf({
  diagram,
  groups,
  folded,
  spots,
  ways,
  byHand = new Set(),
  isLoose = false,
}: Arranged): {
  picture: Picture;
  spots: Spots;
} {
  const whole = sketchOf(diagram, groups, new Set());
  const settled = isLoose ? new Map(spots) : settle(whole, spots, byHand);
  const sketch = folded.size === 0 ? whole : sketchOf(diagram, groups, folded);
  const unfolded = folded.size === 0;
  const placed = unfolded ? settled : withFolds(sketch, whole, settled);
  const drawn = unfolded || isLoose ? placed : settle(sketch, placed, byHand);
  return { picture: draw(sketch, drawn, folded, ways, byHand), spots: settled };
}

/** Let each folded group stand where its blocks are, in the middle of them from left to right. */
function withFolds(sketch: Sketch, whole: Sketch, spots: Spots): Spots {
  const all = new Map(spots);
  for (const shape of sketch.shapes) {
    if (shape.folded === 0) continue;
    const inner = whole.shapes.filter((one) => one.group === shape.group);
    const box = around(inner.map((one) => boxOf(one, spots)));
    if (box) all.set(shape.id, { x: snap(box.x + (box.width - shape.width) / 2), y: box.y });
  }
  return all;
}

function draw(
  sketch: Sketch,
  spots: Spots,
  folded: ReadonlySet<string>,
  ways: ReadonlyMap<string, Points>,
  byHand: ReadonlySet<string>,
): Picture {
  const shapes = new Map(
    sketch.shapes.map((shape) => [shape.id, { shape, box: boxOf(shape, spots) }]),
  );
  const pins = new Map<string, RouteEnd>();
  for (const { shape, box } of shapes.values()) {
    for (const pin of shape.pins) {
      const x = pin.side === "left" ? box.x : box.x + box.width;
      pins.set(pin.id, { x, y: box.y + pin.dy, side: pin.side });
    }
  }
  const outlines = membersOf(sketch, byHand).flatMap(({ group, shapes: members }) => {
    const box = outlineOf(group, members, spots);
    return box ? [{ group, box, isFolded: folded.has(group.name), isBare: isBare(group) }] : [];
  });
  const wishes = sketch.wires.flatMap((wire): RouteWish[] => {
    const from = pins.get(wire.from);
    const to = pins.get(wire.to);
    return from && to ? [{ key: wire.key, net: wire.net, from, to }] : [];
  });
  const boxes = [...shapes.values()].map((one) => one.box);
  const shy = outlines
    .filter((one) => !one.isBare)
    .map(({ group, box }) => ({
      x: box.x,
      y: box.y,
      width: Math.min(box.width, (group.name.length + 4) * 9),
      height: TITLE_HEIGHT,
    }));
  const found = routeAll({ boxes, shy }, wishes, ways);
  const wires = new Map(
    sketch.wires.map((wire) => [wire.key, { wire, way: found.get(wire.key) ?? [] }]),
  );
  const normalsOf = new Map<string, number>();
  const normals = sketch.normals.flatMap((wire) => {
    const from = pins.get(wire.from);
    const to = pins.get(wire.to);
    if (!from || !to) return [];
    const block = moduleOf(wire.to);
    const nth = normalsOf.get(block) ?? 0;
    normalsOf.set(block, nth + 1);
    return [{ wire, way: normalWay(from, to, nth) }];
  });
  const extent = around([
    ...outlines.map((one) => one.box),
    ...boxes,
    ...[...found.values()].flat().map(({ x, y }) => ({ x, y, width: 0, height: 0 })),
  ]) ?? { x: 0, y: 0, width: 1, height: 1 };
  return { shapes, wires, normals, outlines, pins, dots: dotsOf(sketch, wires, pins), extent };
}

/** A normal stays close to its block: out of one pin and into the other, each of a block beside the one before. */
function normalWay(from: RouteEnd, to: RouteEnd, nth: number): Spot[] {
  const far = GRID - 3 - 4 * (nth % 2);
  const out = (end: RouteEnd): number => end.x + (end.side === "left" ? -far : far);
  return [
    { x: from.x, y: from.y },
    { x: out(from), y: from.y },
    { x: out(to), y: to.y },
    { x: to.x, y: to.y },
  ];
}

function dotsOf(
  sketch: Sketch,
  wires: ReadonlyMap<string, DrawnWire>,
  pins: ReadonlyMap<string, RouteEnd>,
): Spot[] {
  const byNet = new Map<string, Points[]>();
  const byPin = new Map<string, number>();
  for (const { wire, way } of wires.values()) {
    const there = byNet.get(wire.net);
    if (there) there.push(way);
    else byNet.set(wire.net, [way]);
    for (const pin of [wire.from, wire.to]) byPin.set(pin, (byPin.get(pin) ?? 0) + 1);
  }
  // Wires that run together to a folded group are not joined.
  const dots = [...byNet]
    .filter(([net, some]) => some.length > 1 && !net.startsWith("fold:"))
    .flatMap(([, some]) => partings(some));
  for (const shape of sketch.shapes) {
    if (shape.folded > 0) continue;
    for (const pin of shape.pins) {
      const at = pins.get(pin.id);
      if ((byPin.get(pin.id) ?? 0) > 1 && at) {
        dots.push({ x: at.x + (at.side === "left" ? -GRID : GRID), y: at.y });
      }
    }
  }
  return dots;
}

/** Return the words of an SVG path along points. */
export const pathOf = (points: Points): string =>
  points.map(({ x, y }, index) => `${index === 0 ? "M" : "L"}${x} ${y}`).join("");

/**
 * Return a picture in which all that is as it was before is the very same object, so that the page touches only what is
 * new.
 */
export function keepSame(before: Picture | null, after: Picture): Picture {
  if (!before) return after;
  const isSame = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);
  const shapes = new Map(
    [...after.shapes].map(([id, now]) => {
      const was = before.shapes.get(id);
      return [id, was && isSame(was, now) ? was : now];
    }),
  );
  const wires = new Map(
    [...after.wires].map(([key, now]) => {
      const was = before.wires.get(key);
      return [key, was && was.way === now.way && isSame(was.wire, now.wire) ? was : now];
    }),
  );
  const pins = new Map(
    [...after.pins].map(([id, now]) => {
      const was = before.pins.get(id);
      return [id, was && was.x === now.x && was.y === now.y && was.side === now.side ? was : now];
    }),
  );
  return { ...after, shapes, wires, pins };
}
