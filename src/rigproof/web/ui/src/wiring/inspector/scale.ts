/** The scale on which a jack's volts are drawn: from end to end of what a rig's rails give. */

export const LO_V = -12;
export const HI_V = 12;
export const TICKS_V: readonly number[] = [-10, -5, 0, 5, 10];

/** Return where a voltage stands on the scale, in per cent from its left end; what lies beyond stands at the end. */
export function spot(volts: number): number {
  const share = (volts - LO_V) / (HI_V - LO_V);
  return Math.min(1, Math.max(0, share)) * 100;
}

export interface Stretch {
  left: number;
  width: number;
}

/** Return a range as a stretch of the scale, in per cent; the ends may come in either order. */
export function stretch(a_v: number, b_v: number): Stretch {
  const left = spot(Math.min(a_v, b_v));
  return { left, width: spot(Math.max(a_v, b_v)) - left };
}

/** Whether a range leaves another one by more than a millivolt, in which Ohm's law and rounding have no part. */
export function leaves(
  [lo_v, hi_v]: readonly [number, number],
  [least_v, most_v]: readonly [number, number],
): boolean {
  return lo_v < least_v - 1e-3 || hi_v > most_v + 1e-3;
}
