/** The loop of a player: the bar in which it plays, or none. */
import { loopOf } from "./in_step";
import { beat_s, type Stretch } from "./set_time";

interface Looping {
  at_s: number;
  length_s: number;
  loop: [number, number] | null;
}

/** Where nothing is counted a loop is so long. [s] */
const UNCOUNTED_S = 2;

/** Return the bar in which a time lies. */
export function barAround(
  stretches: readonly Stretch[],
  beats_per_bar: number,
  at_s: number,
): [number, number] {
  const one = stretches.findLast((stretch) => stretch.start_s <= at_s + 1e-6);
  if (!one) return [at_s, at_s + UNCOUNTED_S];
  const bar_s = beat_s(one.tempo_bpm) * beats_per_bar;
  const start_s = one.start_s + Math.floor((at_s - one.start_s + 1e-6) / bar_s) * bar_s;
  return [start_s, Math.min(one.end_s, start_s + bar_s)];
}

/** Loop the bar in which it plays, or let go of the loop. */
export function turnLoop(
  player: Looping,
  stretches: readonly Stretch[],
  beats_per_bar: number,
): void {
  player.loop =
    player.loop === null
      ? loopOf(...barAround(stretches, beats_per_bar, player.at_s), player.length_s)
      : null;
}

/** Let the loop begin, or end, where it plays; the other end stays where it is, or is a bar away. */
export function setLoopEnd(
  player: Looping,
  stretches: readonly Stretch[],
  beats_per_bar: number,
  end: "from" | "to",
): void {
  const { at_s, loop, length_s } = player;
  const [bar_from_s, bar_to_s] = barAround(stretches, beats_per_bar, at_s);
  const bar_s = bar_to_s - bar_from_s;
  if (end === "from")
    player.loop = loopOf(at_s, loop && loop[1] > at_s ? loop[1] : at_s + bar_s, length_s);
  else player.loop = loopOf(loop && loop[0] < at_s ? loop[0] : at_s - bar_s, at_s, length_s);
}
