/** What a change would do to a text: the lines that go, the lines that come, and a few around them. */

export interface DiffLine {
  sort: "same" | "gone" | "come";
  text: string;
  /** The number of the line in the text as it is, and as it would be; null where it is not in it. */
  before: number | null;
  after: number | null;
}
export interface Hunk {
  lines: DiffLine[];
}

const linesOf = (text: string): string[] => {
  const lines = text.split("\n");
  if (lines.at(-1) === "") lines.pop();
  return lines;
};

/**
 * Return every line of two texts, in order, as it stays, goes or comes.
 * What is alike at both ends is cut off first, so the longest common run is sought in the few lines between.
 */
export function diffLines(before: string, after: string): DiffLine[] {
  const a = linesOf(before);
  const b = linesOf(after);
  let head = 0;
  while (head < a.length && head < b.length && a[head] === b[head]) head++;
  let tail = 0;
  while (
    tail < a.length - head &&
    tail < b.length - head &&
    a[a.length - 1 - tail] === b[b.length - 1 - tail]
  )
    tail++;
  const found: DiffLine[] = [];
  let i = 0;
  let j = 0;
  const same = (): void => {
    found.push({ sort: "same", text: a[i] ?? "", before: ++i, after: ++j });
  };
  const gone = (): void => {
    found.push({ sort: "gone", text: a[i] ?? "", before: ++i, after: null });
  };
  const come = (): void => {
    found.push({ sort: "come", text: b[j] ?? "", before: null, after: ++j });
  };
  while (i < head) same();
  const middleA = a.slice(head, a.length - tail);
  const middleB = b.slice(head, b.length - tail);
  const common = commonLengths(middleA, middleB);
  const width = middleB.length + 1;
  while (i - head < middleA.length || j - head < middleB.length) {
    const x = i - head;
    const y = j - head;
    if (x < middleA.length && y < middleB.length && middleA[x] === middleB[y]) same();
    else if (
      y >= middleB.length ||
      (x < middleA.length && at(common, (x + 1) * width + y) >= at(common, x * width + y + 1))
    )
      gone();
    else come();
  }
  while (i < a.length) same();
  return found;
}

const at = (numbers: Uint32Array, index: number): number => numbers[index] ?? 0;

/** Above this many pairs of lines the middle is told as gone and come as a whole: true, if not the shortest. */
const PAIRS_LIMIT = 4_000_000;

/** Return, for every pair of places, how many lines two texts have in common from there on. */
function commonLengths(a: string[], b: string[]): Uint32Array {
  const width = b.length + 1;
  if (a.length * b.length > PAIRS_LIMIT) return new Uint32Array(0);
  const table = new Uint32Array((a.length + 1) * width);
  for (let i = a.length - 1; i >= 0; i--) {
    for (let j = b.length - 1; j >= 0; j--) {
      table[i * width + j] =
        a[i] === b[j]
          ? at(table, (i + 1) * width + j + 1) + 1
          : Math.max(at(table, (i + 1) * width + j), at(table, i * width + j + 1));
    }
  }
  return table;
}

/** Return the parts of a diff in which something changes, with so many lines around; near ones are joined. */
export function hunks(lines: readonly DiffLine[], around = 2): Hunk[] {
  const kept = new Set<number>();
  lines.forEach((line, index) => {
    if (line.sort === "same") return;
    for (let k = Math.max(0, index - around); k <= index + around && k < lines.length; k++)
      kept.add(k);
  });
  const found: Hunk[] = [];
  let last = -2;
  for (const index of [...kept].sort((x, y) => x - y)) {
    const line = lines[index];
    if (!line) continue;
    if (index !== last + 1) found.push({ lines: [] });
    found.at(-1)?.lines.push(line);
    last = index;
  }
  return found;
}

/** Return the hunks between two texts. */
export const changes = (before: string, after: string): Hunk[] => hunks(diffLines(before, after));
