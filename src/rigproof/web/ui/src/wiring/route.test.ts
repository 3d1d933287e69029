import { describe, expect, it } from "vitest";
import { partings, routeAll, simplify, straightWay, type Points } from "./route";
import { GRID as G } from "./shape";

const right = (x: number, y: number) => ({ x: x * G, y: y * G, side: "right" as const });
const left = (x: number, y: number) => ({ x: x * G, y: y * G, side: "left" as const });
const wish = (
  key: string,
  from: ReturnType<typeof right>,
  to: ReturnType<typeof left>,
  net = key,
) => ({
  key,
  net,
  from,
  to,
});
const box = (x: number, y: number, width: number, height: number) => ({
  x: x * G,
  y: y * G,
  width: width * G,
  height: height * G,
});
const corners = (way: Points | undefined): number => (way?.length ?? 0) - 2;

describe("routeAll", () => {
  it("goes straight where nothing is in the way", () => {
    const ways = routeAll({ boxes: [] }, [wish("a", right(0, 5), left(20, 5))]);
    expect(ways.get("a")).toEqual([
      { x: 0, y: 5 * G },
      { x: 20 * G, y: 5 * G },
    ]);
  });

  it("takes two corners to another height", () => {
    const way = routeAll({ boxes: [] }, [wish("a", right(0, 5), left(20, 11))]).get("a");
    expect(corners(way)).toBe(2);
  });

  it("goes around a block with a step between", () => {
    const wall = box(8, 0, 4, 10);
    const way = routeAll({ boxes: [wall] }, [wish("a", right(0, 5), left(20, 5))]).get("a")!;
    expect(corners(way)).toBe(4);
    const across = way.filter((point) => point.x > wall.x - G && point.x < wall.x + wall.width + G);
    expect(
      across.every((point) => point.y < wall.y - G || point.y > wall.y + wall.height + G),
    ).toBe(true);
    const turn = way.find((point) => point.y !== 5 * G)!;
    expect([-G, 11 * G]).toContain(turn.y);
  });

  it("comes back to what is left of where it starts", () => {
    const boxes = [box(10, 4, 6, 4)];
    const way = routeAll({ boxes }, [wish("a", right(16, 6), left(10, 6))]).get("a")!;
    expect(way[1]!.x).toBeGreaterThan(16 * G);
    expect(way.at(-2)!.x).toBeLessThan(10 * G);
    expect(corners(way)).toBe(4);
  });

  it("gives each of two wires its own way, and lets those of one net share it", () => {
    const boxes = [box(8, -30, 4, 34), box(8, 7, 4, 34)];
    const wishes = [wish("a", right(0, 4), left(20, 4)), wish("b", right(0, 6), left(20, 6))];
    const apart = routeAll({ boxes: [] }, wishes);
    expect(apart.get("a")!.every((p) => p.y === 4 * G)).toBe(true);
    expect(apart.get("b")!.every((p) => p.y === 6 * G)).toBe(true);
    const one = wishes.map((w) => ({ ...w, net: "same", from: right(0, 5) }));
    const together = [...routeAll({ boxes }, one).values()];
    expect(partings(together).length).toBe(1);
  });

  it("leaves a way as it is while it still fits, and takes another when a block stands on it", () => {
    const wishes = [wish("a", right(0, 5), left(20, 5)), wish("b", right(0, 9), left(20, 9))];
    const first = routeAll({ boxes: [] }, wishes);
    const next = routeAll({ boxes: [box(9, 8, 3, 6)] }, wishes, first);
    expect(next.get("a")).toBe(first.get("a"));
    expect(next.get("b")).not.toBe(first.get("b"));
    expect(corners(next.get("b"))).toBeGreaterThan(1);
    const moved = [wish("a", right(0, 6), left(20, 5))];
    expect(routeAll({ boxes: [] }, moved, first).get("a")![0]).toEqual({ x: 0, y: 6 * G });
  });
});

describe("a way that was kept", () => {
  const one = wish("a", right(0, 5), left(20, 5));
  const start = { x: 0, y: 5 * G };
  const end = { x: 20 * G, y: 5 * G };
  it.each([
    ["leads off the sheet", [start, { x: 0, y: 1e9 }, { x: 20 * G, y: 1e9 }, end]],
    ["is not square-cornered", [start, { x: 9 * G, y: 7 * G }, end]],
    ["ends elsewhere", [start, { x: 19 * G, y: 5 * G }]],
  ])("is found anew where it %s", (_, way) => {
    expect(routeAll({ boxes: [] }, [one], new Map([["a", way]])).get("a")).toEqual([start, end]);
  });
});

describe("straightWay", () => {
  it("is square-cornered whichever way the ends face", () => {
    for (const [a, b] of [
      [right(0, 0), left(20, 7)],
      [right(20, 0), left(0, 7)],
      [left(0, 0), right(20, 4)],
    ] as const) {
      const way = straightWay(a, b);
      expect(way[0]).toEqual({ x: a.x, y: a.y });
      expect(way.at(-1)).toEqual({ x: b.x, y: b.y });
      for (let i = 1; i < way.length; i += 1) {
        expect(way[i]!.x === way[i - 1]!.x || way[i]!.y === way[i - 1]!.y).toBe(true);
      }
    }
  });
});

describe("simplify", () => {
  it("drops what is in the middle of a straight and what is said twice", () => {
    const points = [
      { x: 0, y: 0 },
      { x: 5, y: 0 },
      { x: 5, y: 0 },
      { x: 9, y: 0 },
      { x: 9, y: 4 },
    ];
    expect(simplify(points)).toEqual([
      { x: 0, y: 0 },
      { x: 9, y: 0 },
      { x: 9, y: 4 },
    ]);
  });
});
