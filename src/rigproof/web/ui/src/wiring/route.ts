/**
 * The ways of the wires: square-cornered, around blocks, on a grid on which no two wires run on one another if it can be
 * helped. A wire that has a way keeps it for as long as its ends stay and no block stands on it.
 *
 * Each wire takes the cheapest way by length, corners and crossings (Lee's maze search in the form of A*: P. Hart,
 * N. Nilsson, B. Raphael, "A formal basis for the heuristic determination of minimum cost paths", 1968).
 */
import type { Box, Spot } from "./place";
import { GRID, type Side } from "./shape";

export interface RouteEnd extends Spot {
  side: Side;
}
export interface RouteWish {
  key: string;
  net: string;
  from: RouteEnd;
  to: RouteEnd;
}
export interface Field {
  /** Blocks; no wire runs over one. */
  boxes: readonly Box[];
  /** Where wires run unwillingly: titles. */
  shy?: readonly Box[];
}
export type Points = readonly Spot[];

const STEP = 2;
const BEND = 14;
const CROSSING = 9;
const OVERLAP = 90;
const SHY = 4;
const BLOCKED = 400;
/** Steps that a wire runs straight out of its pin. */
const STUB = 2;
const MARGIN = 12;
const SHARED = -1;

/** Return the way of every wire wished for. Ways in `kept` stay where they still lead from end to end past all blocks. */
export function routeAll(
  field: Field,
  wishes: readonly RouteWish[],
  kept: ReadonlyMap<string, Points> = new Map(),
): Map<string, Points> {
  const maze = new Maze(field, wishes);
  const ways = new Map<string, Points>();
  const open: RouteWish[] = [];
  for (const wish of wishes) {
    const way = kept.get(wish.key);
    if (way && leadsFromTo(way, wish) && maze.isFree(way)) {
      ways.set(wish.key, way);
      maze.paint(wish.net, way);
    } else open.push(wish);
  }
  open.sort((a, b) => spread(a) - spread(b));
  const bad: RouteWish[] = [];
  for (const wish of open) {
    const { points, overlaps } = maze.find(wish);
    ways.set(wish.key, points);
    maze.paint(wish.net, points);
    if (overlaps) bad.push(wish);
  }
  // Whoever had to run on another tries again, now that all others are there.
  for (const wish of bad) {
    const rest = wishes.filter((one) => one !== wish);
    maze.wipe();
    for (const one of rest) maze.paint(one.net, ways.get(one.key) ?? []);
    ways.set(wish.key, maze.find(wish).points);
  }
  return new Map(wishes.map((wish) => [wish.key, ways.get(wish.key) ?? []]));
}

const spread = ({ from, to }: RouteWish): number =>
  Math.abs(from.x - to.x) + Math.abs(from.y - to.y);

function leadsFromTo(way: Points, wish: RouteWish): boolean {
  const first = way[0];
  const last = way[way.length - 1];
  return (
    first !== undefined &&
    last !== undefined &&
    first.x === wish.from.x &&
    first.y === wish.from.y &&
    last.x === wish.to.x &&
    last.y === wish.to.y
  );
}

/** Return the points of a way without those in the middle of a straight. */
export function simplify(points: Points): Spot[] {
  const out: Spot[] = [];
  for (const point of points) {
    const a = out[out.length - 2];
    const b = out[out.length - 1];
    if (b && b.x === point.x && b.y === point.y) continue;
    if (a && b && ((a.x === b.x && b.x === point.x) || (a.y === b.y && b.y === point.y))) out.pop();
    out.push(point);
  }
  return out;
}

/** Return a plain square-cornered way at once, whatever stands in it: shown until the real one is there. */
export function straightWay(from: RouteEnd, to: RouteEnd): Spot[] {
  const out = STUB * GRID;
  const a = from.x + (from.side === "right" ? out : -out);
  const b = to.x + (to.side === "right" ? out : -out);
  const isFacing = from.side === "right" && to.side === "left" && a <= b;
  const x = isFacing ? Math.round((a + b) / 2 / GRID) * GRID : a;
  const y = Math.round((from.y + to.y) / 2 / GRID) * GRID;
  const middle = isFacing
    ? [
        { x, y: from.y },
        { x, y: to.y },
      ]
    : [
        { x: a, y: from.y },
        { x: a, y },
        { x: b, y },
        { x: b, y: to.y },
      ];
  return simplify([{ x: from.x, y: from.y }, ...middle, { x: to.x, y: to.y }]);
}

class Maze {
  private readonly left: number;
  private readonly top: number;
  private readonly columns: number;
  private readonly rows: number;
  private readonly blocked: Uint8Array;
  private readonly shy: Uint8Array;
  /** Which net runs there across and down: 0 none, its number, or SHARED. */
  private readonly across: Int32Array;
  private readonly down: Int32Array;
  private readonly cost: Int32Array;
  private readonly seen: Int32Array;
  private readonly cameFrom: Int32Array;
  private readonly nets = new Map<string, number>();
  private turn = 0;

