/** What is read at a jack, in few words. */
import { pulseWords } from "../../proof/pulse";
import type { JackReading, Pulse, Signal } from "../../shared/types";
import { dbu, percent, range, seconds, swing, volts } from "../../shared/words";

export const isVolts = (signal: Signal): boolean => !["midi", "usb", "link"].includes(signal);

export const isPulses = (signal: Signal): boolean => ["gate", "trigger", "clock"].includes(signal);

/** Return what is proved; a dash where no volts are carried. */
export const provedWords = (reading: Pick<JackReading, "signal" | "volts">): string =>
  isVolts(reading.signal) ? range(reading.volts) : "–";

/** Return what is typical: sound in V RMS and dBu, anything else as it stands and swings; empty where nothing is. */
export function typicalWords({ signal, level }: Pick<JackReading, "signal" | "level">): string {
  if (!level || !isVolts(signal) || isPulses(signal)) return "";
  if (signal !== "audio") return swing(level);
  return level.rms_v < 5e-4 ? "" : `${volts(level.rms_v)} RMS, ${dbu(level.rms_v)}`;
}

/** Return the pulses in words, empty where there are none. */
export const pulsesIn = (pulse: Pulse | null): string =>
  pulse === null || pulse.beat === "none" ? "" : pulseWords(pulse);

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
