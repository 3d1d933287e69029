import { describe, expect, it } from "vitest";
import {
  centre,
  fit,
  keepInSight,
  LEAST_SCALE,
  MOST_SCALE,
  opening,
  OPENING_SCALE,
  READABLE_SCALE,
  reveal,
  stepOf,
  toDrawing,
  zoomAt,
} from "./view";

const box = { x: 100, y: 200, width: 400, height: 100 };

describe("zoomAt", () => {
  it("keeps what is under the pointer under it", () => {
    const view = { x: 30, y: -20, scale: 0.5 };
    const at = { x: 210, y: 95 };
    const before = toDrawing(view, at);
    const after = toDrawing(zoomAt(view, at, 1.7), at);
    expect(after.x).toBeCloseTo(before.x, 9);
    expect(after.y).toBeCloseTo(before.y, 9);
  });

  it("stops at the smallest and the largest", () => {
    const view = { x: 0, y: 0, scale: 1 };
    expect(zoomAt(view, { x: 0, y: 0 }, 1e6).scale).toBe(MOST_SCALE);
    expect(zoomAt(view, { x: 0, y: 0 }, 1e-6).scale).toBe(LEAST_SCALE);
  });
});

describe("fit", () => {
  it("shows a box whole and in the middle", () => {
    const view = fit(box, 300, 300);
    expect(box.x * view.scale + view.x).toBeCloseTo(16);
    expect((box.x + box.width) * view.scale + view.x).toBeCloseTo(300 - 16);
    expect((box.y + box.height / 2) * view.scale + view.y).toBeCloseTo(150);
  });

  it("enlarges no further than it is told", () => {
    expect(fit({ x: 0, y: 0, width: 10, height: 10 }, 900, 900, 1).scale).toBe(1);
  });
});

describe("reveal", () => {
  it("does not move what is seen already", () => {
    const view = { x: 0, y: 0, scale: 1 };
    expect(reveal(view, box, 800, 600)).toEqual(view);
  });

  it("moves no further than it takes", () => {
    const view = { x: -300, y: 0, scale: 1 };
    expect(reveal(view, box, 800, 600, 48)).toEqual({ x: -52, y: 0, scale: 1 });
  });

  it("shows the middle of what is too large", () => {
    const seen = reveal({ x: 5000, y: 0, scale: 1 }, { ...box, width: 4000 }, 800, 600);
    expect(100 + 2000 + seen.x).toBe(400);
  });
});

describe("centre", () => {
  it("comes near enough to read, and stays nearer where it was", () => {
    expect(centre({ x: 0, y: 0, scale: 0.2 }, box, 900, 600).scale).toBe(0.9);
    expect(centre({ x: 0, y: 0, scale: 1.5 }, box, 900, 600).scale).toBe(1.5);
  });
});

describe("keepInSight", () => {
  it("lets the drawing leave on no side", () => {
    const extent = { x: 0, y: 0, width: 1000, height: 1000 };
    expect(keepInSight({ x: 99999, y: 0, scale: 1 }, extent, 500, 500).x).toBe(440);
    expect(keepInSight({ x: -99999, y: 0, scale: 1 }, extent, 500, 500).x).toBe(-940);
  });
});

describe("opening", () => {
  const voices = { x: 900, y: 300, width: 4000, height: 3000 };

  it("shows the whole drawing where its names can be read so", () => {
    const extent = { x: 0, y: 0, width: 2000, height: 1200 };
    const view = opening(extent, voices, 900, 600);
    expect(view).toEqual(fit(extent, 900, 600));
    expect(view.scale).toBeGreaterThan(READABLE_SCALE);
  });

  it("begins at the upper left of the voices where it would be too small", () => {
    const view = opening({ x: 0, y: 0, width: 9000, height: 5000 }, voices, 900, 600);
    expect(view.scale).toBe(OPENING_SCALE);
    expect(toDrawing(view, { x: 16, y: 16 }).x).toBeCloseTo(voices.x);
    expect(toDrawing(view, { x: 16, y: 16 }).y).toBeCloseTo(voices.y);
  });
});

describe("stepOf", () => {
  it("is near the scale, and the same for what is nearly the same", () => {
    for (let scale = LEAST_SCALE; scale < MOST_SCALE; scale *= 1.007) {
      expect(Math.abs(stepOf(scale) / scale - 1)).toBeLessThan(0.016);
      expect(stepOf(stepOf(scale))).toBeCloseTo(stepOf(scale), 9);
    }
    expect(stepOf(1)).toBe(1);
  });
});
