/** Where the notes of a trace stand: on their wires, none on another. All in px of the drawing. */
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

const LETTER = 7.3;
const HEIGHT = 22;
const EDGE = 6;
/** Parts of a straight at which a note is tried, the middle first. */
const PARTS = [0.5, 0.3, 0.7, 0.15, 0.85];

/** Return the width of a note on the screen. */
export const noteWidth = (words: string): number => words.length * LETTER + 2 * EDGE;
export const NOTE_HEIGHT = HEIGHT;

/** Place notes that are as large on the screen at every scale. */
export function placeNotes(notes: readonly Note[], scale: number): PlacedNote[] {
  const taken: Box[] = [];
  return notes.map(({ key, words, way }) => {
    const width = noteWidth(words);
    const size = { width: width / scale, height: (HEIGHT + 4) / scale };
    const tries = spotsOn(way);
    const box = (at: Spot): Box => ({
      x: at.x - size.width / 2,
      y: at.y - size.height / 2,
      ...size,
    });
    const free = tries.find((at) => !taken.some((other) => overlap(other, box(at))));
    const at = free ?? below(box(tries[0] ?? { x: 0, y: 0 }), taken);
    taken.push(box(at));
    return { key, words, width, x: at.x, y: at.y };
  });
}

/** The places on a way where a note may stand: on its longest straights first. */
function spotsOn(way: Points): Spot[] {
  const straights = way.slice(1).map((b, index) => {
    const a = way[index] as Spot;
    return { a, b, length: Math.abs(a.x - b.x) + Math.abs(a.y - b.y) };
  });
  straights.sort((one, other) => other.length - one.length);
  return straights.flatMap(({ a, b }) =>
    PARTS.map((part) => ({ x: a.x + (b.x - a.x) * part, y: a.y + (b.y - a.y) * part })),
  );
}

/** Where nothing is free, slide down until it is. */
function below(box: Box, taken: readonly Box[]): Spot {
  const here = { ...box };
  for (let other = taken.find((one) => overlap(one, here)); other;) {
    here.y = other.y + other.height;
    other = taken.find((one) => overlap(one, here));
  }
  return { x: here.x + here.width / 2, y: here.y + here.height / 2 };
}

const overlap = (a: Box, b: Box): boolean =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
