import { describe, expect, it } from "vitest";
import type { PassageSpan } from "../shared/types";
import {
  beat_s,
  marksIn,
  placeAt,
  roomFor,
  steppedBeats,
  steppedSection,
  stretchesOf,
} from "./set_time";

// Two bars of four at 120 bpm last 4 s (8 beats of 0.5 s); three bars at 60 bpm last 12 s.
const passages: PassageSpan[] = [
  { id: "a", title: "A", start_s: 0, length_s: 4, tempo_bpm: 120 },
  { id: "b", title: "B", start_s: 4, length_s: 12, tempo_bpm: 60 },
];
const whole = stretchesOf(passages, 4, 0, 16);

describe("the set on the clock", () => {
  it("counts beats of 60 s by the tempo", () => {
    expect(beat_s(120)).toBe(0.5);
  });
  it("finds section, bar and beat", () => {
    expect(placeAt(whole, 4, 0)).toEqual({
      section: "A",
      bar: 1,
      bar_of_section: 1,
      beat: expect.closeTo(1, 4),
    });
    expect(placeAt(whole, 4, 2.75)).toEqual({
      section: "A",
      bar: 2,
      bar_of_section: 1 + 1,
      beat: expect.closeTo(2.5, 4),
    });
    expect(placeAt(whole, 4, 4)).toEqual({
      section: "B",
      bar: 3,
      bar_of_section: 1,
      beat: expect.closeTo(1, 4),
    });
    expect(placeAt(whole, 4, 9)?.bar).toBe(4);
  });
  it("goes back to the same second from every mark", () => {
    for (const mark of marksIn(whole, 4, 0, 16)) {
      const place = placeAt(whole, 4, mark.at_s);
      if (mark.sort === "bar")
        expect(place).toMatchObject({ bar: Number(mark.words), beat: expect.closeTo(1, 4) });
      if (mark.sort === "beat") expect((place?.beat ?? 0) % 1).toBeCloseTo(0, 4);
    }
  });
  it("marks every beginning once: 2 sections, 5 bars, 15 beats between", () => {
    const sorts = marksIn(whole, 4, 0, 16).map((mark) => mark.sort);
    expect(
      ["section", "bar", "beat"].map((sort) => sorts.filter((one) => one === sort).length),
    ).toEqual([2, 5, 15]);
  });
  it("marks a window only", () => {
    expect(marksIn(whole, 4, 3.9, 5.5).map((mark) => [mark.sort, mark.at_s])).toEqual([
      ["section", 4],
      ["bar", 4],
      ["beat", 5],
    ]);
  });
});

describe("a render from inside the set", () => {
  const later = stretchesOf(passages, 4, 8, 6);
  it("keeps the numbers of the bars", () => {
    expect(later).toHaveLength(1);
    expect(placeAt(later, 4, 0)).toMatchObject({ section: "B", bar: 4, bar_of_section: 2 });
    expect(marksIn(later, 4, 0, 6).filter((mark) => mark.sort === "bar")).toEqual([
      { at_s: 0, sort: "bar", words: "4" },
      { at_s: 4, sort: "bar", words: "5" },
    ]);
  });
  it("has no mark where its section began before", () => {
    expect(marksIn(later, 4, 0, 6).some((mark) => mark.sort === "section")).toBe(false);
  });
});

describe("room", () => {
  const long = stretchesOf(
    [{ id: "x", title: "X", start_s: 0, length_s: 128, tempo_bpm: 120 }],
    4,
    0,
    128,
  );
  const marks = marksIn(long, 4, 0, 128);
  it("shows beats where they have room", () => {
    expect(roomFor(marks, 100).filter((mark) => mark.sort === "beat").length).toBeGreaterThan(0);
    expect(roomFor(marks, 10).filter((mark) => mark.sort === "beat")).toEqual([]);
  });
  it("shows every second, fourth … bar where there are too many, and never too near", () => {
    for (const px_per_s of [1, 3, 7, 10, 40]) {
      const bars = roomFor(marks, px_per_s).filter((mark) => mark.sort === "bar");
      const gaps = bars
        .slice(1)
        .map((mark, index) => (mark.at_s - (bars[index]?.at_s ?? 0)) * px_per_s);
      expect(Math.min(...gaps)).toBeGreaterThanOrEqual(34);
      expect(bars.length).toBeGreaterThanOrEqual(2);
    }
  });
});

describe("steps", () => {
  it("go along the grid", () => {
    expect(steppedBeats(whole, 0.6, 1)).toBeCloseTo(1);
    expect(steppedBeats(whole, 0.5, 1)).toBeCloseTo(1);
    expect(steppedBeats(whole, 0.6, -1)).toBeCloseTo(0.5);
    expect(steppedBeats(whole, 0.5, -1)).toBeCloseTo(0);
    expect(steppedBeats(whole, 5.2, 4)).toBeCloseTo(9);
    expect(steppedBeats([], 3, -1)).toBe(2);
  });
  it("go from section to section", () => {
    expect(steppedSection(whole, 1, 1)).toBe(4);
    expect(steppedSection(whole, 5, 1)).toBeNull();
    expect(steppedSection(whole, 5, -1)).toBe(4);
    expect(steppedSection(whole, 4.2, -1)).toBe(0);
  });
});
