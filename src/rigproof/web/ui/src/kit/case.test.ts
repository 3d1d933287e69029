import { describe, expect, it } from "vitest";
import {
  dropAt,
  exchange,
  faultsOf,
  firstFit,
  gaps,
  isFree,
  nearestFree,
  pastEnd,
  stepAcross,
  stepAlong,
  type Place,
} from "./case";

const ROWS = [
  { hp: 40, depth_mm: 30 },
  { hp: 20, depth_mm: 60 },
];
const at = (id: string, row: number, hp: number, width: number, depth_mm = 25): Place => ({
  id,
  row,
  hp,
  width,
  depth_mm,
  turned: false,
});
const CASE = [
  at("clock", 1, 0, 8),
  at("osc", 1, 10, 10),
  at("vca", 1, 20, 8),
  at("echo", 2, 0, 14),
];

/** The same found by looking at every HP of the row. */
function isFreeByCounting(spot: { row: number; hp: number }, width: number, but: string): boolean {
  const row = ROWS[spot.row - 1];
  if (!row) return false;
  const taken = new Set<number>();
  for (const place of CASE)
    if (place.row === spot.row && place.id !== but)
      for (let hp = place.hp; hp < place.hp + place.width; hp++) taken.add(hp);
  for (let hp = spot.hp; hp < spot.hp + width; hp++)
    if (hp < 0 || hp >= row.hp || taken.has(hp)) return false;
  return true;
}

describe("what is free", () => {
  it("lists the gaps of a row", () => {
    expect(gaps(1, 40, CASE)).toEqual([
      [8, 10],
      [28, 40],
    ]);
    expect(gaps(1, 40, CASE, "osc")).toEqual([
      [8, 20],
      [28, 40],
    ]);
    expect(gaps(2, 20, [])).toEqual([[0, 20]]);
  });

  it("agrees with counting every HP", () => {
    for (const row of [1, 2, 3])
      for (let hp = -2; hp < 42; hp++)
        for (const width of [1, 2, 4, 8, 12])
          for (const but of ["", "osc", "echo"])
            expect(
              isFree(ROWS, CASE, { row, hp }, width, but),
              `${row} ${hp} ${width} ${but}`,
            ).toBe(isFreeByCounting({ row, hp }, width, but));
  });

  it("finds the first gap that holds width and depth, the own row first", () => {
    expect(firstFit(ROWS, CASE, { width: 2, depth_mm: 20 })).toEqual({ row: 1, hp: 8 });
    expect(firstFit(ROWS, CASE, { width: 6, depth_mm: 20 })).toEqual({ row: 1, hp: 28 });
    expect(firstFit(ROWS, CASE, { width: 6, depth_mm: 20 }, 2)).toEqual({ row: 2, hp: 14 });
    expect(firstFit(ROWS, CASE, { width: 6, depth_mm: 45 })).toEqual({ row: 2, hp: 14 });
    expect(firstFit(ROWS, CASE, { width: 8, depth_mm: 45 })).toBeNull();
    expect(pastEnd(ROWS, CASE)).toEqual({ row: 1, hp: 40 });
    expect(pastEnd(ROWS, [at("wide", 1, 38, 6)])).toEqual({ row: 1, hp: 44 });
  });

  it("takes the nearest place in a row", () => {
    expect(nearestFree(ROWS, CASE, { row: 1, hp: 5 }, 2)).toEqual({ row: 1, hp: 8 });
    expect(nearestFree(ROWS, CASE, { row: 1, hp: 39 }, 8)).toEqual({ row: 1, hp: 32 });
    expect(nearestFree(ROWS, CASE, { row: 2, hp: 0 }, 8)).toBeNull();
  });
});

describe("what does not fit", () => {
  it("finds nothing where all is well", () => expect(faultsOf(ROWS, CASE)).toEqual([]));

  it("tells overlap, depth, end and row, with their stretch", () => {
    const faults = faultsOf(ROWS, [
      at("a", 1, 0, 8),
      at("b", 1, 5, 8, 34.5),
      at("c", 1, 36, 8),
      at("d", 3, 0, 4),
    ]);
    expect(faults.map((one) => [one.sort, one.ids, one.from, one.to, one.words])).toEqual([
      ["overlap", ["a", "b"], 5, 8, "overlap 3 HP"],
      ["too-deep", ["b"], 5, 13, "4.5 mm too deep"],
      ["past-end", ["c"], 40, 44, "4 HP past the end"],
      ["no-row", ["d"], 0, 4, "no row 3"],
    ]);
  });

  it("lets neighbours touch", () =>
    expect(faultsOf(ROWS, [at("a", 1, 0, 8), at("b", 1, 8, 8)])).toEqual([]));
});

