/**
 * The first places of all blocks: inside each group by what flows from one to the other, and the groups in columns from
 * what steers over the voices to the way out.
 */
import type { ELK, ElkExtendedEdge, ElkNode } from "elkjs/lib/elk-api";
import type { DrawnGroup } from "../shared/types";
import { GAP, membersOf, PAD, PAD_TOP, snap, type Spots } from "./place";
import { GRID, type Shape, type Sketch } from "./shape";

export const LAYERED = {
  "elk.algorithm": "layered",
  "elk.direction": "RIGHT",
  "elk.edgeRouting": "ORTHOGONAL",
  "elk.layered.nodePlacement.strategy": "NETWORK_SIMPLEX",
  "elk.layered.considerModelOrder.strategy": "NODES_AND_EDGES",
  "elk.randomSeed": "1",
};
/** Least room between two columns of groups, and how much each wire that must find its way there adds. */
const LEAST_ROOM = 7 * GRID;
const ROOM_PER_WIRE = GRID / 3;
const MOST_ROOM = 22 * GRID;
/** Between the groups of one column. */
const BELOW = 3 * GRID;
/** Width to height that a whole drawing should come near. */
const WANTED_SHAPE = 1.7;
const MOST_VOICE_COLUMNS = 5;

/** In which part of the drawing, from the left, a group of a sort stands. */
const PART_OF: Record<DrawnGroup["sort"], number> = {
  steering: 0,
  apart: 0,
  voice: 1,
  shared: 2,
  out: 3,
};

/** Return the graph whose parts are laid out each by itself: a node for each group, in it its blocks. */
export function graphOf(sketch: Sketch): ElkNode {
  const shapeAt = new Map(sketch.shapes.flatMap((s) => s.pins.map((pin) => [pin.id, s])));
  const inner = new Map<string, ElkExtendedEdge[]>();
  for (const wire of sketch.wires) {
    const from = shapeAt.get(wire.from);
    const to = shapeAt.get(wire.to);
    if (!from || !to || from.group !== to.group) continue;
    const edges = inner.get(from.group) ?? [];
    edges.push({ id: `w:${wire.key}`, sources: [wire.from], targets: [wire.to] });
    inner.set(from.group, edges);
  }
  const members = membersOf(sketch).filter(({ shapes }) => shapes.length > 0);
  return {
    id: "sheet",
    layoutOptions: {
      "elk.algorithm": "elk.fixed",
      "elk.hierarchyHandling": "SEPARATE_CHILDREN",
    },
    children: members.map(({ group, shapes }) => ({
      id: `g:${group.name}`,
      x: 0,
      y: 0,
      layoutOptions: {
        ...LAYERED,
        "elk.padding": `[top=${PAD_TOP},left=${PAD},bottom=${PAD},right=${PAD}]`,
        "elk.spacing.nodeNode": String(GAP + GRID),
        "elk.layered.spacing.nodeNodeBetweenLayers": String(7 * GRID),
        "elk.layered.spacing.edgeNodeBetweenLayers": String(2 * GRID),
        "elk.spacing.componentComponent": String(6 * GRID),
        "elk.aspectRatio": "0.9",
      },
      children: shapes.map(nodeOf),
      edges: inner.get(group.name) ?? [],
    })),
  };
}

function nodeOf(shape: Shape): ElkNode {
  return {
    id: shape.id,
    width: shape.width,
    height: shape.height,
    layoutOptions: { "elk.portConstraints": "FIXED_POS" },
    ports: shape.pins.map((pin) => ({
      id: pin.id,
      x: pin.side === "left" ? 0 : shape.width,
      y: pin.dy,
      width: 0,
      height: 0,
      layoutOptions: { "elk.port.side": pin.side === "left" ? "WEST" : "EAST" },
    })),
  };
}

interface Sized {
  group: DrawnGroup;
  width: number;
  height: number;
}

const heightOf = (column: readonly Sized[]): number =>
  column.reduce((sum, one) => sum + one.height, 0) + BELOW * Math.max(0, column.length - 1);
const widthOf = (column: readonly Sized[]): number =>
  Math.max(0, ...column.map((one) => one.width));

