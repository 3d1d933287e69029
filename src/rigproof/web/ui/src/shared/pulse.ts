/** The pulses of a line in words. */
import type { Cycle, Pulse } from "./types";
import { number } from "./words";

/** How often a quarter note: what such a line is called. `1/4` is a bar of four. */
const NAMES: Record<string, string> = {
  "1/4": "one in four quarters",
  "1/2": "halves",
  "1": "quarters",
  "2": "eighths",
  "3": "eighth triplets",
  "4": "sixteenths",
  "6": "sixteenth triplets",
  "8": "thirty-seconds",
  "24": "24 a quarter",
};

export function pulseWords(pulse: Pulse): string {
  const rate =
    pulse.per_quarter !== null
      ? pulse.beat === "steady"
        ? (NAMES[pulse.per_quarter] ?? `${pulse.per_quarter} a quarter`)
        : `${pulse.per_quarter} a quarter on average`
      : pulse.hz !== null
        ? `${number(pulse.hz)} Hz`
        : "";
  const beat = pulse.beat === "steady" ? "" : pulse.beat === "none" ? "no pulses" : pulse.beat;
  const chance = pulse.chance < 1 ? `${number(pulse.chance * 100, 0)} % of them come` : "";
  return [rate, beat, chance].filter((part) => part !== "").join(", ");
}

/** After how long a patch repeats, and what keeps it from sounding the same. */
export function cycleWords(cycle: Cycle): string {
  const [length, unit] = cycle.bars !== null ? [cycle.bars, "bar"] : [cycle.quarters, "quarter"];
  if (length === null) return "Nothing is locked to the tempo.";
  const lines = (count: number, words: [string, string]): string =>
    count === 1 ? `one line ${words[0]}` : `${count} lines ${words[1]}`;
  const repeats = `What is locked to the tempo repeats after ${length} ${unit}${length === "1" ? "" : "s"}`;
  const but = [
    ...(cycle.free.length > 0 ? [lines(cycle.free.length, ["runs free", "run free"])] : []),
    ...(cycle.by_chance.length > 0
      ? [lines(cycle.by_chance.length, ["leaves pulses to chance", "leave pulses to chance"])]
      : []),
  ];
  return but.length === 0 ? `${repeats}.` : `${repeats}; ${but.join(" and ")}.`;
}
