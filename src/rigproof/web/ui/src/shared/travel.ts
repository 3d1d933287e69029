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