  constructor(field: Field, wishes: readonly RouteWish[]) {
    const xs = [
      ...field.boxes.flatMap((box) => [box.x, box.x + box.width]),
      ...wishes.flatMap((wish) => [wish.from.x, wish.to.x]),
      0,
    ];
    const ys = [
      ...field.boxes.flatMap((box) => [box.y, box.y + box.height]),
      ...wishes.flatMap((wish) => [wish.from.y, wish.to.y]),
      0,
    ];
    this.left = Math.floor(min(xs) / GRID) - MARGIN;
    this.top = Math.floor(min(ys) / GRID) - MARGIN;
    this.columns = Math.ceil(max(xs) / GRID) + MARGIN - this.left + 1;
    this.rows = Math.ceil(max(ys) / GRID) + MARGIN - this.top + 1;
    const cells = this.columns * this.rows;
    this.blocked = new Uint8Array(cells);
    this.shy = new Uint8Array(cells);
    this.across = new Int32Array(cells);
    this.down = new Int32Array(cells);
    this.cost = new Int32Array(2 * cells);
    this.seen = new Int32Array(2 * cells);
    this.cameFrom = new Int32Array(2 * cells);
    // Beside a block are its pins; above and below it a wire may come as near as one step.
    for (const box of field.boxes) this.fill(this.blocked, box, GRID);
    for (const box of field.shy ?? []) this.fill(this.shy, box, 0);
  }

  private fill(cells: Uint8Array, box: Box, aside: number): void {
    const from = Math.max(0, Math.ceil((box.x - aside) / GRID) - this.left);
    const to = Math.min(
      this.columns - 1,
      Math.floor((box.x + box.width + aside) / GRID) - this.left,
    );
    const top = Math.max(0, Math.ceil(box.y / GRID) - this.top);
    const bottom = Math.min(this.rows - 1, Math.floor((box.y + box.height) / GRID) - this.top);
    for (let row = top; row <= bottom; row += 1) {
      cells.fill(1, row * this.columns + from, row * this.columns + to + 1);
    }
  }

  private cell(x: number, y: number): number {
    return (Math.round(y / GRID) - this.top) * this.columns + (Math.round(x / GRID) - this.left);
  }

  private net(name: string): number {
    let number = this.nets.get(name);
    if (number === undefined) this.nets.set(name, (number = this.nets.size + 1));
    return number;
  }

  wipe(): void {
    this.across.fill(0);
    this.down.fill(0);
  }

  /** Call for every cell of a way, saying whether it runs across or down there. */
  private walk(points: Points, visit: (cell: number, isDown: boolean) => void): void {
    for (let i = 1; i < points.length; i += 1) {
      const a = points[i - 1] as Spot;
      const b = points[i] as Spot;
      const isDown = a.x === b.x;
      const from = this.cell(a.x, a.y);
      const to = this.cell(b.x, b.y);
      const by = (isDown ? this.columns : 1) * Math.sign(to - from);
      if (by === 0) continue;
      for (let cell = from; cell !== to + by; cell += by) visit(cell, isDown);
    }
  }

  paint(name: string, points: Points): void {
    const net = this.net(name);
    this.walk(points, (cell, isDown) => {
      const cells = isDown ? this.down : this.across;
      cells[cell] = cells[cell] === 0 || cells[cell] === net ? net : SHARED;
    });
  }

  /** Whether a way is square-cornered and on the sheet: the sheet may have been larger when it was found. */
  private isWithin(points: Points): boolean {
    return points.every(({ x, y }, index) => {
      const column = x / GRID - this.left;
      const row = y / GRID - this.top;
      const before = points[index - 1];
      return (
        column >= 0 &&
        column < this.columns &&
        row >= 0 &&
        row < this.rows &&
        (before === undefined || before.x === x || before.y === y)
      );
    });
  }

  /** Whether no block stands on a way, but for its own at the ends. */
  isFree(points: Points): boolean {
    if (!this.isWithin(points)) return false;
    let count = 0;
    let total = 0;
    this.walk(points, () => (total += 1));
    let isFree = true;
    this.walk(points, (cell) => {
      count += 1;
      if (count > STUB && count <= total - STUB && this.blocked[cell]) isFree = false;
    });
    return isFree;
  }

