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
