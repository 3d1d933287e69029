/**
 * The first places of all blocks: inside each group by what flows from one to the other, and the groups in columns from
 * what steers over the voices to the way out, packed so that the whole comes near to the shape of the window.
 */
import type { DrawnGroup } from "../shared/types";
import { GAP, insetOf, membersOf, snap, type Spots } from "./place";
import { columnsOf, type Link } from "./ranks";
import { GRID, type Shape, type Sketch } from "./shape";
import { stack } from "./stack";

/** Width to height of a drawing where no window says otherwise. */
export const USUAL_SHAPE = 1.4;
/** The shapes that drawings are made for: a window that is made a little larger is still of the same. */
const SHAPES = [0.85, 1.1, USUAL_SHAPE, 1.75];
/** Room between two columns of blocks: at least, and for each net that turns there. */
const LEAST_ROOM = 5 * GRID;
const ROOM_PER_NET = GRID / 2;
const MOST_ROOM = 18 * GRID;
/** Between the groups of one column. */
const BELOW = 2 * GRID;
const MOST_VOICE_COLUMNS = 5;
/** So much larger may a drawing be in which no wire leads back, or down in its column, than one in which all do. */
const ALL_BACK = 1.5;
/** By how much more it counts for a wire to the way out: all that is heard comes by there. */
const TO_OUT = 3;
const PER_LENGTH = 0.25;
/** How many plans are looked at closer, and how many are drawn. */
const ENTRANTS = 120;
const FINALISTS = 12;
/** In how many ways the groups of a part are laid out together. */
const MOST_CHOICES = 10;
const USUAL_ROOM = 8 * GRID;
const ROUNDS = 4;
/** A wire that leads up within a column is as bad as one so many blocks longer. */
const UPWARDS = 1;

/** In which part of the drawing, from the left, a group of a sort stands. */
const PART_OF: Record<DrawnGroup["sort"], number> = {
  steering: 0,
  apart: 0,
  voice: 1,
  shared: 2,
  out: 3,
};

/** A wire from pin to pin, with how far below the top of its block each is. */
interface Line extends Link {
  fromDy: number;
  toDy: number;
  net: string;
}

/** One way to lay out a group: where its blocks stand in it, and how many wires do not flow to the right. */
interface Laid {
  group: DrawnGroup;
  spots: Spots;
  width: number;
  height: number;
  back: number;
}

/** Lay out a sketch from nothing, for a window of this width to its height. */
export function arrange(sketch: Sketch, shape = USUAL_SHAPE): Spots {
  const unlike = (one: number): number => Math.abs(Math.log(one / shape));
  const [wanted = USUAL_SHAPE] = SHAPES.toSorted((a, b) => unlike(a) - unlike(b));
  const lines = linesOf(sketch);
  const laid = membersOf(sketch)
    .filter(({ shapes }) => shapes.length > 0)
    .map(({ group, shapes }) => waysToLay(group, shapes, lines));
  const worse = (back: number): number => 1 + (ALL_BACK * back) / Math.max(1, lines.length);
  const rough = least(
    plansOf(laid),
    ENTRANTS,
    (plan) => sizeOf(plan, Array(plan.length).fill(USUAL_ROOM), wanted) * worse(innerBackOf(plan)),
  );
  const costOf = (plan: Plan): number =>
    sizeOf(plan, roomsOfPlan(plan, lines), wanted) * worse(backOf(plan, lines));
  const sheets = least(rough, FINALISTS, costOf).map((plan) => {
    const spots = spotsOf(plan, lines);
    return { spots, cost: costOf(plan) + PER_LENGTH * meanLength(spots, lines) };
  });
  const best = sheets.reduce<{ spots: Spots; cost: number } | null>(
    (a, b) => (a && a.cost <= b.cost ? a : b),
    null,
  );
  return best?.spots ?? new Map();
}

