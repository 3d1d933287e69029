/** What is read at a jack, in few words. */
import { pulseWords } from "../../shared/pulse";
import type { JackReading, Pulse, Signal } from "../../shared/types";
import { dbu, number, percent, range, seconds, swing, volts } from "../../shared/words";

export const isVolts = (signal: Signal): boolean => !["midi", "usb", "link"].includes(signal);

export const isPulses = (signal: Signal): boolean => ["gate", "trigger", "clock"].includes(signal);

/** Return a range of volts, in short where it is even about nothing: `±5 V`. */
export const spanWords = ([lo, hi]: readonly [number, number]): string =>
  hi > 0 && number(-lo) === number(hi) ? `±${number(hi)} V` : range([lo, hi]);

/** Return what is proved; a dash where no volts are carried. */
export const provedWords = (reading: Pick<JackReading, "signal" | "volts">): string =>
  isVolts(reading.signal) ? spanWords(reading.volts) : "–";

/** Return what is typical, a line each: sound in V RMS and dBu, anything else its mean and its swing about it. */
export function typicalLines({ signal, level }: Pick<JackReading, "signal" | "level">): string[] {
  if (!level || !isVolts(signal) || isPulses(signal)) return [];
  if (signal === "audio")
    return level.rms_v < 5e-4 ? [] : [`${volts(level.rms_v)} RMS`, dbu(level.rms_v)];
  const words = swing(level);
  if (words === "") return [];
  return words.includes(" ± ") ? [volts(level.dc_v), `± ${volts(level.rms_v)} RMS`] : [words];
}

export const typicalWords = (reading: Pick<JackReading, "signal" | "level">): string =>
  typicalLines(reading).join(reading.signal === "audio" ? ", " : " ");

/** Return the pulses in words, empty where there are none. */
export const pulsesIn = (pulse: Pulse | null): string =>
  pulse === null || pulse.beat === "none" ? "" : pulseWords(pulse);

/** Return the pulses in the fewest words, for a table. */
export function pulsesShort(pulse: Pulse | null): string {
  if (pulse === null) return "";
  if (pulse.beat === "none") return "no pulses";
  const rate =
    pulse.per_quarter !== null
      ? `${pulse.per_quarter} a quarter`
      : pulse.hz !== null
        ? `${number(pulse.hz)} Hz`
        : pulse.beat;
  return pulse.chance < 1 ? `${rate}, ${percent(pulse.chance)}` : rate;
}

const counted = (quarters: string): string =>
  quarters === "1" ? "1 quarter" : `${quarters} quarters`;

/** Return all that is known of pulses, a name and a value each. */
export function pulseRows(pulse: Pulse | null): [name: string, value: string][] {
  if (pulse === null || pulse.beat === "none") return [];
  const rows: [string, string | null][] = [
    ["Beat", pulse.beat],
    ["Ticks per quarter note", pulse.per_quarter],
    ["Cycle", pulse.cycle_quarters === null ? null : counted(pulse.cycle_quarters)],
    ["Rate", pulse.hz === null ? null : `${Number(pulse.hz.toPrecision(4))} Hz`],
    ["Pulse length", pulse.length_s === null ? null : seconds(pulse.length_s)],
    ["Chance", pulse.chance < 1 ? percent(pulse.chance) : null],
  ];
  return rows.filter((row): row is [string, string] => row[1] !== null);
}
