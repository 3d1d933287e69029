import { expect, it } from "vitest";
import { troubleWords } from "./api";
import type { Trouble } from "./types";

const trouble: Trouble = {
  sort: "UnknownName",
  where: { file: "small.patch.toml", line: 4, key: "cables[0].from" },
  problem: "module 'lfo' has no jack 'sqare'",
  found: "sqare",
  expected: null,
  known: ["sine", "square"],
  nearest: "lfo.square",
};

it("tells an error with its place, and what would do", () => {
  expect(troubleWords(trouble)).toBe(
    "small.patch.toml line 4, cables[0].from: module 'lfo' has no jack 'sqare'; did you mean 'lfo.square'?",
  );
});

it("tells what was found where the problem does not, and the names where none is near", () => {
  expect(
    troubleWords({
      ...trouble,
      where: { file: "rig.toml", line: null, key: null },
      problem: "the file cannot be written",
      found: "Permission denied",
      expected: "a folder that may be written",
      nearest: null,
    }),
  ).toBe(
    "rig.toml: the file cannot be written; found Permission denied; expected a folder that may be written; known: sine, square",
  );
});

it("tells no place where there is none, and the first of many names", () => {
  const known = Array.from({ length: 20 }, (_, index) => `m${index}`);
  expect(
    troubleWords({
      ...trouble,
      where: null,
      problem: "no such module",
      found: null,
      known,
      nearest: null,
    }),
  ).toBe("no such module; known: m0, m1, m2, m3, m4, m5, m6, m7, m8, m9, m10, m11, ...");
});
