/** The case as numbers: what stands where in its rows, what is free, and where a thing goes that is moved. */
import type { Rig, Row, Sheet } from "../shared/types";

/** Width of one HP. Source: IEC 60297-3 (0.2 inch). */
export const HP_MM = 5.08;
/** Height of a 3U panel in modular rigs: common practice, no source; IEC 60297-3-101 has 128.55 mm. */
export const ROW_MM = 128.5;

/** A module in its place: row from 1, left edge in HP from 0. */
export interface Place {
  id: string;
  row: number;
  hp: number;
  width: number;
  depth_mm: number;
  turned: boolean;
}
export interface Spot {
  row: number;
  hp: number;
}
export interface Size {
  width: number;
  depth_mm: number;
}
export interface Fault {
  sort: "overlap" | "past-end" | "too-deep" | "no-row";
  ids: string[];
  row: number;
  /** The stretch of the row that is at fault, in HP. */
  from: number;
  to: number;
  words: string;
}

/** Return the modules of the case in their places; what has no sheet has no size. */
export function placesOf(rig: Rig, sheets: Record<string, Sheet>): Place[] {
  return rig.modules.map(({ id, sheet, row, hp, turned }) => ({
    id,
    row,
    hp,
    turned,
    width: sheets[sheet]?.hp ?? 0,
    depth_mm: sheets[sheet]?.depth_mm ?? 0,
  }));
}

const endOf = (place: Place): number => place.hp + place.width;

/** Return how many HP two modules share. */
export function shared(a: Place, b: Place): number {
  if (a.row !== b.row) return 0;
  return Math.max(0, Math.min(endOf(a), endOf(b)) - Math.max(a.hp, b.hp));
}

/** Return what does not fit, as the checks of the same names see it. */
export function faultsOf(rows: readonly Row[], places: readonly Place[]): Fault[] {
  const faults: Fault[] = [];
  places.forEach((place, index) => {
    const row = rows[place.row - 1];
    if (!row) {
      if (rows.length > 0)
        faults.push({
          sort: "no-row",
          ids: [place.id],
          row: place.row,
          from: place.hp,
          to: endOf(place),
          words: `no row ${place.row}`,
        });
      return;
    }
    for (const other of places.slice(index + 1)) {
      const hp = shared(place, other);
      if (hp > 0) {
        const from = Math.max(place.hp, other.hp);
        faults.push({
          sort: "overlap",
          ids: [place.id, other.id],
          row: place.row,
          from,
          to: from + hp,
          words: `overlap ${hp} HP`,
        });
      }
    }
    if (endOf(place) > row.hp)
      faults.push({
        sort: "past-end",
        ids: [place.id],
        row: place.row,
        from: Math.max(row.hp, place.hp),
        to: endOf(place),
        words: `${Math.min(endOf(place) - row.hp, place.width)} HP past the end`,
      });
    if (place.depth_mm > row.depth_mm)
      faults.push({
        sort: "too-deep",
        ids: [place.id],
        row: place.row,
        from: place.hp,
        to: endOf(place),
        words: `${Number((place.depth_mm - row.depth_mm).toFixed(1))} mm too deep`,
      });
  });
  return faults;
}

/** Return the free stretches of a row, from left to right, as if `but` were not there. */
export function gaps(
  row: number,
  length_hp: number,
  places: readonly Place[],
  but = "",
): [number, number][] {
  const taken = places
    .filter((place) => place.row === row && place.id !== but && place.width > 0)
    .map((place): [number, number] => [place.hp, endOf(place)])
    .sort((a, b) => a[0] - b[0]);
  const free: [number, number][] = [];
  let edge = 0;
  for (const [lo, hi] of taken) {
    if (Math.min(lo, length_hp) > edge) free.push([edge, Math.min(lo, length_hp)]);
    edge = Math.max(edge, hi);
  }
  if (length_hp > edge) free.push([edge, length_hp]);
  return free;
}

/** Return whether a thing of some width stands free at a spot. */
export function isFree(
  rows: readonly Row[],
  places: readonly Place[],
  spot: Spot,
  width: number,
  but = "",
): boolean {
  const row = rows[spot.row - 1];
  if (!row || spot.hp < 0) return false;
  return gaps(spot.row, row.hp, places, but).some(
    ([lo, hi]) => lo <= spot.hp && spot.hp + width <= hi,
  );
}