/** Return so many of the things, those that cost least. */
function least<T>(things: readonly T[], count: number, costOf: (thing: T) => number): T[] {
  const costs = things.map((thing) => ({ thing, cost: costOf(thing) }));
  costs.sort((a, b) => a.cost - b.cost);
  return costs.slice(0, count).map(({ thing }) => thing);
}

function linesOf(sketch: Sketch): Line[] {
  const at = new Map(
    sketch.shapes.flatMap((shape) => shape.pins.map((pin) => [pin.id, { shape, dy: pin.dy }])),
  );
  return sketch.wires.flatMap(({ from, to, net }) => {
    const [a, b] = [at.get(from), at.get(to)];
    if (!a || !b) return [];
    return [{ from: a.shape.id, to: b.shape.id, fromDy: a.dy, toDy: b.dy, net }];
  });
}

// --- inside a group --------------------------------------------------------------------------------------------------

/** Return the ways to lay out a group that are worth a try: none is wider and taller than another. */
function waysToLay(group: DrawnGroup, shapes: readonly Shape[], lines: readonly Line[]): Laid[] {
  const byId = new Map(shapes.map((shape) => [shape.id, shape]));
  const inner = lines.filter(({ from, to }) => byId.has(from) && byId.has(to));
  const heightOf = (id: string): number => (byId.get(id)?.height ?? 0) + GAP;
  const widest = columnsOf(
    shapes.map((shape) => shape.id),
    inner,
    heightOf,
  );
  const tries = [widest, ...narrower(widest, inner, heightOf), ...flatter(widest, heightOf)];
  const laid = tries
    .map((columns) => columns.map((column) => nearer(column, inner)))
    .map((columns) => layColumns(group, columns, byId, inner, lines));
  return laid.filter(
    (one, index) =>
      !laid.some(
        (other, at) =>
          at !== index &&
          other.width <= one.width &&
          other.height <= one.height &&
          other.back <= one.back &&
          (at < index || other.width < one.width || other.height < one.height),
      ),
  );
}

/** Return the columns with two neighbours made one, again and again, those first that together are least tall. */
function narrower(
  columns: readonly string[][],
  lines: readonly Line[],
  heightOf: (id: string) => number,
): string[][][] {
  const found: string[][][] = [];
  let now = columns.map((column) => [...column]);
  while (now.length > 1) {
    const costs = now.slice(1).map((right, index) => {
      const left = now[index] ?? [];
      const between = lines.filter(({ from, to }) => left.includes(from) && right.includes(to));
      return tallness([...left, ...right], heightOf) * (1 + 0.2 * between.length);
    });
    const at = costs.indexOf(Math.min(...costs));
    now = now.toSpliced(at, 2, [...(now[at] ?? []), ...(now[at + 1] ?? [])]);
    found.push(now);
  }
  return found;
}

/** Return the columns with the tallest split in two beside one another, again and again. */
function flatter(columns: readonly string[][], heightOf: (id: string) => number): string[][][] {
  const found: string[][][] = [];
  let now = columns.map((column) => [...column]);
  for (let times = 0; times < 4; times += 1) {
    const tall = now.map((column) => tallness(column, heightOf));
    const at = tall.indexOf(Math.max(...tall));
    const column = now[at] ?? [];
    if (column.length < 2) break;
    const half = Math.ceil(column.length / 2);
    now = now.toSpliced(at, 1, column.slice(0, half), column.slice(half));
    found.push(now);
  }
  return found;
}

/** Return a column in which what is wired together stands near together, and what is fed below what feeds it. */
function nearer(column: readonly string[], lines: readonly Line[]): string[] {
  const here = lines.filter(({ from, to }) => column.includes(from) && column.includes(to));
  if (here.length === 0) return [...column];
  const costOf = (order: readonly string[]): number => {
    const at = new Map(order.map((id, index) => [id, index]));
    return here.reduce((sum, { from, to }) => {
      const down = (at.get(to) ?? 0) - (at.get(from) ?? 0);
      return sum + (down >= 0 ? down : -down + UPWARDS);
    }, 0);
  };
  let best = [...column];
  let cost = costOf(best);
  for (let round = 0; round < ROUNDS; round += 1) {
    const before = cost;
    for (const id of column) {
      const others = best.filter((one) => one !== id);
      for (let at = 0; at <= others.length; at += 1) {
        const order = others.toSpliced(at, 0, id);
        const now = costOf(order);
        if (now < cost) [best, cost] = [order, now];
      }
    }
    if (cost === before) break;
  }
  return best;
}

