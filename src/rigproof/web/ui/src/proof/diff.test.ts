import { describe, expect, it } from "vitest";
import { changes, diffLines, hunks, type DiffLine } from "./diff";

const beforeOf = (lines: DiffLine[]): string[] =>
  lines.filter((line) => line.sort !== "come").map((line) => line.text);
const afterOf = (lines: DiffLine[]): string[] =>
  lines.filter((line) => line.sort !== "gone").map((line) => line.text);

describe("diff", () => {
  it("tells a changed line by the old and the new one, with their numbers", () => {
    const lines = diffLines("a\nb\nc\n", "a\nB\nc\n");
    expect(lines).toEqual([
      { sort: "same", text: "a", before: 1, after: 1 },
      { sort: "gone", text: "b", before: 2, after: null },
      { sort: "come", text: "B", before: null, after: 2 },
      { sort: "same", text: "c", before: 3, after: 3 },
    ]);
  });
  it("finds the one line that came between like ones", () => {
    const marks = diffLines("x\ny\nx\ny\n", "x\ny\nz\nx\ny\n").map((line) => line.sort);
    expect(marks.filter((sort) => sort === "come")).toHaveLength(1);
    expect(marks).not.toContain("gone");
  });
  it("says nothing of like texts", () => {
    expect(changes("a\nb\n", "a\nb\n")).toEqual([]);
  });
  it("rebuilds both texts, whatever they are", () => {
    // A small generator with a fixed start, so that a failure repeats: Park and Miller, CACM 31 (1988), a = 16807.
    let seed = 42;
    const random = (below: number): number => (seed = (seed * 16807) % 2147483647) % below;
    for (let turn = 0; turn < 200; turn++) {
      const make = (): string[] =>
        Array.from({ length: random(12) }, () => "abc"[random(3)] ?? "a");
      const [a, b] = [make(), make()];
      const lines = diffLines(a.map((x) => `${x}\n`).join(""), b.map((x) => `${x}\n`).join(""));
      expect(beforeOf(lines)).toEqual(a);
      expect(afterOf(lines)).toEqual(b);
      expect(lines.filter((line) => line.sort === "same").length).toBe(longestCommon(a, b));
    }
  });
});

/** The length of the longest common run of lines, by trying every one: slow, and independent of the diff. */
function longestCommon(a: string[], b: string[]): number {
  let best = 0;
  for (let mask = 0; mask < 1 << a.length; mask++) {
    const picked = a.filter((_, index) => mask & (1 << index));
    if (picked.length <= best) continue;
    let from = 0;
    const stands = picked.every((line) => {
      const place = b.indexOf(line, from);
      from = place + 1;
      return place >= 0;
    });
    if (stands) best = picked.length;
  }
  return best;
}

describe("hunks", () => {
  const text = Array.from({ length: 30 }, (_, index) => `line ${index + 1}`);
  it("keeps a few lines around each change and joins near ones", () => {
    const after = [...text];
    after[4] = "five";
    after[7] = "eight";
    after[24] = "twenty-five";
    const found = hunks(diffLines(text.join("\n"), after.join("\n")), 2);
    expect(found.map((hunk) => [hunk.lines[0]?.before, hunk.lines.at(-1)?.before])).toEqual([
      [3, 10],
      [23, 27],
    ]);
  });
});
