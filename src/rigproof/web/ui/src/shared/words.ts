/** Numbers with their units, as they are read at a glance. */

const MINUS = "−";

/** Return a number with so many decimals, a true minus sign, and no trailing zeros. */
export function number(value: number, decimals = 2): string {
  if (!Number.isFinite(value)) return value > 0 ? "∞" : value < 0 ? `${MINUS}∞` : "?";
  const text = value
    .toFixed(decimals)
    .replace(/(\.\d*?)0+$/, "$1")
    .replace(/\.$/, "");
  return text === "-0" ? "0" : text.replace("-", MINUS);
}

export const volts = (value: number): string =>
  Math.abs(value) < 0.1 && value !== 0 && Math.abs(value) >= 5e-5
    ? `${number(value * 1000, 1)} mV`
    : `${number(value)} V`;

/** Return a proved range. */
export const range = ([lo, hi]: readonly [number, number]): string =>
  lo === hi ? volts(lo) : `${number(lo)} … ${number(hi)} V`;

/** Return a time in milliseconds or seconds. */
export function seconds(value: number): string {
  if (Math.abs(value) < 1) return `${number(value * 1000, Math.abs(value) < 0.1 ? 2 : 1)} ms`;
  return `${number(value)} s`;
}

/** Return minutes and seconds. */
export function clock(value: number): string {
  const whole = Math.max(0, Math.floor(value));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

export const decibels = (value: number): string => `${number(value, 1)} dB`;

export const milliamps = (value: number): string => `${number(value, 0)} mA`;

/** Return volts RMS in dBu: 0 dBu is 0.7746 V (the root of 0.6). Source: ITU-R BS.645 / IEC 60268. */
export const dbuFromVolts = (rms_v: number): number => 20 * Math.log10(rms_v / Math.sqrt(0.6));

export const dbu = (rms_v: number): string => `${number(dbuFromVolts(rms_v), 1)} dBu`;

export const percent = (ratio: number): string => `${number(ratio * 100, 1)} %`;

/** Return a place in a file as editors take it: `lowtide.patch.toml:12`. */
export const lineOf = (where: { file: string; line: number | null }): string =>
  where.line === null ? where.file : `${where.file}:${where.line}`;

/** Return a resistance: `22 Ω`, `100 kΩ`, `1 MΩ`; a program's input loads nothing. */
export function ohms(value: number): string {
  if (value >= 1e12) return "none";
  const [factor, unit] = value >= 1e6 ? [1e-6, "MΩ"] : value >= 1e3 ? [1e-3, "kΩ"] : [1, "Ω"];
  return `${number(value * factor)} ${unit}`;
}

/** Less than this is shown as nothing, and a mean below the second as none. [V] */
const SMALLEST_V = 5e-4;
const SMALLEST_DC_V = 0.05;

/** Return what is typical: a steady voltage, an RMS about nothing, or an RMS about a mean; empty where nothing is. */
export function swing({ dc_v, rms_v }: { dc_v: number; rms_v: number }): string {
  if (rms_v < SMALLEST_V) return Math.abs(dc_v) < SMALLEST_V ? "" : volts(dc_v);
  if (Math.abs(dc_v) < SMALLEST_DC_V) return `${volts(rms_v)} RMS`;
  return `${number(dc_v)} ± ${volts(rms_v)} RMS`;
}

/** Return how long something takes, first and last: `8 to 10 ms`, `571 ms to 1.32 s`. */
export function after({ lo_s, hi_s }: { lo_s: number; hi_s: number }): string {
  const told = (value: number): [string, string] => {
    const [size, unit] = value >= 1 ? [value, "s"] : [value * 1000, "ms"];
    return [number(Number(size.toPrecision(3)), 3), unit];
  };
  const [lo, loUnit] = told(lo_s);
  const [hi, hiUnit] = told(hi_s);
  if (lo === hi && loUnit === hiUnit) return `${hi} ${hiUnit}`;
  return loUnit === hiUnit ? `${lo} to ${hi} ${hiUnit}` : `${lo} ${loUnit} to ${hi} ${hiUnit}`;
}

/** Return a value in the unit of a control: `440 Hz`, `12 ms`, `56 %`. */
export function inUnit(value: number, unit: string): string {
  switch (unit) {
    case "s":
      return seconds(value);
    case "Hz":
    case "hz":
      return Math.abs(value) >= 1000 ? `${number(value / 1000)} kHz` : `${number(value)} Hz`;
    case "ratio":
      return number(value, 3);
    case "V":
      return volts(value);
    case "dB":
      return decibels(value);
    case "":
      return number(value, 3);
    default:
      return `${number(value)} ${unit}`;
  }
}

/** Return what was done after a lead such as "Undone", without saying once more what the lead has said. */
export const afterLead = (lead: string, words: string): string =>
  `${lead}: ${words.replace(/^(?:undo|redo|changed on the disk): /, "")}`;

/** Return whether no sound is to be expected at a way out: neither a level nor peaks. */
export const isSilent = (way: { level: { rms_v: number }; peak_dbfs: number | null }): boolean =>
  way.level.rms_v === 0 && way.peak_dbfs === null;
