import { expect, it } from "vitest";
import { outlinePath, PIECE_S, piecesOf } from "./outline";

it("covers a window without a gap, each piece short enough", () => {
  for (const [from, to] of [
    [0, 5],
    [0, 720],
    [13.5, 200.25],
    [0, 60],
  ] as const) {
    const pieces = piecesOf(from, to, 1200);
    expect(pieces[0]?.at_s).toBe(from);
    let end = from;
    for (const piece of pieces) {
      expect(piece.at_s).toBeCloseTo(end, 9);
      expect(piece.length_s).toBeLessThanOrEqual(PIECE_S + 1e-9);
      end = piece.at_s + piece.length_s;
    }
    expect(end).toBeCloseTo(to, 9);
    expect(pieces.reduce((sum, piece) => sum + piece.columns, 0)).toBeCloseTo(1200, -2);
  }
  expect(piecesOf(0, 0, 100)).toEqual([]);
  expect(piecesOf(0, 60, 100)).toHaveLength(1);
});
it("goes along the top and back along the bottom", () => {
  expect(outlinePath({ low: [-1, 0], high: [1, 0.5] }, 100, 50, 1)).toBe(
    "M0.0 0.0L100.0 12.5L100.0 25.0L0.0 50.0Z",
  );
});
it("draws silence as a line, and nothing outside the sheet", () => {
  expect(outlinePath({ low: [0, 0], high: [0, 0] }, 10, 50, 1)).toBe(
    "M0.0 25.0L10.0 25.0L10.0 25.5L0.0 25.5Z",
  );
  expect(outlinePath({ low: [-9, -9], high: [9, 9] }, 10, 50, 1)).toBe(
    "M0.0 0.0L10.0 0.0L10.0 50.0L0.0 50.0Z",
  );
  expect(outlinePath({ low: [], high: [] }, 10, 50, 1)).toBe("");
});