  find(wish: RouteWish): { points: Spot[]; overlaps: boolean } {
    const net = this.net(wish.net);
    const columns = this.columns;
    const stub = (end: RouteEnd): number =>
      this.cell(end.x + (end.side === "right" ? STUB : -STUB) * GRID, end.y);
    const start = stub(wish.from);
    const goal = stub(wish.to);
    const goalColumn = goal % columns;
    const goalRow = (goal - goalColumn) / columns;
    // No way is cheaper than this: its length and the corners that it takes at least to come in from the side.
    const ahead = (column: number, row: number, isDown: boolean): number =>
      STEP * (Math.abs(column - goalColumn) + Math.abs(row - goalRow)) +
      (isDown ? BEND : row === goalRow ? 0 : 2 * BEND);
    this.turn += 1;
    const { turn, cost, seen, cameFrom, blocked, shy, across, down } = this;
    const cells = blocked.length;
    const buckets: number[][] = [];
    const push = (state: number, spent: number, from: number, least: number): void => {
      if (seen[state] === turn && (cost[state] as number) <= spent) return;
      seen[state] = turn;
      cost[state] = spent;
      cameFrom[state] = from;
      const bucket = buckets[spent + least];
      if (bucket) bucket.push(state);
      else buckets[spent + least] = [state];
    };
    const startColumn = start % columns;
    push(2 * start, 0, -1, ahead(startColumn, (start - startColumn) / columns, false));
    let best = -1;
    for (let f = 0; f < buckets.length && best < 0; f += 1) {
      const bucket = buckets[f];
      if (!bucket) continue;
      // States pushed at this very cost join the end of the bucket while it is read.
      for (let i = 0; i < bucket.length; i += 1) {
        const state = bucket[i] as number;
        const cell = state >> 1;
        const wasDown = (state & 1) === 1;
        const spent = cost[state] as number;
        const column = cell % columns;
        const row = (cell - column) / columns;
        if (spent + ahead(column, row, wasDown) !== f) continue; // a cheaper way has been found since
        const before = cameFrom[state] as number;
        if (cell === goal) {
          if (!wasDown) {
            best = state;
            break;
          }
          push(2 * cell, spent + BEND, before, 0);
          continue;
        }
        for (let way = 0; way < 4; way += 1) {
          const isDown = way >= 2;
          const by = (way & 1) === 0 ? -1 : 1;
          const nextColumn = isDown ? column : column + by;
          if (nextColumn < 0 || nextColumn === columns) continue;
          const next = isDown ? cell + by * columns : cell + by;
          if (next < 0 || next >= cells || before >> 1 === next) continue;
          let price = spent + STEP;
          if (isDown !== wasDown) {
            price += BEND;
            const there = isDown ? down[cell] : across[cell];
            if (there !== 0 && there !== net) price += OVERLAP;
          }
          if (blocked[next] && next !== goal) price += BLOCKED;
          if (shy[next]) price += SHY;
          const along = isDown ? down[next] : across[next];
          const athwart = isDown ? across[next] : down[next];
          if (along !== 0 && along !== net) price += OVERLAP;
          if (athwart !== 0 && athwart !== net) price += CROSSING;
          const least = ahead(nextColumn, isDown ? row + by : row, isDown);
          push(2 * next + (isDown ? 1 : 0), price, state, least);
        }
      }
    }
    const points: Spot[] = [{ x: wish.to.x, y: wish.to.y }];
    let overlaps = false;
    for (let state = best; state >= 0; state = cameFrom[state] as number) {
      const cell = state >> 1;
      const there = (state & 1) === 1 ? down[cell] : across[cell];
      if (there !== 0 && there !== net) overlaps = true;
      points.push({
        x: ((cell % columns) + this.left) * GRID,
        y: (Math.floor(cell / columns) + this.top) * GRID,
      });
    }
    points.push({ x: wish.from.x, y: wish.from.y });
    return { points: simplify(points.reverse()), overlaps };
  }
}

function min(values: readonly number[]): number {
  return values.reduce((a, b) => Math.min(a, b), Infinity);
}

function max(values: readonly number[]): number {
  return values.reduce((a, b) => Math.max(a, b), -Infinity);
}

/** Return where the ways of one net part: there a dot is drawn. */
export function partings(ways: readonly Points[]): Spot[] {
  const arms = new Map<string, Set<string>>();
  const spots = new Map<string, Spot>();
  const note = (at: Spot, towards: string): void => {
    const key = `${at.x},${at.y}`;
    spots.set(key, at);
    const found = arms.get(key);
    if (found) found.add(towards);
    else arms.set(key, new Set([towards]));
  };
  for (const way of ways) {
    for (let i = 1; i < way.length; i += 1) {
      const a = way[i - 1] as Spot;
      const b = way[i] as Spot;
      const dx = Math.sign(b.x - a.x) * GRID;
      const dy = Math.sign(b.y - a.y) * GRID;
      const steps = Math.round((Math.abs(b.x - a.x) + Math.abs(b.y - a.y)) / GRID);
      for (let n = 0; n < steps; n += 1) {
        const here = { x: a.x + n * dx, y: a.y + n * dy };
        const next = { x: here.x + dx, y: here.y + dy };
        note(here, `${Math.sign(dx)},${Math.sign(dy)}`);
        note(next, `${-Math.sign(dx)},${-Math.sign(dy)}`);
      }
    }
  }
  return [...arms].filter(([, some]) => some.size > 2).map(([key]) => spots.get(key) as Spot);
}
