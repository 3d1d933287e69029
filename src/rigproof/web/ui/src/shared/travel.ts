/** How the travel of a control becomes its value, as the server computes it: linear, log or square. */

interface Ranged {
  lo: number;
  hi: number;
  taper: string;
}

/** Return the value at a travel of 0 to 1. */
export function onTravel({ lo, hi, taper }: Ranged, travel: number): number {
  const at = Math.min(1, Math.max(0, travel));
  if (taper === "log" && lo > 0) return lo * (hi / lo) ** at;
  return lo + (hi - lo) * (taper === "square" ? at * at : at);
}

/** Return the travel at which a value stands. */
export function travelOf({ lo, hi, taper }: Ranged, value: number): number {
  if (hi === lo) return 0;
  const inside = Math.min(Math.max(value, Math.min(lo, hi)), Math.max(lo, hi));
  if (taper === "log" && lo > 0) return Math.log(inside / lo) / Math.log(hi / lo);
  const share = (inside - lo) / (hi - lo);
  return taper === "square" ? Math.sqrt(share) : share;
}

interface Counted extends Ranged {
  unit: string;
  stepped?: boolean;
}

/** Whether a control stands on whole numbers only: positions, and what is counted in steps. */
export const isWhole = (control: Counted): boolean =>
  control.stepped === true || control.unit === "steps";

/**
 * Return the value one step up or down: a hundredth of the travel, a tenth for a big one. What is counted goes by one
 * and ten, pitch by a semitone and an octave where the travel is an octave or more.
 */
export function nextValue(control: Counted, value: number, way: 1 | -1, isBig: boolean): number {
  const within = (next: number): number =>
    Math.min(Math.max(next, Math.min(control.lo, control.hi)), Math.max(control.lo, control.hi));
  if (isWhole(control)) return within(Math.round(value) + way * (isBig ? 10 : 1));
  if (control.unit === "semitones" && Math.abs(control.hi - control.lo) >= 12)
    return within(Number((value + way * (isBig ? 12 : 1)).toPrecision(5)));
  const next = onTravel(control, travelOf(control, value) + way * (isBig ? 0.1 : 0.01));
  return Number(next.toPrecision(5));
}
