import { describe, expect, it } from "vitest";
import { NOTE_HEIGHT, placeNotes } from "./notes";

const line = (y: number, from = 0, to = 1000) => [
  { x: from, y },
  { x: to, y },
];

describe("placeNotes", () => {
  it("puts a note in the middle of its wire", () => {
    const [note] = placeNotes([{ key: "a", words: "1", way: line(40) }], 1);
    expect(note).toMatchObject({ x: 500, y: 40 });
  });

  it.each([1, 0.25])("lays none on another, at a scale of %d", (scale) => {
    const words = "1 −5 … 5 V, −0.3 dB, 9 ms";
    const ways = [line(0), line(12), line(24), line(30, 450, 550), line(30, 450, 550)];
    const placed = placeNotes(
      ways.map((way, index) => ({ key: String(index), words, way })),
      scale,
    );
    placed.forEach((a, index) => {
      for (const b of placed.slice(index + 1)) {
        const isBeside = Math.abs(a.x - b.x) >= (a.width + b.width) / 2 / scale - 1e-9;
        const isBelow = Math.abs(a.y - b.y) >= NOTE_HEIGHT / scale - 1e-9;
        expect(isBeside || isBelow).toBe(true);
      }
    });
  });

  it("stands beside a block where there is room on the wire, or beside the wire", () => {
    const isOn = ({ x, y, width }: { x: number; y: number; width: number }): boolean =>
      Math.abs(x - 500) < 100 + width / 2 && Math.abs(y - 40) < 30 + NOTE_HEIGHT / 2;
    const block = { x: 400, y: 10, width: 200, height: 60 };
    const [free] = placeNotes([{ key: "a", words: "7", way: line(40) }], 1, [block]);
    expect(free && isOn(free)).toBe(false);
    const short = { key: "b", words: "4", way: line(75, 480, 500) };
    const [aside] = placeNotes([short], 1, [block]);
    expect(aside && isOn(aside)).toBe(false);
    expect(Math.abs(aside!.y - 75)).toBeLessThan(NOTE_HEIGHT);
  });
});
