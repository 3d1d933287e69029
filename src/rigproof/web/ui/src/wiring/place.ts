/** Where blocks stand: kept as they are while the patch is edited, moved only where something would lie on another. */
import type { DrawnGroup } from "../shared/types";
import { GRID, type Shape, type Sketch } from "./shape";

export interface Spot {
  x: number;
  y: number;
}
export interface Box extends Spot {
  width: number;
  height: number;
}
export type Spots = Map<string, Spot>;

/** Least room between a block and the one below. */
export const GAP = 3 * GRID;
/** From the blocks of a group to its outline: half a step off the grid, where no wire runs. */
const PAD = 2.5 * GRID;
const PAD_TOP = 3.5 * GRID;
/** From the outline of a group down to its blocks: there its name stands. */
export const TITLE_ROOM = PAD_TOP;
const BARE = GRID;
const GROUP_GAP = 2 * GRID;

export const snap = (value: number): number => Math.round(value / GRID) * GRID;

/** Return the box that a block takes. */
export function boxOf(shape: Shape, spots: ReadonlyMap<string, Spot>): Box {
  const { x, y } = spots.get(shape.id) ?? { x: 0, y: 0 };
  return { x, y, width: shape.width, height: shape.height };
}

/** Whether an outline would say nothing: around one module whose name is that of the group. */
export const isBare = ({ name, modules }: DrawnGroup): boolean =>
  modules.length === 1 && modules[0] === name;

/** Return the room between the blocks of a group and its outline. */
export const insetOf = (group: DrawnGroup): { side: number; top: number } =>
  isBare(group) ? { side: BARE, top: BARE } : { side: PAD, top: PAD_TOP };

/** Return the outline around a group, null where nothing of it is drawn. */
export function outlineOf(
  group: DrawnGroup,
  members: readonly Shape[],
  spots: ReadonlyMap<string, Spot>,
): Box | null {
  const inner = around(members.map((shape) => boxOf(shape, spots)));
  if (!inner) return null;
  const { side, top } = insetOf(group);
  return {
    x: inner.x - side,
    y: inner.y - top,
    width: inner.width + 2 * side,
    height: inner.height + top + side,
  };
}

/** Return the smallest box around others. */
export function around(boxes: readonly Box[]): Box | null {
  if (boxes.length === 0) return null;
  const x = Math.min(...boxes.map((box) => box.x));
  const y = Math.min(...boxes.map((box) => box.y));
  return {
    x,
    y,
    width: Math.max(...boxes.map((box) => box.x + box.width)) - x,
    height: Math.max(...boxes.map((box) => box.y + box.height)) - y,
  };
}

const overlapsAcross = (a: Box, b: Box, room: number): boolean =>
  a.x < b.x + b.width + room && b.x < a.x + a.width + room;

/**
 * Let boxes slide down, the upper ones first, until each is so far below what is above it. Nothing moves that need not.
 * Returns how far each has gone.
 */
export function slideDown(boxes: readonly Box[], gap: number, room: number): number[] {
  const order = boxes
    .map((box, index) => ({ box: { ...box }, index }))
    .sort((a, b) => a.box.y - b.box.y || a.box.x - b.box.x || a.index - b.index);
  const slid = boxes.map(() => 0);
  const settled: Box[] = [];
  for (const { box, index } of order) {
    let isFree = false;
    while (!isFree) {
      isFree = true;
      for (const other of settled) {
        if (!overlapsAcross(box, other, room)) continue;
        if (box.y < other.y + other.height + gap && other.y < box.y + box.height + gap) {
          box.y = other.y + other.height + gap;
          isFree = false;
        }
      }
    }
    slid[index] = snap(box.y - (boxes[index]?.y ?? 0) + GRID / 2 - 0.01);
    box.y = (boxes[index]?.y ?? 0) + (slid[index] ?? 0);
    settled.push(box);
  }
  return slid;
}

/** Least room beside a block that was placed by hand, for the wires to turn in. */
const HAND_ROOM = 4 * GRID;
const MOST_ROUNDS = 24;

const isNear = (box: Box, other: Box): boolean =>
  overlapsAcross(box, other, HAND_ROOM) &&
  box.y < other.y + other.height + GAP &&
  other.y < box.y + box.height + GAP;

/**
 * Return where a block is put that is let go at a place: there, but aside of a block that it hardly touches, and below one
 * whose lower half it lies on. What is in its way then still has to make way.
 */
export function letGoAt(wish: Box, others: readonly Box[]): Spot {
  const box = { ...wish, x: snap(wish.x), y: snap(wish.y) };
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    const other = others.find((one) => isNear(box, one) && !isOnUpperHalf(box, one));
    if (!other) break;
    if (!overlapsAcross(box, other, 0)) {
      const isLeft = box.x < other.x;
      box.x = isLeft ? other.x - HAND_ROOM - box.width : other.x + other.width + HAND_ROOM;
    } else box.y = other.y + other.height + GAP;
  }
  return { x: box.x, y: box.y };
}

const isOnUpperHalf = (box: Box, other: Box): boolean =>
  overlapsAcross(box, other, 0) && box.y < other.y + other.height / 2;

/**
 * Let what is in the way of blocks that were placed by hand slide down past them; of two such, the one placed later stays.
 * Returns whether anything had to move.
 */
