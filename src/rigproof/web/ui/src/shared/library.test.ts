import { describe, expect, it } from "vitest";
import { ANY, drawWords, found } from "./library";
import type { LibrarySheet } from "./types";

const sheet = (name: string, more: Partial<LibrarySheet> = {}): LibrarySheet => ({
  name,
  is_own: false,
  errors: 0,
  title: name,
  summary: "",
  housing: "module",
  is_typical: true,
  hp: 8,
  depth_mm: 25,
  draw_ma: { "+12V": 40 },
  jacks: 4,
  controls: 2,
  signals: { in: [], out: ["audio"] },
  kinds: [],
  ...more,
});
const ALL = [
  sheet("noise-filter", { title: "Noise with filter", kinds: ["noise"] }),
  sheet("ladder-filter", { title: "Ladder filter", hp: 10, kinds: ["ladder-filter"] }),
  sheet("fader-box-8", { housing: "controller", hp: 0, draw_ma: {} }),
  sheet("bass-voice", { summary: "Oscillator, ladder filter and VCA.", hp: 14 }),
  sheet("my-filter", { is_own: true, is_typical: false, hp: 20, draw_ma: { "-12V": 90 } }),
  sheet("clock-6", { signals: { in: ["gate"], out: ["clock"] }, hp: 4 }),
  sheet("bad", { is_own: true, errors: 2, title: "bad", signals: { in: [], out: [] } }),
];
const names = (wish: Partial<typeof ANY>): string[] =>
  found(ALL, { ...ANY, ...wish }).map((one) => one.name);

describe("the library", () => {
  it("knows what is said for short, and finds a sheet that is itself called so", () => {
    expect(names({ words: "vcf" })).toEqual(names({ words: "filter" }));
    expect(names({ words: "VCO" })).toEqual(["bass-voice"]);
    const own = [...ALL, sheet("second", { is_own: true, title: "My VCO" })];
    expect(found(own, { ...ANY, words: "vco" }).map((one) => one.name)).toEqual([
      "second",
      "bass-voice",
    ]);
    expect(names({ words: "constructor" })).toEqual([]);
  });

  it("puts own sheets first, then the best fit of the words", () => {
    expect(names({ words: "filter" })).toEqual([
      "my-filter",
      "ladder-filter",
      "noise-filter",
      "bass-voice",
    ]);
    expect(names({ words: "ladder fil" })).toEqual(["ladder-filter", "bass-voice"]);
    expect(names({ words: "(nothing" })).toEqual([]);
  });
  it("narrows by signal, kind, housing, width and draw", () => {
    expect(names({ signal: "clock" })).toEqual(["clock-6"]);
    expect(names({ kind: "noise" })).toEqual(["noise-filter"]);
    expect(names({ housings: ["controller", "interface"] })).toEqual(["bad", "fader-box-8"]);
    expect(names({ most_hp: 8 })).toEqual(["bad", "clock-6", "noise-filter"]);
    expect(names({ most_ma: 50, words: "filter" })).not.toContain("my-filter");
  });
  it("orders by width", () =>
    expect(names({ order: "hp" })).toEqual([
      "bad",
      "my-filter",
      "clock-6",
      "noise-filter",
      "ladder-filter",
      "bass-voice",
    ]));
  it("says what is drawn", () => {
    expect(drawWords({ "+12V": 40, "-12V": 5.5, "+5V": 0 })).toBe("+12V 40, −12V 5.5 mA");
    expect(drawWords({})).toBe("draws nothing");
  });
});
