import { describe, expect, it } from "vitest";
import type { Finding } from "../shared/types";
import { concerns, grouped, keyOf, stepped, verdict } from "./order";

const finding = (more: Partial<Finding>): Finding => ({
  finding: "rail-overloaded",
  family: "power",
  severity: "stops-the-show",
  at: "+12V",
  where: null,
  message: "+12V gives 1300 mA",
  evidence: {},
  fix: null,
  declined: null,
  caution: "",
  explanation: {},
  ...more,
});
const all = { text: "", family: "", module: "" };
const some = [
  finding({}),
  finding({
    finding: "modules-overlap",
    family: "fit",
    at: "spread and vcas",
    message: "they overlap",
  }),
  finding({
    finding: "clips",
    family: "levels",
    severity: "hurts",
    at: "vcas-2.out",
    message: "8 V",
  }),
  finding({
    finding: "ends",
    family: "cables",
    severity: "worth-knowing",
    at: "pad.right",
    declined: "so",
  }),
];
const names = (filter: Partial<typeof all>): string[][] =>
  grouped(some, { ...all, ...filter }).map((group) => group.findings.map((one) => one.finding));

describe("groups", () => {
  it("stand by severity, and the declined apart", () => {
    expect(names({})).toEqual([["rail-overloaded", "modules-overlap"], ["clips"], [], ["ends"]]);
  });
  it("can be narrowed by family, module and words", () => {
    expect(names({ family: "fit" })).toEqual([["modules-overlap"], [], [], []]);
    expect(names({ module: "vcas" })).toEqual([["modules-overlap"], [], [], []]);
    expect(names({ module: "pad" })).toEqual([[], [], [], ["ends"]]);
    expect(names({ text: "overlap SPREAD" })).toEqual([["modules-overlap"], [], [], []]);
    expect(names({ text: "overlap nothing" })).toEqual([[], [], [], []]);
  });
  it("take no module for another whose name begins like it", () => {
    expect(concerns(finding({ at: "vcas-2.out" }), "vcas")).toBe(false);
    expect(concerns(finding({ at: "vcas-2.out" }), "vcas-2")).toBe(true);
  });
});
it("names a finding by its check and place", () => {
  expect(keyOf({ finding: "clips", at: "a.b" })).toBe("clips @ a.b");
});
it("steps through a list and stops at its ends", () => {
  expect([
    stepped("abc".split(""), -1, 1),
    stepped("abc".split(""), 0, 1),
    stepped("abc".split(""), 2, 1),
  ]).toEqual(["a", "b", "c"]);
  expect(stepped("abc".split(""), 0, -1)).toBe("a");
  expect(stepped([], 0, 1)).toBeUndefined();
});
it("gives its verdict by what stops the show", () => {
  const counts = { "stops-the-show": 0, hurts: 0, "worth-knowing": 9 };
  expect(verdict(counts, false)).toEqual({ isFit: true, words: "Fit to play" });
  expect(verdict(counts, true)).toEqual({ isFit: false, words: "No sound comes out yet" });
  expect(verdict({ ...counts, hurts: 2 }, false).words).toBe("Fit to play, and 2 things hurt");
  expect(verdict({ ...counts, "stops-the-show": 1 }, true).words).toBe("One thing stops the show");
  expect(verdict({ ...counts, "stops-the-show": 3 }, false)).toEqual({
    isFit: false,
    words: "3 things stop the show",
  });
});
