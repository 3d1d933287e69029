/** Two sounds kept in step, so that one can be taken for the other at the same place. */

export interface Nudge {
  /** Whether the one that is not heard has to be put where the other is. */
  isSeek: boolean;
  /** How fast it plays until then. */
  rate: number;
}

/** Nearer than this they are taken for together: shorter than two sounds are heard apart. [s] */
const TOGETHER_S = 0.004;
/** Further apart than this it is put there at once, not brought there. [s] */
const FAR_S = 0.12;
/** How long it takes to bring it there. [s] */
const BRING_S = 1;

/** Return whether a sound stands so near the other one that the change from one to the other is not heard as a jump. */
export const isTogether = (behind_s: number): boolean => Math.abs(behind_s) < TOGETHER_S;

/** Return what to do with a sound that nobody hears, which stands so far behind (or, below 0, before) the heard one. */
export function nudge(behind_s: number): Nudge {
  if (Math.abs(behind_s) > FAR_S) return { isSeek: true, rate: 1 };
  if (isTogether(behind_s)) return { isSeek: false, rate: 1 };
  return { isSeek: false, rate: 1 + behind_s / BRING_S };
}

/** Return a time inside a loop: one that runs past its end goes on from its start. */
export function looped(at_s: number, loop: readonly [number, number] | null): number {
  if (loop === null) return at_s;
  const [from, to] = loop;
  return to > from && at_s >= to ? from + ((at_s - from) % (to - from)) : at_s;
}

/** Return a loop out of two ends as they were drawn, or null where it is too short to be meant. */
export function loopOf(a_s: number, b_s: number, whole_s: number): [number, number] | null {
  const from = Math.max(0, Math.min(a_s, b_s));
  const to = Math.min(whole_s, Math.max(a_s, b_s));
  return to - from < 0.05 ? null : [from, to];
}

/** Return full scale's share in dB; silence is -infinity. Source: definition, 20 log10. */
export const dbfs = (share: number): number => 20 * Math.log10(Math.abs(share));

/** Return what louder or softer one is than the other, null where one of them was not measured. [dB] */
export function difference_db(
  before: number | null | undefined,
  after: number | null | undefined,
): number | null {
  return before == null || after == null ? null : after - before;
}