const tallness = (column: readonly string[], heightOf: (id: string) => number): number =>
  column.reduce((sum, id) => sum + heightOf(id), 0);

function layColumns(
  group: DrawnGroup,
  columns: readonly string[][],
  byId: ReadonlyMap<string, Shape>,
  inner: readonly Line[],
  lines: readonly Line[],
): Laid {
  const shapesOf = columns.map((ids) => ids.flatMap((id) => byId.get(id) ?? []));
  const columnAt = new Map(columns.flatMap((ids, at) => ids.map((id) => [id, at])));
  const heights = shapesOf.map((column) =>
    column.reduce((sum, shape) => sum + shape.height + GAP, -GAP),
  );
  const height = Math.max(0, ...heights);
  const rooms = roomsBetween(lines, columnAt, columns.length);
  const inset = insetOf(group);
  const pad = { side: upToGrid(inset.side), top: upToGrid(inset.top) };
  const spots: Spots = new Map();
  let x = pad.side;
  shapesOf.forEach((column, at) => {
    const width = Math.max(...column.map((shape) => shape.width));
    let y = pad.top;
    for (const shape of column) {
      spots.set(shape.id, { x: x + snap((width - shape.width) / 2), y });
      y += shape.height + GAP;
    }
    x += width + (rooms[at] ?? 0);
  });
  const width = x - (rooms[columns.length - 1] ?? 0) + pad.side;
  for (let round = 0; round < ROUNDS; round += 1) {
    const order = round % 2 === 0 ? shapesOf.toReversed() : shapesOf;
    for (const column of order) alignColumn(column, spots, inner, pad.top, height);
  }
  const back = inner.filter(({ from, to }) => (columnAt.get(from) ?? 0) >= (columnAt.get(to) ?? 0));
  return {
    group,
    spots,
    width: upToGrid(width),
    height: upToGrid(height + pad.top + pad.side),
    back: back.length,
  };
}

/** Move the blocks of a column up and down so that as many wires as can be are straight. */
function alignColumn(
  column: readonly Shape[],
  spots: Spots,
  lines: readonly Line[],
  top: number,
  height: number,
): void {
  const here = new Set(column.map((shape) => shape.id));
  const wanted = column.map((shape) => ({
    height: shape.height,
    wants: lines.flatMap(({ from, to, fromDy, toDy }) => {
      if (from === shape.id && !here.has(to)) return [yOf(spots, to) + toDy - fromDy - top];
      if (to === shape.id && !here.has(from)) return [yOf(spots, from) + fromDy - toDy - top];
      return [];
    }),
  }));
  const tops = stack(wanted, GAP, height);
  column.forEach((shape, index) => {
    const spot = spots.get(shape.id);
    if (spot) spots.set(shape.id, { x: spot.x, y: top + (tops[index] ?? 0) });
  });
}

const upToGrid = (length: number): number => Math.ceil(length / GRID) * GRID;

const yOf = (spots: Spots, id: string): number => spots.get(id)?.y ?? 0;

/** Return how much room the nets need that turn to the right of each column. */
function roomsBetween(
  lines: readonly Line[],
  columnAt: ReadonlyMap<string, number>,
  count: number,
): number[] {
  const nets = Array.from({ length: count }, () => new Set<string>());
  for (const line of lines) {
    const from = columnAt.get(line.from);
    const to = columnAt.get(line.to);
    if (from === to) {
      if (from !== undefined) {
        nets[from]?.add(line.net);
        nets[from - 1]?.add(line.net);
      }
      continue;
    }
    if (from !== undefined) nets[from]?.add(line.net);
    if (to !== undefined) nets[to - 1]?.add(line.net);
  }
  return nets.map((some) => snap(Math.min(MOST_ROOM, LEAST_ROOM + some.size * ROOM_PER_NET)));
}

