import { describe, expect, it } from "vitest";
import { held, inside, leaves_v, logColumns, risingEdge, together, zoomed } from "./scope";

const sine = (columns: number, periods: number, phase = 0): number[] =>
  Array.from({ length: columns }, (_, at) =>
    Math.sin(2 * Math.PI * ((periods * at) / columns + phase)),
  );

describe("trigger", () => {
  it("holds a sine at its rise through the middle", () => {
    // Starting at a quarter of a period (its top), the rise through 0 is three quarters of a period later.
    const seen = sine(400, 4, 0.25);
    // Column 75 itself is 0 but for rounding, so the one after it will do.
    expect([75, 76]).toContain(risingEdge(seen, seen));
  });
  it("gives the same picture from wherever it is taken", () => {
    const pictures = [0.1, 0.4, 0.77].map((phase) => {
      const seen = sine(1000, 10, phase);
      return held({ low_v: seen, high_v: seen, length_s: 0.1 }, 0.02, true);
    });
    for (const picture of pictures) {
      expect(picture.isHeld).toBe(true);
      expect(picture.times_s[0]).toBe(0);
      expect(picture.low_v).toHaveLength(200);
      // Within one column of a hundredth of a period, a sine moves by at most 2 pi / 100.
      picture.low_v.forEach((v, at) =>
        expect(Math.abs(v - (pictures[0]?.low_v[at] ?? 9))).toBeLessThan(0.064),
      );
    }
  });
  it("is not set off by noise upon the level, nor by a steady voltage", () => {
    const noisy = [0.02, -0.02, 0.02, -0.02, -1, 0.02, 1];
    expect(risingEdge(noisy, noisy)).toBe(5);
    expect(risingEdge([3, 3, 3], [3, 3, 3])).toBe(-1);
    expect(risingEdge([], [])).toBe(-1);
  });
  it("sees a pulse that is shorter than a column", () => {
    expect(risingEdge([0, 0, 0, 0], [0, 0, 5, 0])).toBe(2);
  });
  it("shows from the start where nothing rises in time", () => {
    const low = [0, 0, 0, 0, 0, 0, 0, 5];
    const picture = held({ low_v: low, high_v: low, length_s: 0.8 }, 0.4, true);
    expect(picture).toMatchObject({ isHeld: false, from_s: 0, low_v: [0, 0, 0, 0] });
    expect(picture.times_s.map((t) => t.toFixed(1))).toEqual(["0.0", "0.1", "0.2", "0.3"]);
  });
});

describe("window", () => {
  it("goes 1, 2, 5 and no longer than the render", () => {
    expect(zoomed(0.02, -1, 10)).toBe(0.01);
    expect(zoomed(0.05, 1, 10)).toBe(0.1);
    expect(zoomed(2, 1, 3)).toBe(2);
    expect(zoomed(0.002, -1, 3)).toBe(0.002);
  });
  it("lies in the render", () => {
    expect(inside(9.99, 0.5, 10)).toBe(9.5);
    expect(inside(-1, 0.5, 10)).toBe(0);
    expect(inside(3, 20, 10)).toBe(0);
  });
});

describe("spectrum", () => {
  it("keeps the strongest of what falls together, at its own frequency", () => {
    const db = Array.from({ length: 2400 }, () => -90);
    db[100] = -3; // 1 kHz at 10 Hz a bin
    const seen = logColumns(db, 10, 60, 20, 20_000);
    const at = seen.db.indexOf(Math.max(...seen.db));
    expect([seen.db[at], seen.hz[at]]).toEqual([-3, 1000]);
    expect(seen.hz).toEqual([...seen.hz].sort((a, b) => a - b));
  });
  it("takes every bin between its ends into exactly one column", () => {
    const db = Array.from({ length: 500 }, (_, bin) => bin);
    const seen = logColumns(db, 10, 7, 20, 4990);
    expect(new Set(seen.hz).size).toBe(seen.hz.length);
    expect(seen.db.at(-1)).toBe(498);
  });
  it("leaves out 0 Hz, which is no tone", () => {
    expect(logColumns([99, -50, -50], 100, 4, 20, 200).db).not.toContain(99);
  });
});

describe("proved and seen", () => {
  it("says by how much what is seen leaves what is proved", () => {
    expect(leaves_v({ lo_v: -1, hi_v: 1, rms_v: 0.5 }, [-1, 1])).toBe(0);
    expect(leaves_v({ lo_v: -1, hi_v: 1.0000001, rms_v: 0.5 }, [-1, 1])).toBe(0);
    expect(leaves_v({ lo_v: -1, hi_v: 1.5, rms_v: 0.5 }, [-1, 1])).toBe(0.5);
    expect(leaves_v({ lo_v: -1.25, hi_v: 0, rms_v: 0.5 }, [-1, 1])).toBe(0.25);
  });
  it("puts stretches together by power", () => {
    // 1 s at +1 V and 1 s at -1 V: mean 0, and 1 V RMS about it.
    expect(
      together([
        { length_s: 1, lo_v: 1, hi_v: 1, dc_v: 1, rms_v: 0 },
        { length_s: 1, lo_v: -1, hi_v: -1, dc_v: -1, rms_v: 0 },
      ]),
    ).toEqual({ lo_v: -1, hi_v: 1, dc_v: 0, rms_v: 1 });
  });
});