/** Return the first gap that holds a thing in width and depth, its own row first; null where there is none. */
export function firstFit(
  rows: readonly Row[],
  places: readonly Place[],
  size: Size,
  ownRow = 0,
  but = "",
): Spot | null {
  const numbers = rows
    .map((_, index) => index + 1)
    .sort((a, b) => Number(b === ownRow) - Number(a === ownRow) || a - b);
  for (const number of numbers) {
    const row = rows[number - 1];
    if (!row || row.depth_mm < size.depth_mm) continue;
    const gap = gaps(number, row.hp, places, but).find(([lo, hi]) => hi - lo >= size.width);
    if (gap) return { row: number, hp: gap[0] };
  }
  return null;
}

/** Return where a thing stands past the end of a row: where it goes when nothing holds it, for the eye to see. */
export function pastEnd(rows: readonly Row[], places: readonly Place[], row = 1): Spot {
  const ends = places.filter((place) => place.row === row).map(endOf);
  return { row, hp: Math.max(rows[row - 1]?.hp ?? 0, ...ends) };
}

/** Return the free place in a row that is nearest to where a thing is wanted; null where the row holds it nowhere. */
export function nearestFree(
  rows: readonly Row[],
  places: readonly Place[],
  wanted: Spot,
  width: number,
  but = "",
): Spot | null {
  const row = rows[wanted.row - 1];
  if (!row) return null;
  let best: number | null = null;
  for (const [lo, hi] of gaps(wanted.row, row.hp, places, but)) {
    if (hi - lo < width) continue;
    const at = Math.min(Math.max(wanted.hp, lo), hi - width);
    if (best === null || Math.abs(at - wanted.hp) < Math.abs(best - wanted.hp)) best = at;
  }
  return best === null ? null : { row: wanted.row, hp: best };
}

/**
 * Return where a module goes that a key moves by some HP within its row: so far, or as far as its neighbour lets it,
 * or over the neighbour into the next gap that holds it. Null where there is no room that way.
 */
export function stepAlong(
  rows: readonly Row[],
  places: readonly Place[],
  mover: Place,
  by: number,
): Spot | null {
  const row = rows[mover.row - 1];
  if (!row || by === 0) return null;
  const way = Math.sign(by);
  const fits = gaps(mover.row, row.hp, places, mover.id).filter(
    ([lo, hi]) => hi - lo >= mover.width,
  );
  // The places that each gap offers in this direction, the gap nearest first.
  const ahead = (way > 0 ? fits : [...fits].reverse())
    .map(([lo, hi]): [number, number] => [lo, hi - mover.width])
    .map(([lo, hi]): [number, number] =>
      way > 0 ? [Math.max(lo, mover.hp + 1), hi] : [lo, Math.min(hi, mover.hp - 1)],
    )
    .filter(([lo, hi]) => lo <= hi);
  const first = ahead[0];
  if (!first) return null;
  const hp = Math.min(Math.max(mover.hp + by, first[0]), first[1]);
  return { row: mover.row, hp };
}

/** Return where a module goes that a key moves up or down: the next row with room for its width. */
export function stepAcross(
  rows: readonly Row[],
  places: readonly Place[],
  mover: Place,
  by: 1 | -1,
): Spot | null {
  for (let row = mover.row + by; row >= 1 && row <= rows.length; row += by) {
    const spot = nearestFree(rows, places, { row, hp: mover.hp }, mover.width, mover.id);
    if (spot) return spot;
  }
  return null;
}

export interface Exchange {
  spot: Spot;
  other: string;
  otherSpot: Spot;
}

/** Return how a module changes places with its neighbour: within the stretch that the two have, so it always fits. */
export function exchange(places: readonly Place[], mover: Place, way: 1 | -1): Exchange | null {
  const beside = places
    .filter((place) => place.row === mover.row && place.id !== mover.id)
    .filter((place) => (way > 0 ? place.hp >= endOf(mover) : endOf(place) <= mover.hp))
    .sort((a, b) => way * (a.hp - b.hp))[0];
  if (!beside) return null;
  const { row } = mover;
  return way > 0
    ? {
        spot: { row, hp: endOf(beside) - mover.width },
        other: beside.id,
        otherSpot: { row, hp: mover.hp },
      }
    : {
        spot: { row, hp: beside.hp },
        other: beside.id,
        otherSpot: { row, hp: endOf(mover) - beside.width },
      };
}