function makeWay(sketch: Sketch, spots: Spots, byHand: ReadonlySet<string>): boolean {
  let isMoved = false;
  const order = [...byHand].reverse();
  order.forEach((id, index) => {
    const shape = sketch.shapes.find((one) => one.id === id);
    if (!shape) return;
    const box = boxOf(shape, spots);
    for (const other of sketch.shapes) {
      const stays = other.id === id || order.slice(0, index).includes(other.id);
      const there = boxOf(other, spots);
      if (stays || !isNear(box, there)) continue;
      moveDown(spots, other.id, snap(box.y + box.height + GAP - there.y));
      isMoved = true;
    }
  });
  return isMoved;
}

/**
 * Return places for all blocks: the old ones where there are any, new blocks below their group; then let slide down what
 * would lie on another, within each group and group by group. Blocks that were placed by hand belong to no outline and
 * stay.
 */
export function settle(
  sketch: Sketch,
  old: ReadonlyMap<string, Spot>,
  byHand: ReadonlySet<string> = new Set(),
): Spots {
  const spots: Spots = new Map();
  const members = membersOf(sketch, byHand);
  for (const shape of sketch.shapes) {
    const spot = old.get(shape.id);
    if (spot) spots.set(shape.id, { ...spot });
  }
  for (const { shapes } of members) {
    for (const shape of shapes) {
      if (spots.has(shape.id)) continue;
      const there = shapes.filter((one) => spots.has(one.id));
      const box = around(there.map((one) => boxOf(one, spots)));
      const all = around(
        sketch.shapes.filter((one) => spots.has(one.id)).map((one) => boxOf(one, spots)),
      );
      spots.set(
        shape.id,
        box
          ? { x: box.x, y: box.y + box.height + GAP }
          : { x: all?.x ?? 0, y: all ? all.y + all.height + PAD + PAD_TOP + GROUP_GAP + GRID : 0 },
      );
    }
  }
  slideGroups(members, spots);
  for (let round = 0; round < MOST_ROUNDS && makeWay(sketch, spots, byHand); round += 1) {
    slideGroups(members, spots);
  }
  return spots;
}

/** Let slide down what lies on another: blocks within their group, then group by group. */
function slideGroups(members: readonly Members[], spots: Spots): void {
  for (const { shapes } of members) {
    const slid = slideDown(
      shapes.map((shape) => boxOf(shape, spots)),
      GAP,
      GAP,
    );
    shapes.forEach((shape, index) => moveDown(spots, shape.id, slid[index] ?? 0));
  }
  const outlines = members.map(({ group, shapes }) => outlineOf(group, shapes, spots));
  const drawn = members.filter((_, index) => outlines[index] !== null);
  const slid = slideDown(
    outlines.filter((box) => box !== null),
    GROUP_GAP,
    GROUP_GAP,
  );
  drawn.forEach(({ shapes }, index) => {
    for (const shape of shapes) moveDown(spots, shape.id, slid[index] ?? 0);
  });
}

function moveDown(spots: Spots, id: string, by: number): void {
  const spot = spots.get(id);
  if (spot && by !== 0) spots.set(id, { x: spot.x, y: spot.y + by });
}

export interface Members {
  group: DrawnGroup;
  shapes: Shape[];
}

/** Return the groups with the blocks that are drawn of them, without those that stand by themselves. */
export function membersOf(sketch: Sketch, without: ReadonlySet<string> = new Set()): Members[] {
  const byGroup = new Map<string, Shape[]>();
  for (const shape of sketch.shapes) {
    if (without.has(shape.id)) continue;
    const shapes = byGroup.get(shape.group);
    if (shapes) shapes.push(shape);
    else byGroup.set(shape.group, [shape]);
  }
  return sketch.groups.map((group) => ({ group, shapes: byGroup.get(group.name) ?? [] }));
}

/**
 * Return the groups to draw: those drawn before for as long as their modules are there, so that an edit does not move
 * blocks from group to group; a new module joins the group that the server puts it in.
 */
export function keepGroups(
  now: readonly DrawnGroup[],
  before: readonly DrawnGroup[] | null,
): DrawnGroup[] {
  if (!before || before.length === 0) return now.map((group) => ({ ...group }));
  const there = new Set(now.flatMap((group) => group.modules));
  const apart = new Set(now.flatMap((group) => (group.sort === "apart" ? group.modules : [])));
  const kept = before.map((group) => ({
    ...group,
    modules: group.modules.filter((id) => there.has(id)),
  }));
  const placed = new Set(kept.flatMap((group) => group.modules));
  for (const group of now) {
    const added = group.modules.filter((id) => !placed.has(id));
    if (added.length === 0) continue;
    const same = kept.find((one) =>
      group.sort === "apart" ? one.sort === "apart" : one.name === group.name,
    );
    if (same) same.modules = [...same.modules, ...added];
    else kept.push({ ...group, modules: added });
  }
  return kept
    .filter((group) => group.modules.length > 0)
    .map((group) =>
      group.sort === "apart" ? { ...group, name: apartName(group.modules, apart) } : group,
    );
}

/** Return what is true now of modules that were drawn together as not heard: the blocks stay, the words do not. */
function apartName(modules: readonly string[], apart: ReadonlySet<string>): string {
  if (modules.every((id) => apart.has(id))) return "not heard";
  return modules.some((id) => apart.has(id)) ? "not all heard" : "wired since";
}

/** Return how many modules would change their group if the drawing were arranged anew. */
export function outOfGroup(now: readonly DrawnGroup[], drawn: readonly DrawnGroup[]): number {
  const before = new Map(drawn.flatMap((group) => group.modules.map((id) => [id, group.name])));
  return now
    .flatMap((group) => group.modules.map((id) => before.get(id) !== group.name))
    .filter(Boolean).length;
}
