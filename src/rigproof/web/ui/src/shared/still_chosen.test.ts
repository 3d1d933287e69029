import { expect, it } from "vitest";
import { stillChosen } from "./still_chosen";

const cable = (ends: string): { source: string; target: string } => {
  const [source = "", target = ""] = ends.split(" ");
  return { source, target };
};
const before = ["a b", "c d", "a b", "e f"].map(cable);
const at = (index: number): { sort: "cable"; index: number } => ({ sort: "cable", index });

it("follows a cable when one before it is pulled", () => {
  expect(
    stillChosen(
      at(3),
      before,
      [before[0], before[2], before[3]].map((one) => one!),
    ),
  ).toEqual(at(2));
  expect(stillChosen(at(2), before, before.toSpliced(1, 1))).toEqual(at(1));
});
it("lets go of a cable that is pulled", () => {
  expect(stillChosen(at(1), before, before.toSpliced(1, 1))).toBeNull();
  expect(stillChosen(at(2), before, before.toSpliced(2, 1))).toBeNull();
});
it("keeps hold of a cable whose plug is moved, and of one that has not moved", () => {
  const chosen = at(1);
  expect(stillChosen(chosen, before, before.with(1, cable("c x")))).toBe(chosen);
  expect(stillChosen(chosen, before, [...before, cable("g h")])).toBe(chosen);
});
it("leaves everything else alone", () => {
  const jack = { sort: "jack", name: "a" } as const;
  expect(stillChosen(jack, before, [])).toBe(jack);
  expect(stillChosen(null, before, [])).toBeNull();
  const nowhere = at(9);
  expect(stillChosen(nowhere, before, before)).toBe(nowhere);
});
