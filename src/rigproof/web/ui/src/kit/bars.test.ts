import { describe, expect, it } from "vitest";
import type { Rig, Sheet } from "../shared/types";
import { depthBars, drawn, railBars, railsOf, surgeBars, widthBars } from "./bars";

const ROWS = [
  { hp: 84, depth_mm: 45 },
  { hp: 20, depth_mm: 30 },
];
const PLACES = [
  { id: "a", row: 1, hp: 0, width: 12, depth_mm: 20, turned: false },
  { id: "b", row: 1, hp: 12, width: 8, depth_mm: 26.5, turned: false },
  { id: "c", row: 2, hp: 0, width: 24, depth_mm: 40, turned: true },
];

describe("rows", () => {
  it("adds up widths", () =>
    expect(widthBars(ROWS, PLACES).map((one) => [one.used, one.given, one.words])).toEqual([
      [20, 84, "20 of 84 HP"],
      [24, 20, "24 of 20 HP"],
    ]));
  it("names the deepest module", () =>
    expect(depthBars(ROWS, PLACES).map((one) => [one.label, one.used, one.given])).toEqual([
      ["Row 1 depth (b)", 26.5, 45],
      ["Row 2 depth (c)", 40, 30],
    ]));
  it("says nothing of an empty row", () =>
    expect(depthBars(ROWS, [])[0]).toMatchObject({ label: "Row 1 depth", used: 0 }));
});

describe("rails", () => {
  const sheets: ({ draw_ma: Record<string, number> } | undefined)[] = [
    { draw_ma: { "+12V": 60, "-12V": 55 } },
    { draw_ma: { "+12V": 40, "+5V": 80 } },
    undefined,
  ];
  it("adds up draws (Kirchhoff's current law)", () =>
    expect(drawn(sheets)).toEqual({ "+12V": 100, "-12V": 55, "+5V": 80 }));
  it("keeps their order", () =>
    expect(railsOf({ "+5V": 1, "+3V": 1 }, { "-12V": 1, "+12V": 1 })).toEqual([
      "+12V",
      "-12V",
      "+5V",
      "+3V",
    ]));
  it("sets the draw against the supply, and tells a rail that is not there", () =>
    expect(
      railBars({ rails_ma: { "+12V": 2000, "-12V": 1200 }, headroom_ratio: 0.25 }, drawn(sheets)),
    ).toEqual([
      { label: "+12 V", used: 100, given: 2000, keep: 0.25, words: "100 of 2000 mA" },
      { label: "−12 V", used: 55, given: 1200, keep: 0.25, words: "55 of 1200 mA" },
      { label: "+5 V", used: 80, given: null, keep: 0.25, words: "80 mA, no such rail" },
    ]));
});

describe("switch-on", () => {
  const sheet = (draw: number, surge: Record<string, number>): Sheet =>
    ({ draw_ma: { "+12V": draw }, surge_ma: surge }) as unknown as Sheet;
  const rig = (surge_ma: Record<string, number>): Rig =>
    ({
      modules: [{ sheet: "a" }, { sheet: "b" }],
      supply: { rails_ma: { "+12V": 1000 }, headroom_ratio: 0.2, surge_ma, boards: [] },
    }) as unknown as Rig;

  it("is left out where nobody says anything", () =>
    expect(surgeBars(rig({}), { a: sheet(100, {}), b: sheet(50, {}) })).toEqual([]));
  it("takes three times the running current where only some say it, as the check does", () =>
    expect(surgeBars(rig({}), { a: sheet(100, { "+12V": 700 }), b: sheet(50, {}) })).toEqual([
      {
        label: "+12 V surge",
        used: 850,
        given: 3000,
        keep: 0,
        words: "850 of 3000 mA",
      },
    ]));
  it("takes what the supply bears where it is said", () =>
    expect(
      surgeBars(rig({ "+12V": 800 }), { a: sheet(100, {}), b: sheet(50, {}) })[0],
    ).toMatchObject({ used: 450, given: 800 }));
});