/** What becomes of a module that is let go somewhere. */
export type Drop =
  | { sort: "free"; spot: Spot; warns: string }
  | ({ sort: "change-places"; warns: string } & Exchange)
  | { sort: "blocked"; spot: Spot; why: string };

/** A module let go over others slips aside by so many HP at most; by the first of the two before anything else. */
const SLIP_FIRST_HP = 2;
export const SLIP_HP = 4;

/** Return what becomes of a module that is let go at a spot: it stands there, slips aside, changes places, or is refused. */
export function dropAt(
  rows: readonly Row[],
  places: readonly Place[],
  mover: Place,
  wanted: Spot,
): Drop {
  const row = rows[wanted.row - 1];
  if (!row) return { sort: "blocked", spot: wanted, why: "There is no row there." };
  const warns = deep(mover, row);
  const inside = {
    row: wanted.row,
    hp: Math.max(0, Math.min(wanted.hp, Math.max(0, row.hp - mover.width))),
  };
  if (isFree(rows, places, inside, mover.width, mover.id))
    return { sort: "free", spot: inside, warns };
  const near = nearestFree(rows, places, inside, mover.width, mover.id);
  const slip_hp = near ? Math.abs(near.hp - inside.hp) : Infinity;
  if (near && slip_hp <= SLIP_FIRST_HP) return { sort: "free", spot: near, warns };
  const under = places.filter(
    (place) => place.id !== mover.id && shared({ ...mover, ...inside }, place) > 0,
  );
  const most = [...under].sort(
    (a, b) => shared({ ...mover, ...inside }, b) - shared({ ...mover, ...inside }, a),
  )[0];
  if (most && shared({ ...mover, ...inside }, most) * 2 > most.width) {
    const beside = ([1, -1] as const)
      .map((way) => exchange(places, mover, way))
      .find((one) => one?.other === most.id);
    if (beside) return { sort: "change-places", ...beside, warns };
    const swapped = changePlaces(rows, places, mover, most);
    if (swapped) return swapped;
  }
  if (near && slip_hp <= SLIP_HP) return { sort: "free", spot: near, warns };
  if (mover.width > row.hp)
    return { sort: "blocked", spot: inside, why: `Row ${wanted.row} has only ${row.hp} HP.` };
  const words = under.map((place) => `${place.id} by ${shared({ ...mover, ...inside }, place)} HP`);
  return {
    sort: "blocked",
    spot: inside,
    why: words.length > 0 ? `It would overlap ${words.join(" and ")}.` : "There is no room there.",
  };
}

function deep(place: Place, row: Row | undefined, who = ""): string {
  const over = row ? place.depth_mm - row.depth_mm : 0;
  if (over <= 0) return "";
  const words = `${Number(over.toFixed(1))} mm too deep`;
  return who === "" ? `${words} for this row` : `${who} ${words} there`;
}

/** Return the exchange of two modules, each to the other's left edge, where both then stand free. */
function changePlaces(
  rows: readonly Row[],
  places: readonly Place[],
  mover: Place,
  other: Place,
): Drop | null {
  const spot = { row: other.row, hp: other.hp };
  const otherSpot = { row: mover.row, hp: mover.hp };
  const row = rows[other.row - 1];
  if (!row) return null;
  const rest = places.filter((place) => place.id !== mover.id && place.id !== other.id);
  const withMover = [...rest, { ...mover, ...spot }];
  if (!isFree(rows, rest, spot, mover.width)) return null;
  if (!isFree(rows, withMover, otherSpot, other.width)) return null;
  return {
    sort: "change-places",
    spot,
    other: other.id,
    otherSpot,
    warns: [deep(mover, row), deep(other, rows[mover.row - 1], other.id)]
      .filter((one) => one !== "")
      .join("; "),
  };
}
