/** How the name of a block is written where the block is seen from afar: as large as fits, never smaller than can be read. */

export interface Plate {
  lines: string[];
  /** On the screen. [px] */
  size: number;
  /** How much narrower its letters are than usual. */
  squeeze: number;
  isUpright: boolean;
  /** Whether some of the name is left out. */
  isCut: boolean;
}

/** No name is smaller on the screen, and none needs to be larger. [px] */
export const LEAST_PX = 11.5;
export const MOST_PX = 14.5;
const EDGE_PX = 2;
/** Letters are narrowed so far before any is left out. */
const MOST_SQUEEZE = 0.82;
const LINE = 1.15;
const FEWEST_LETTERS = 2;
/** Widths of letters in parts of their height, as the semibold face has them, rounded up. */
const NARROW = 0.36;
const WIDE = 0.9;
const USUAL = 0.59;

const widthOfLetter = (letter: string): number =>
  "fijlrtI1.,:;'|!()[] -".includes(letter) ? NARROW : "mwMW@".includes(letter) ? WIDE : USUAL;

/** Return how wide a text of height 1 is. */
export const widthOf = (text: string): number =>
  [...text].reduce((sum, letter) => sum + widthOfLetter(letter), 0);

/**
 * Return a text cut so that it is no wider at height 1, with an ellipsis where something is left out: after a whole word
 * where there is one, so that what is read out holds what can be seen.
 */
export function cutTo(text: string, width: number): string {
  if (widthOf(text) <= width) return text;
  const letters = [...text];
  while (letters.length > 0 && widthOf(`${letters.join("")}…`) > width) letters.pop();
  const isWhole = /^[\s-]/.test(text.slice(letters.join("").length));
  const words = isWhole ? letters.join("") : letters.join("").replace(/[\s-][^\s-]*$/, "");
  const start = words.replace(/[\s-]+$/, "");
  return start === "" ? "" : `${start}…`;
}

/** Return how a name is written in a block of this size on the screen. [px] */
export function plateOf(name: string, width: number, height: number): Plate {
  const [across, down] = [width - 2 * EDGE_PX, height - 2 * EDGE_PX];
  const inTwo = twoLines(name);
  const ways = (squeeze: number): Plate[] => [
    way([name], across / squeeze, down, squeeze, false),
    way(inTwo, across / squeeze, down, squeeze, false),
    way([name], down / squeeze, across, squeeze, true),
  ];
  const best = [...ways(1), ...ways(MOST_SQUEEZE)].find((one) => one.size >= LEAST_PX);
  if (best) return { ...best, size: Math.min(best.squeeze < 1 ? LEAST_PX : MOST_PX, best.size) };
  const isUpright = down > across && across >= LEAST_PX;
  const text = cutTo(name, (isUpright ? down : across) / LEAST_PX / MOST_SQUEEZE);
  const isRoom = Math.min(across, down) >= 0.8 * LEAST_PX;
  const lines = isRoom && text.length > FEWEST_LETTERS ? [text] : [];
  return { lines, isUpright, size: LEAST_PX, squeeze: MOST_SQUEEZE, isCut: true };
}

const way = (
  lines: string[],
  along: number,
  across: number,
  squeeze: number,
  isUpright: boolean,
): Plate => ({ lines, squeeze, isUpright, isCut: false, size: sizeIn(lines, along, across) });

const sizeIn = (lines: readonly string[], across: number, down: number): number =>
  Math.min(across / Math.max(...lines.map(widthOf)), down / (lines.length * LINE));

/** Return a name broken after that dash which makes both lines about as wide; in one where it has none. */
export function twoLines(name: string): string[] {
  const breaks = [...name.matchAll(/[-_]/g)].map((found) => found.index + 1);
  const ways = breaks.map((at) => [name.slice(0, at), name.slice(at)]);
  const widest = (lines: readonly string[]): number => Math.max(...lines.map(widthOf));
  return ways.reduce((a, b) => (widest(b) < widest(a) ? b : a), [name]);
}
