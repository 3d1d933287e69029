/** What a scope shows: how long a window, from where, and held still at a rising edge. */

/** Lengths of the window, as on a bench: 1, 2, 5. [s] */
export const WINDOWS_S: readonly number[] = [
  0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60,
];

/** A window longer than this is not held still: its picture does not flicker. [s] */
export const HELD_S = 0.5;

/** Return the next shorter or longer window that is not longer than the render. */
export function zoomed(length_s: number, step: 1 | -1, longest_s: number): number {
  const all = WINDOWS_S.filter((one) => one <= longest_s);
  const now = all.findIndex((one) => one >= length_s - 1e-9);
  const at = now < 0 ? all.length - 1 : now;
  return all[Math.min(all.length - 1, Math.max(0, at + step))] ?? length_s;
}

/** Return where a window begins so that it lies in the render. */
export function inside(at_s: number, length_s: number, whole_s: number): number {
  return Math.max(0, Math.min(at_s, whole_s - length_s));
}

/**
 * Return the column at which a voltage first rises through the middle of what is seen, or -1 where it never does.
 * It must first have been a tenth of its swing below the middle, so noise upon the level does not set it off.
 */
export function risingEdge(low_v: readonly number[], high_v: readonly number[]): number {
  if (low_v.length < 2) return -1;
  const lo = Math.min(...low_v);
  const hi = Math.max(...high_v);
  const swing = hi - lo;
  if (!(swing > 1e-6)) return -1;
  const level = (lo + hi) / 2;
  const armed_below = level - swing / 10;
  let isArmed = false;
  for (let at = 0; at < low_v.length; at++) {
    const low = low_v[at] ?? 0;
    const high = high_v[at] ?? 0;
    if (isArmed && high >= level) return at;
    if (low <= armed_below) isArmed = true;
  }
  return -1;
}

export interface Picture {
  times_s: number[];
  low_v: number[];
  high_v: number[];
  /** Whether it was held at a rising edge. */
  isHeld: boolean;
  /** Where it begins, from the start of what was seen. [s] */
  from_s: number;
}

/**
 * Return `length_s` of what was seen, from its first rising edge on if there is one early enough, else from its start.
 * Time counts from where the picture begins.
 */
export function held(
  seen: { low_v: number[]; high_v: number[]; length_s: number },
  length_s: number,
  wantsHeld: boolean,
): Picture {
  const columns = seen.low_v.length;
  const step_s = seen.length_s / Math.max(1, columns);
  const wanted = Math.min(columns, Math.max(1, Math.round(length_s / step_s)));
  const edge = wantsHeld ? risingEdge(seen.low_v, seen.high_v) : -1;
  const isHeld = edge >= 0 && edge + wanted <= columns;
  const from = isHeld ? edge : 0;
  return {
    times_s: Array.from({ length: wanted }, (_, index) => index * step_s),
    low_v: seen.low_v.slice(from, from + wanted),
    high_v: seen.high_v.slice(from, from + wanted),
    isHeld,
    from_s: from * step_s,
  };
}

/** Return a spectrum in so many columns of equal width on a log scale, each the strongest of what falls into it. */
export function logColumns(
  db: readonly number[],
  step_hz: number,
  columns: number,
  lo_hz: number,
  hi_hz: number,
): { hz: number[]; db: number[] } {
  const out: { hz: number[]; db: number[] } = { hz: [], db: [] };
  if (!(step_hz > 0)) return out;
  const ratio = (hi_hz / lo_hz) ** (1 / columns);
  for (let column = 0; column < columns; column++) {
    const from_hz = lo_hz * ratio ** column;
    const first = Math.max(1, Math.ceil(from_hz / step_hz - 1e-9));
    const last = Math.min(db.length - 1, Math.ceil((from_hz * ratio) / step_hz - 1e-9) - 1);
    let strongest = -Infinity;
    let at = first;
    for (let bin = first; bin <= last; bin++) {
      if ((db[bin] ?? -Infinity) > strongest) [strongest, at] = [db[bin] ?? -Infinity, bin];
    }
    if (strongest === -Infinity) continue;
    out.hz.push(at * step_hz);
    out.db.push(strongest);
  }
  return out;
}

export interface Seen {
  lo_v: number;
  hi_v: number;
  rms_v: number;
}

/** Rounding of a 32-bit file: what is seen may stand outside by this share of a volt. IEEE 754: 24 bits, 6e-8. */
const ROUNDING = 1e-6;

/** Return by how much what was seen leaves what is proved; 0 where it does not. [V] */
export function leaves_v(seen: Seen, proved: readonly [number, number]): number {
  const slack = ROUNDING * Math.max(1, Math.abs(proved[0]), Math.abs(proved[1]));
  const out = Math.max(proved[0] - seen.lo_v, seen.hi_v - proved[1]);
  return out > slack ? out : 0;
}

/** Return several stretches of one voltage as one; each with its length, as RMS about the mean adds by power. */
export function together(
  parts: readonly { length_s: number; lo_v: number; hi_v: number; dc_v: number; rms_v: number }[],
): Seen & { dc_v: number } {
  const length = parts.reduce((sum, part) => sum + part.length_s, 0) || 1;
  const dc = parts.reduce((sum, part) => sum + part.dc_v * part.length_s, 0) / length;
  const square = parts.reduce(
    (sum, part) => sum + (part.rms_v ** 2 + part.dc_v ** 2) * part.length_s,
    0,
  );
  return {
    lo_v: Math.min(...parts.map((part) => part.lo_v)),
    hi_v: Math.max(...parts.map((part) => part.hi_v)),
    dc_v: dc,
    rms_v: Math.sqrt(Math.max(0, square / length - dc ** 2)),
  };
}