// --- the sheet -------------------------------------------------------------------------------------------------------

type Plan = Laid[][];

const heightOfColumn = (column: readonly { height: number }[]): number =>
  column.reduce((sum, one) => sum + one.height + BELOW, -BELOW);
const widthOfColumn = (column: readonly Laid[]): number =>
  Math.max(0, ...column.map((one) => one.width));

/** Split groups, in their order, into so many columns of about the same height. */
export function intoColumns<T extends { height: number }>(
  groups: readonly T[],
  count: number,
): T[][] {
  const columns: T[][] = [];
  let rest = [...groups];
  for (let left = count; left > 0 && rest.length > 0; left -= 1) {
    const wanted = heightOfColumn(rest) / left;
    const column: T[] = [];
    while (rest.length > 0) {
      const next = rest[0] as T;
      const over = heightOfColumn([...column, next]) - wanted;
      if (column.length > 0 && left > 1 && over > next.height / 2) break;
      column.push(next);
      rest = rest.slice(1);
    }
    columns.push(column);
  }
  return columns;
}

/** Return the sheets worth a try: each group laid out as wide as its part may be, the parts in one or more columns. */
function plansOf(laid: readonly Laid[][]): Plan[] {
  const parts = [0, 1, 2, 3].map((part) =>
    laid.filter(([first]) => first && PART_OF[first.group.sort] === part),
  );
  const [steering = [], voices = [], shared = [], out = []] = parts.map(choicesOf);
  const begins = steering.flatMap((choice) => [[choice], intoColumns(choice, 2)]);
  const middles = voices.flatMap((choice) =>
    Array.from({ length: MOST_VOICE_COLUMNS }, (_, index) => intoColumns(choice, index + 1)),
  );
  const ends = shared.flatMap((choice) =>
    out.flatMap((last) => [[choice, last], [[...choice, ...last]]]),
  );
  return begins.flatMap((begin) =>
    middles.flatMap((middle) =>
      ends.map((end) => [...begin, ...middle, ...end].filter((column) => column.length > 0)),
    ),
  );
}

/** Return the ways to lay out all groups of a part: for each width that one can have, all as flat as fits. */
function choicesOf(groups: readonly Laid[][]): Laid[][] {
  if (groups.length === 0) return [[]];
  const least = Math.max(...groups.map((ways) => Math.min(...ways.map((one) => one.width))));
  const widths = new Set(groups.flatMap((ways) => ways.map((one) => Math.max(least, one.width))));
  const choices = [...widths]
    .toSorted((a, b) => a - b)
    .map((width) =>
      groups.flatMap((ways) => {
        const fitting = ways.filter((one) => one.width <= width);
        return fitting.reduce<Laid[]>(([a], b) => {
          const isBetter = !a || b.height < a.height || (b.height === a.height && b.back < a.back);
          return isBetter ? [b] : [a];
        }, []);
      }),
    );
  const seen = new Set<string>();
  const different = choices.filter((choice) => {
    const name = choice.map((one) => `${one.width}x${one.height}`).join();
    return seen.size < seen.add(name).size;
  });
  return spread(different, MOST_CHOICES);
}

const columnsAt = (plan: Plan): Map<string, number> =>
  new Map(
    plan.flatMap((column, at) =>
      column.flatMap((one) => [...one.spots.keys()].map((id) => [id, at] as const)),
    ),
  );

/** Return so many of the things at most, from the first to the last. */
function spread<T>(things: readonly T[], most: number): T[] {
  if (things.length <= most) return [...things];
  const step = (things.length - 1) / (most - 1);
  return Array.from({ length: most }, (_, index) => things[Math.round(index * step)] as T);
}

