import { expect, it } from "vitest";
import type { FileHunk } from "../shared/types";
import { countWords, numbered } from "./diff";

const hunk: FileHunk = {
  old: 12,
  new: 14,
  lines: [
    [" ", "a"],
    ["-", "b"],
    ["+", "B"],
    ["+", "B2"],
    [" ", "c"],
  ],
};
it("numbers each line as it stands before and after", () => {
  expect(numbered(hunk)).toEqual([
    { sort: "same", text: "a", before: 12, after: 14 },
    { sort: "gone", text: "b", before: 13, after: null },
    { sort: "come", text: "B", before: null, after: 15 },
    { sort: "come", text: "B2", before: null, after: 16 },
    { sort: "same", text: "c", before: 14, after: 17 },
  ]);
});
it("counts what goes and comes", () => {
  expect(countWords([hunk])).toBe("one line goes, 2 lines come");
  expect(countWords([hunk, hunk])).toBe("2 lines go, 4 lines come");
  expect(countWords([])).toBe("");
});
