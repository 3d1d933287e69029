import { describe, expect, it } from "vitest";
import { nextBox, round } from "./walk";

const at = (x: number, y: number) => ({ x, y, width: 10, height: 10 });
const boxes = new Map([
  ["middle", at(100, 100)],
  ["right", at(200, 105)],
  ["far-right", at(400, 100)],
  ["below", at(100, 200)],
  ["aside", at(160, 300)],
]);

describe("nextBox", () => {
  it("goes to the nearest in that direction", () => {
    expect(nextBox(boxes, "middle", "right")).toBe("right");
    expect(nextBox(boxes, "right", "right")).toBe("far-right");
    expect(nextBox(boxes, "middle", "down")).toBe("below");
    expect(nextBox(boxes, "below", "up")).toBe("middle");
  });

  it("goes nowhere where nothing is", () => {
    expect(nextBox(boxes, "middle", "left")).toBe(null);
    expect(nextBox(boxes, "nobody", "left")).toBe(null);
  });
});

describe("round", () => {
  it("goes round", () => {
    expect(round(["a", "b", "c"], "c", 1)).toBe("a");
    expect(round(["a", "b", "c"], "a", -1)).toBe("c");
  });

  it("begins at the end that it comes from", () => {
    expect(round(["a", "b", "c"], null, 1)).toBe("a");
    expect(round(["a", "b", "c"], "x", -1)).toBe("c");
    expect(round([], null, 1)).toBe(null);
  });
});
