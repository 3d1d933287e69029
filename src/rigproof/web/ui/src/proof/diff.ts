/** The lines that a change would take out of a file and put in, each with its number. */
import type { FileHunk } from "../shared/types";

export interface DiffLine {
  sort: "same" | "gone" | "come";
  text: string;
  /** The number of the line in the text as it is, and as it would be; null where it is not in it. */
  before: number | null;
  after: number | null;
}

const SORTS: Record<FileHunk["lines"][number][0], DiffLine["sort"]> = {
  " ": "same",
  "-": "gone",
  "+": "come",
};

/** Return the lines of one hunk with their numbers before and after. */
export function numbered(hunk: FileHunk): DiffLine[] {
  let before = hunk.old;
  let after = hunk.new;
  return hunk.lines.map(([sign, text]) => ({
    sort: SORTS[sign],
    text,
    before: sign === "+" ? null : before++,
    after: sign === "-" ? null : after++,
  }));
}

/** Return how many lines go and come, in words. */
export function countWords(hunks: readonly FileHunk[]): string {
  const count = (sign: string): number =>
    hunks.reduce((sum, hunk) => sum + hunk.lines.filter(([one]) => one === sign).length, 0);
  const lines = (number: number): string => (number === 1 ? "one line" : `${number} lines`);
  const [gone, come] = [count("-"), count("+")];
  return [
    ...(gone > 0 ? [`${lines(gone)} ${gone === 1 ? "goes" : "go"}`] : []),
    ...(come > 0 ? [`${lines(come)} ${come === 1 ? "comes" : "come"}`] : []),
  ].join(", ");
}
