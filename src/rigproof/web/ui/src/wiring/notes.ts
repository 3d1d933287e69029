/** Where the notes of a trace stand: on their wires, none on another, on no block if it can be. All in px of the drawing. */
import type { Box, Spot } from "./place";
import type { Points } from "./route";

export interface Note {
  key: string;
  words: string;
  way: Points;
}
export interface PlacedNote extends Spot {
  key: string;
  words: string;
  width: number;
}

const LETTER = 7;
const HEIGHT = 18;
const EDGE = 4;
/** Parts of a straight at which a note is tried, the middle first. */
const PARTS = [0.5, 0.3, 0.7, 0.15, 0.85];

/** Return the width of a note on the screen. */
export const noteWidth = (words: string): number => words.length * LETTER + 2 * EDGE;
export const NOTE_HEIGHT = HEIGHT;

/** Place notes that are as large on the screen at every scale, past the blocks in `blocks`. */
export function placeNotes(
  notes: readonly Note[],
  scale: number,
  blocks: readonly Box[] = [],
): PlacedNote[] {
  const taken: Box[] = [];
  return notes.map(({ key, words, way }) => {
    const width = noteWidth(words);
    const size = { width: width / scale, height: (HEIGHT + 4) / scale };
    const box = (at: Spot): Box => ({
      x: at.x - size.width / 2,
      y: at.y - size.height / 2,
      ...size,
    });
    const tries = [...spotsOn(way), ...spotsBeside(way, size)];
    const free = tries.filter((at) => !taken.some((other) => overlap(other, box(at)) > 0));
    const covered = (at: Spot): number =>
      blocks.reduce((sum, block) => sum + overlap(block, box(at)), 0);
    const at = leastOf(free, covered) ?? below(box(tries[0] ?? { x: 0, y: 0 }), taken);
    taken.push(box(at));
    return { key, words, width, x: at.x, y: at.y };
  });
}

/** Return the first of those that cost least. */
function leastOf<T>(things: readonly T[], costOf: (thing: T) => number): T | undefined {
  let best: T | undefined;
  let least = Infinity;
  for (const thing of things) {
    const cost = costOf(thing);
    if (cost < least) {
      best = thing;
      least = cost;
    }
    if (least === 0) break;
  }
  return best;
}

/** The straights of a way, the longest first. */
const straightsOf = (way: Points): { a: Spot; b: Spot }[] =>
  way
    .slice(1)
    .map((b, index) => {
      const a = way[index] as Spot;
      return { a, b, length: Math.abs(a.x - b.x) + Math.abs(a.y - b.y) };
    })
    .sort((one, other) => other.length - one.length);

/** The places on a way where a note may stand: on its longest straights first. */
const spotsOn = (way: Points): Spot[] =>
  straightsOf(way).flatMap(({ a, b }) =>
    PARTS.map((part) => ({ x: a.x + (b.x - a.x) * part, y: a.y + (b.y - a.y) * part })),
  );

/** The places beside the straights of a way, touching it. */
const spotsBeside = (way: Points, size: { width: number; height: number }): Spot[] =>
  straightsOf(way).flatMap(({ a, b }) => {
    const [x, y] = [(a.x + b.x) / 2, (a.y + b.y) / 2];
    const by = a.x === b.x ? { x: size.width / 2, y: 0 } : { x: 0, y: size.height / 2 };
    return [1, -1].map((side) => ({ x: x + side * by.x, y: y + side * by.y }));
  });

/** Where nothing is free, slide down until it is. */
function below(box: Box, taken: readonly Box[]): Spot {
  const here = { ...box };
  const isIn = (one: Box): boolean => overlap(one, here) > 0;
  for (let other = taken.find(isIn); other;) {
    here.y = other.y + other.height;
    other = taken.find(isIn);
  }
  return { x: here.x + here.width / 2, y: here.y + here.height / 2 };
}

/** Return the area that two boxes share. */
const overlap = (a: Box, b: Box): number =>
  Math.max(0, Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x)) *
  Math.max(0, Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y));
