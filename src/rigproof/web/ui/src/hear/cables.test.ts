import { expect, it } from "vitest";
import { cableKeys, cablesFor, withoutIndices } from "./cables";

const cables = [
  { source: "osc.saw", target: "vcf.in" },
  { source: "vcf.out", target: "vca.in" },
  { source: "osc.saw", target: "vcf.in" },
];
it("names like cables apart", () => {
  expect(cableKeys(cables)).toEqual([
    "osc.saw to vcf.in",
    "vcf.out to vca.in",
    "osc.saw to vcf.in, no. 2",
  ]);
});
it("finds them again after the order has changed, and forgets those that are gone", () => {
  expect(
    withoutIndices([...cables].reverse(), [
      "vcf.out to vca.in",
      "osc.saw to vcf.in, no. 2",
      "a to b",
    ]),
  ).toEqual([1, 2]);
});
it("puts what is chosen first", () => {
  const first = (chosen: Parameters<typeof cablesFor>[2]): number[] =>
    cablesFor(cables, "", chosen)
      .filter((row) => row.isChosen)
      .map((row) => row.index);
  expect(first({ sort: "cable", index: 2 })).toEqual([2]);
  expect(first({ sort: "module", name: "vca" })).toEqual([1]);
  expect(first({ sort: "jack", name: "vcf.in" })).toEqual([0, 2]);
  expect(first({ sort: "module", name: "vc" })).toEqual([]);
  expect(first(null)).toEqual([]);
  expect(cablesFor(cables, "", { sort: "cable", index: 2 }).map((row) => row.index)).toEqual([
    2, 0, 1,
  ]);
});
it("narrows by every word", () => {
  expect(cablesFor(cables, "VCF out", null).map((row) => row.index)).toEqual([1]);
});
