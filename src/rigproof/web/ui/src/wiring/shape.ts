/**
 * What the drawing is made of before anything has a place: blocks with their pins, and the wires between pins.
 * All lengths are in the drawing's own px and multiples of its grid.
 */
import { twoLines, widthOf as letterWidths } from "./nameplate";
import type {
  Diagram,
  DrawnBlock,
  DrawnEdge,
  DrawnGroup,
  DrawnJack,
  Meeting,
  Signal,
} from "../shared/types";

export const GRID = 12;
/** From pin to pin. */
export const PITCH = 2 * GRID;
/** From the top of a block to its first pin. */
export const FIRST_PIN = 5 * GRID;
const LETTER = 6.9;
/** So wide is a letter of a name that is read from afar, where it stands on two lines if it has a dash. */
const AFAR_LETTER = 40;
const LEAST_WIDTH = 10 * GRID;
const MOST_WIDTH = 22 * GRID;
/** Room between the names of the pins of both sides. */
const MIDDLE = 4 * GRID;

export type Side = "left" | "right";

export interface Pin {
  /** `module.jack`; that of a folded group begins with `fold:`. */
  id: string;
  label: string;
  side: Side;
  /** Its height below the top of the block. */
  dy: number;
  signal: Signal;
  way: "in" | "out" | "bare";
  jack: DrawnJack | null;
}

/** Pins that are one contact inside a passive block: where each is, and where they meet. */
export interface Joint {
  pins: string[];
}

export interface Shape {
  /** The module's id; `fold:NAME` for a folded group. */
  id: string;
  name: string;
  title: string;
  group: string;
  width: number;
  height: number;
  pins: Pin[];
  /** Jacks that are not in use, in the order of the panel; shown while the block is open. */
  free: Pin[];
  joints: Joint[];
  block: DrawnBlock | null;
  /** How many modules are folded in it. */
  folded: number;
}

export interface Wire {
  /** Stays the same as long as the cable has the same ends, whatever number it has. */
  key: string;
  edge: DrawnEdge;
  /** The pins from which and to which it carries. */
  from: string;
  to: string;
  /** Wires of one net may run on one another. */
  net: string;
}

export interface Sketch {
  shapes: Shape[];
  wires: Wire[];
  /** Normals in use; they stay inside a block. */
  normals: Wire[];
  groups: DrawnGroup[];
}

export const moduleOf = (jack: string): string => jack.slice(0, jack.indexOf("."));

export const foldId = (group: string): string => `fold:${group}`;

/** Return the ends of an edge as what it carries flows. */
export function flowOf(edge: DrawnEdge): [string, string] {
  return edge.is_backwards ? [edge.target, edge.source] : [edge.source, edge.target];
}

/** Return a name for every edge that stays while its ends stay; of several with the same ends each has its own. */
export function keysOf(edges: readonly Pick<DrawnEdge, "sort" | "source" | "target">[]): string[] {
  const seen = new Map<string, number>();
  return edges.map((edge) => {
    const ends = `${edge.sort === "normal" ? "normal:" : ""}${edge.source}>${edge.target}`;
    const nth = seen.get(ends) ?? 0;
    seen.set(ends, nth + 1);
    return nth === 0 ? ends : `${ends}#${nth}`;
  });
}

/** Return what is to be drawn; `groups` may be older ones than the diagram's own. */
export function sketchOf(
  diagram: Diagram,
  groups: readonly DrawnGroup[],
  folded: ReadonlySet<string>,
): Sketch {
  const groupOf = new Map(groups.flatMap((one) => one.modules.map((id) => [id, one.name])));
  const foldOf = (module: string): string | null => {
    const group = groupOf.get(module);
    return group !== undefined && folded.has(group) ? group : null;
  };
  const sides = sidesOf(diagram);
  const normalled = new Set(
    diagram.edges.flatMap((edge) => (edge.sort === "normal" ? [edge.source, edge.target] : [])),
  );
  const keys = keysOf(diagram.edges);
  const shapes: Shape[] = [];
  for (const block of diagram.blocks) {
    const group = groupOf.get(block.id) ?? block.group;
    if (foldOf(block.id) === null) {
      shapes.push(shapeOf(block, group, sides, diagram.meetings, normalled));
    }
  }
  const bundles = new Map<string, Map<string, Pin>>();
  /** Return the pin at which a wire ends: its jack, or where it leaves the folded group that hides it. */
  const pinFor = (jack: string, other: string, side: Side, signal: Signal): string => {
    const group = foldOf(moduleOf(jack));
    if (group === null) return jack;
    const far = foldOf(moduleOf(other)) ?? moduleOf(other);
    const id = `${foldId(group)}:${side}:${far}`;
    let pins = bundles.get(group);
    if (!pins) bundles.set(group, (pins = new Map()));
    if (!pins.has(id)) {
      const way = side === "left" ? "in" : "out";
      pins.set(id, { id, label: far, side, dy: 0, signal, way, jack: null });
    }
    return id;
  };
  const wires: Wire[] = [];
  const normals: Wire[] = [];
  const count = new Map<string, number>();
  diagram.edges.forEach((edge, index) => {
    const [source, target] = flowOf(edge);
    const key = keys[index] ?? "";
    const fold = foldOf(moduleOf(source));
    if (edge.sort === "normal") {
      if (fold === null) normals.push({ key, edge, from: source, to: target, net: source });
      return;
    }
    if (fold !== null && fold === foldOf(moduleOf(target))) return;
    const from = pinFor(source, target, "right", edge.signal);
    const to = pinFor(target, source, "left", edge.signal);
    for (const pin of [from, to]) count.set(pin, (count.get(pin) ?? 0) + 1);
    const net = to.startsWith("fold:") && !from.startsWith("fold:") ? to : from;
    wires.push({ key, edge, from, to, net });
  });
  for (const group of groups) {
    if (!folded.has(group.name)) continue;
    const pins = [...(bundles.get(group.name)?.values() ?? [])];
    for (const pin of pins) {
      const wiresThere = count.get(pin.id) ?? 0;
      if (wiresThere > 1) pin.label = `${pin.label} ×${wiresThere}`;
    }
    shapes.push(foldedShape(group, pins));
  }
  return { shapes, wires, normals, groups: [...groups] };
}