describe("keys", () => {
  const osc = at("osc", 1, 10, 10);
  it("moves one HP, stops at a neighbour, then goes over it", () => {
    expect(stepAlong(ROWS, CASE, osc, -1)).toEqual({ row: 1, hp: 9 });
    expect(stepAlong(ROWS, CASE, osc, -5)).toEqual({ row: 1, hp: 8 });
    // To the right stands vca without a gap: over it, to HP 28.
    expect(stepAlong(ROWS, CASE, osc, 1)).toEqual({ row: 1, hp: 28 });
    expect(stepAlong(ROWS, CASE, at("vca", 1, 20, 8), 5)).toEqual({ row: 1, hp: 25 });
  });
  it("says so where there is no room", () => {
    expect(stepAlong(ROWS, CASE, at("clock", 1, 0, 8), -1)).toBeNull();
    expect(stepAlong(ROWS, CASE, at("echo", 2, 6, 14), 1)).toBeNull();
  });
  it("never moves onto another", () => {
    for (const mover of CASE)
      for (const by of [-5, -1, 1, 5]) {
        const spot = stepAlong(ROWS, CASE, mover, by);
        if (spot) {
          expect(isFreeByCounting(spot, mover.width, mover.id)).toBe(true);
          expect(Math.sign(spot.hp - mover.hp)).toBe(Math.sign(by));
        }
      }
  });
  it("changes rows", () => {
    expect(stepAcross(ROWS, CASE, at("clock", 1, 0, 6), 1)).toEqual({ row: 2, hp: 14 });
    expect(stepAcross(ROWS, CASE, osc, 1)).toBeNull();
    expect(stepAcross(ROWS, CASE, at("clock", 1, 0, 6), -1)).toBeNull();
  });
});

describe("changing places", () => {
  const osc = at("osc", 1, 10, 10);
  it("keeps to the stretch of the two, whatever their widths", () => {
    expect(exchange(CASE, osc, 1)).toEqual({
      spot: { row: 1, hp: 18 },
      other: "vca",
      otherSpot: { row: 1, hp: 10 },
    });
    expect(exchange(CASE, osc, -1)).toEqual({
      spot: { row: 1, hp: 0 },
      other: "clock",
      otherSpot: { row: 1, hp: 12 },
    });
    expect(exchange(CASE, at("clock", 1, 0, 8), -1)).toBeNull();
    expect(exchange(CASE, at("echo", 2, 0, 14), 1)).toBeNull();
  });
  it("leaves nothing at fault", () => {
    for (const mover of CASE)
      for (const way of [1, -1] as const) {
        const swapped = exchange(CASE, mover, way);
        if (!swapped) continue;
        const after = CASE.map((place) =>
          place.id === mover.id
            ? { ...place, ...swapped.spot }
            : place.id === swapped.other
              ? { ...place, ...swapped.otherSpot }
              : place,
        );
        expect(faultsOf(ROWS, after)).toEqual([]);
      }
  });
  it("is what a drop on a wider neighbour means", () =>
    expect(dropAt(ROWS, CASE, at("vca", 1, 20, 8), { row: 1, hp: 12 })).toMatchObject({
      sort: "change-places",
      spot: { row: 1, hp: 10 },
      otherSpot: { row: 1, hp: 18 },
    }));
});

describe("letting go", () => {
  const vca = at("vca", 1, 20, 8);
  it("stands where there is room, inside the row", () => {
    expect(dropAt(ROWS, CASE, vca, { row: 1, hp: 30 })).toMatchObject({
      sort: "free",
      spot: { row: 1, hp: 30 },
    });
    expect(dropAt(ROWS, CASE, vca, { row: 1, hp: 60 })).toMatchObject({
      sort: "free",
      spot: { row: 1, hp: 32 },
    });
  });
  it("slips aside by a little", () =>
    expect(dropAt(ROWS, CASE, at("new", 1, 30, 8), { row: 1, hp: 26 })).toMatchObject({
      sort: "free",
      spot: { row: 1, hp: 28 },
    }));
  it("changes places with what lies mostly under it, where both then fit", () => {
    expect(dropAt(ROWS, CASE, vca, { row: 1, hp: 1 })).toEqual({
      sort: "change-places",
      spot: { row: 1, hp: 0 },
      other: "clock",
      otherSpot: { row: 1, hp: 20 },
      warns: "",
    });
  });
  it("warns of the other one's depth too", () =>
    expect(
      dropAt(ROWS, [at("low", 1, 0, 8), at("tall", 2, 0, 8, 50)], at("low", 1, 0, 8), {
        row: 2,
        hp: 0,
      }),
    ).toMatchObject({ sort: "change-places", warns: "tall 20 mm too deep there" }));
  it("refuses, and says what is in the way", () => {
    expect(dropAt(ROWS, CASE, at("clock", 1, 0, 8), { row: 2, hp: 0 })).toEqual({
      sort: "blocked",
      spot: { row: 2, hp: 0 },
      why: "It would overlap echo by 8 HP.",
    });
    expect(dropAt(ROWS, CASE, vca, { row: 3, hp: 0 })).toMatchObject({ sort: "blocked" });
  });
  it("warns of depth", () =>
    expect(dropAt(ROWS, CASE, at("vca", 1, 20, 8, 41), { row: 1, hp: 30 })).toMatchObject({
      warns: "11 mm too deep for this row",
    }));
});