function roomsOfPlan(plan: Plan, lines: readonly Line[]): number[] {
  const columnAt = columnsAt(plan);
  const between = lines.filter(({ from, to }) => columnAt.get(from) !== columnAt.get(to));
  return roomsBetween(between, columnAt, plan.length).map((room) => Math.max(0, room - 2 * GRID));
}

const innerBackOf = (plan: Plan): number =>
  plan.reduce((sum, column) => column.reduce((all, one) => all + one.back, sum), 0);

/** Return how many wires do not flow to the right. */
function backOf(plan: Plan, lines: readonly Line[]): number {
  const columnAt = columnsAt(plan);
  const groupAt = new Map(
    plan.flat().flatMap((one) => [...one.spots.keys()].map((id) => [id, one])),
  );
  const between = lines.filter(
    ({ from, to }) =>
      groupAt.get(from) !== groupAt.get(to) && (columnAt.get(from) ?? 0) >= (columnAt.get(to) ?? 0),
  );
  const toOut = between.filter(({ to }) => groupAt.get(to)?.group.sort === "out");
  return between.length + TO_OUT * toOut.length + innerBackOf(plan);
}

/** Return how large a drawing is in a window of its shape. */
function sizeOf(plan: Plan, rooms: readonly number[], shape: number): number {
  const width = plan.reduce(
    (sum, column, at) =>
      sum + widthOfColumn(column) + (at + 1 < plan.length ? (rooms[at] ?? 0) : 0),
    0,
  );
  return Math.max(width / shape, ...plan.map(heightOfColumn));
}

function spotsOf(plan: Plan, lines: readonly Line[]): Spots {
  const rooms = roomsOfPlan(plan, lines);
  const height = Math.max(0, ...plan.map(heightOfColumn));
  const lefts: number[] = [];
  let x = 0;
  plan.forEach((column, at) => {
    lefts.push(x);
    x += widthOfColumn(column) + (rooms[at] ?? 0);
  });
  const spots: Spots = new Map();
  const tops = plan.map((column) => {
    const slack = snap((height - heightOfColumn(column)) / 2);
    let y = slack;
    return column.map((one) => {
      const top = y;
      y += one.height + BELOW;
      return top;
    });
  });
  const put = (at: number): void =>
    plan[at]?.forEach((one, index) => {
      const left = (lefts[at] ?? 0) + snap((widthOfColumn(plan[at] ?? []) - one.width) / 2);
      for (const [id, spot] of one.spots) {
        spots.set(id, { x: left + spot.x, y: (tops[at]?.[index] ?? 0) + spot.y });
      }
    });
  plan.forEach((_, at) => put(at));
  for (let round = 0; round < ROUNDS; round += 1) {
    const order = round % 2 === 0 ? [...plan.keys()].reverse() : [...plan.keys()];
    for (const at of order) {
      const column = plan[at] ?? [];
      const wanted = column.map((one) => ({
        height: one.height,
        wants: wantsOf(one, column, spots, lines),
      }));
      tops[at] = stack(wanted, BELOW, height).map(snap);
      put(at);
    }
  }
  return spots;
}

/** Return where the wires to other columns would have the top of a group. */
function wantsOf(
  laid: Laid,
  column: readonly Laid[],
  spots: Spots,
  lines: readonly Line[],
): number[] {
  const isHere = (id: string): boolean => column.some((one) => one.spots.has(id));
  return lines.flatMap(({ from, to, fromDy, toDy }) => {
    const own = laid.spots.get(from);
    if (own && !isHere(to)) return [yOf(spots, to) + toDy - fromDy - own.y];
    const other = laid.spots.get(to);
    if (other && !isHere(from)) return [yOf(spots, from) + fromDy - toDy - other.y];
    return [];
  });
}

function meanLength(spots: Spots, lines: readonly Line[]): number {
  const total = lines.reduce((sum, { from, to, fromDy, toDy }) => {
    const [a, b] = [spots.get(from), spots.get(to)];
    return a && b ? sum + Math.abs(a.x - b.x) + Math.abs(a.y + fromDy - b.y - toDy) : sum;
  }, 0);
  return total / Math.max(1, lines.length);
}