/** Split groups, in their order, into so many columns of about the same height. */
export function intoColumns(groups: readonly Sized[], count: number): Sized[][] {
  const columns: Sized[][] = [];
  let rest = [...groups];
  for (let left = count; left > 0 && rest.length > 0; left -= 1) {
    const wanted = heightOf(rest) / left;
    const column: Sized[] = [];
    while (rest.length > 0) {
      const next = rest[0] as Sized;
      const over = heightOf([...column, next]) - wanted;
      if (column.length > 0 && left > 1 && over > next.height / 2) break;
      column.push(next);
      rest = rest.slice(1);
    }
    columns.push(column);
  }
  return columns;
}

/** Return the columns of groups from left to right, so that the whole comes near to the wanted shape. */
export function columnsOf(groups: readonly Sized[]): Sized[][] {
  const parts = [0, 1, 2, 3].map((part) =>
    groups.filter((one) => PART_OF[one.group.sort] === part),
  );
  const [steering = [], voices = [], shared = [], out = []] = parts;
  const tries = Array.from({ length: MOST_VOICE_COLUMNS }, (_, index) => index + 1).map((count) =>
    [steering, ...intoColumns(voices, count), shared, out].filter((column) => column.length > 0),
  );
  const misfit = (columns: readonly Sized[][]): number => {
    const width = columns.reduce((sum, column) => sum + widthOf(column) + 2 * LEAST_ROOM, 0);
    const height = Math.max(1, ...columns.map(heightOf));
    return Math.abs(Math.log(width / height / WANTED_SHAPE));
  };
  return tries.reduce((a, b) => (misfit(b) < misfit(a) ? b : a));
}

/** Return where the blocks of a laid out graph stand, on the grid: group beside group in columns. */
export function spotsOf(sketch: Sketch, laid: ElkNode): Spots {
  const nodes = new Map((laid.children ?? []).map((node) => [node.id, node]));
  const sized = sketch.groups.flatMap((group) => {
    const node = nodes.get(`g:${group.name}`);
    return node ? [{ group, width: node.width ?? 0, height: node.height ?? 0 }] : [];
  });
  const columns = columnsOf(sized);
  const columnAt = new Map(
    columns.flatMap((column, index) => column.map((one) => [one.group.name, index])),
  );
  const rooms = roomsBetween(sketch, columnAt, columns.length);
  const tallest = Math.max(0, ...columns.map(heightOf));
  const spots: Spots = new Map();
  let x = 0;
  columns.forEach((column, index) => {
    let y = snap((tallest - heightOf(column)) / 2);
    for (const { group, width, height } of column) {
      const left = snap(x + (widthOf(column) - width) / 2);
      for (const node of nodes.get(`g:${group.name}`)?.children ?? []) {
        spots.set(node.id, { x: left + snap(node.x ?? 0), y: y + snap(node.y ?? 0) });
      }
      y += snap(height) + BELOW;
    }
    x += snap(widthOf(column)) + (rooms[index] ?? LEAST_ROOM);
  });
  return spots;
}

/** Return how much room the wires need beside each column, to its right. */
function roomsBetween(
  sketch: Sketch,
  columnAt: ReadonlyMap<string, number>,
  count: number,
): number[] {
  const columnOfPin = new Map(
    sketch.shapes.flatMap((s) => s.pins.map((pin) => [pin.id, columnAt.get(s.group) ?? 0])),
  );
  const wires = Array<number>(count).fill(0);
  for (const wire of sketch.wires) {
    const from = columnOfPin.get(wire.from) ?? 0;
    const to = columnOfPin.get(wire.to) ?? 0;
    for (const at of new Set([Math.min(from, to), Math.max(from, to) - 1])) {
      if (from !== to) wires[at] = (wires[at] ?? 0) + 1;
    }
  }
  return wires.map((n) => snap(Math.min(MOST_ROOM, LEAST_ROOM + n * ROOM_PER_WIRE)));
}

/** Lay out a sketch from nothing. */
export async function arrange(elk: Pick<ELK, "layout">, sketch: Sketch): Promise<Spots> {
  return spotsOf(sketch, await elk.layout(graphOf(sketch)));
}
