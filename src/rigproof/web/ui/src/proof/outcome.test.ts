import { expect, it } from "vitest";
import type { Finding } from "../shared/types";
import { outcomeOf, outcomeWords } from "./outcome";
import { settled } from "./settled";

const found = (finding: string, declined: string | null = null): Finding =>
  ({ finding, at: "here", declined }) as Finding;
const fixed = { finding: "a", at: "here" };

it("says that a finding is gone only when it is", () => {
  expect(outcomeOf(fixed, [found("a"), found("b")], [found("b")])).toEqual({
    isGone: true,
    fresh: [],
    also: [],
  });
  expect(outcomeOf(fixed, [found("a")], [found("a")]).isGone).toBe(false);
});
it("tells what came and what went besides", () => {
  const outcome = outcomeOf(fixed, [found("a"), found("b")], [found("c"), found("d", "so be it")]);
  expect(outcome).toEqual({ isGone: true, fresh: ["c @ here"], also: ["b @ here"] });
  expect(outcomeWords(outcome)).toBe(
    "The finding is gone. Gone with it: b @ here. New now: c @ here.",
  );
});
it("waits until it is so, and no longer than it may", async () => {
  let turns = 0;
  expect(await settled(() => ++turns > 2)).toBe(true);
  expect(await settled(() => false, 50)).toBe(false);
});