/** Return the side of every jack: what comes in left, what goes out right, a bare contact as its wire flows. */
function sidesOf(diagram: Diagram): Map<string, Side> {
  const sides = new Map<string, Side>();
  for (const edge of diagram.edges) {
    const [source, target] = flowOf(edge);
    sides.set(target, "left");
    if (!sides.has(source)) sides.set(source, "right");
  }
  for (const block of diagram.blocks) {
    for (const jack of block.jacks) {
      const id = `${block.id}.${jack.id}`;
      if (jack.way === "in") sides.set(id, "left");
      else if (jack.way === "out") sides.set(id, "right");
      else if (!sides.has(id)) sides.set(id, "right");
    }
  }
  return sides;
}

function shapeOf(
  block: DrawnBlock,
  group: string,
  sides: ReadonlyMap<string, Side>,
  meetings: readonly Meeting[],
  normalled: ReadonlySet<string>,
): Shape {
  // A normal in use is drawn too, so both of its jacks are there.
  const isShown = new Set(
    block.jacks
      .filter((jack) => jack.is_used || normalled.has(`${block.id}.${jack.id}`))
      .map((jack) => `${block.id}.${jack.id}`),
  );
  const pinOf = (jack: DrawnJack): Pin => {
    const id = `${block.id}.${jack.id}`;
    const { label, signal, way } = jack;
    return { id, label, side: sides.get(id) ?? "left", dy: 0, signal, way, jack };
  };
  const all = block.jacks.map(pinOf);
  const pins = all.filter((pin) => isShown.has(pin.id));
  const own = meetings.filter((one) => one.module === block.id && one.sort === "mult");
  const joints = own
    .map((one) => ({ pins: one.jacks.filter((id) => isShown.has(id)) }))
    .filter((one) => one.pins.length > 1);
  const rows = block.is_passive && joints.length > 0 ? byJoint(pins, joints) : bySide(pins);
  return {
    id: block.id,
    name: block.id,
    title: block.title,
    group,
    width: widthOf(block.id, block.title, all),
    height: heightOf(rows),
    pins,
    free: all.filter((pin) => !isShown.has(pin.id)),
    joints,
    block,
    folded: 0,
  };
}

function foldedShape(group: DrawnGroup, pins: Pin[]): Shape {
  const rows = bySide(pins);
  const count = group.modules.length;
  const title = `${count} ${count === 1 ? "module" : "modules"}, folded`;
  return {
    id: foldId(group.name),
    name: group.name,
    title,
    group: group.name,
    width: widthOf(group.name, title, pins),
    height: heightOf(rows),
    pins,
    free: [],
    joints: [],
    block: null,
    folded: count,
  };
}

/** Let the pins of each side follow each other; return how many rows they take. */
function bySide(pins: readonly Pin[]): number {
  const next = { left: 0, right: 0 };
  for (const pin of pins) pin.dy = FIRST_PIN + PITCH * next[pin.side]++;
  return Math.max(next.left, next.right);
}

/** Let the pins that are one contact stand side by side, so that their joint can be drawn. */
function byJoint(pins: readonly Pin[], joints: readonly Joint[]): number {
  let row = 0;
  const met = new Set(joints.flatMap((joint) => joint.pins));
  const parts = [
    ...joints.map((joint) => pins.filter((pin) => joint.pins.includes(pin.id))),
    ...pins.filter((pin) => !met.has(pin.id)).map((pin) => [pin]),
  ];
  for (const part of parts) {
    const next = { left: row, right: row };
    for (const pin of part) pin.dy = FIRST_PIN + PITCH * next[pin.side]++;
    row = Math.max(next.left, next.right);
  }
  return row;
}

const heightOf = (rows: number): number =>
  rows === 0 ? FIRST_PIN : FIRST_PIN + PITCH * (rows - 1) + GRID;

function widthOf(name: string, title: string, pins: readonly Pin[]): number {
  const widest = (side: Side): number =>
    Math.max(0, ...pins.filter((pin) => pin.side === side).map((pin) => pin.label.length));
  const wanted = Math.max(
    (name.length + 2) * LETTER * 1.25,
    Math.max(...twoLines(name).map(letterWidths)) * AFAR_LETTER + GRID,
    title.length * LETTER * 0.95 + 2 * GRID,
    (widest("left") + widest("right")) * LETTER + MIDDLE,
    LEAST_WIDTH,
  );
  return Math.min(MOST_WIDTH, Math.ceil(wanted / PITCH) * PITCH);
}

/**
 * Place the free pins of an open block below it, a side each; return how far down they reach. They stand between the rows
 * of the grid, so that no wire that passes behind seems to end in one.
 */
export function drawerOf(shape: Shape): { pins: Pin[]; height: number } {
  const next = { left: 0, right: 0 };
  const pins = shape.free.map((pin) => ({
    ...pin,
    dy: shape.height + 2.5 * GRID + PITCH * next[pin.side]++,
  }));
  const rows = Math.max(next.left, next.right);
  return { pins, height: rows === 0 ? 0 : PITCH * rows + 2.5 * GRID };
}
