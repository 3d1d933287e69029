/** The numbers of a finding as rows of a table: the unit stands behind the name of each, after the last underscores. */
import { decibels, milliamps, number, seconds, volts } from "../shared/words";

export interface EvidenceRow {
  key: string;
  name: string;
  value: string;
}

type Write = (value: number) => string;
const plainUnit =
  (unit: string, decimals = 2): Write =>
  (value) =>
    `${number(value, decimals)} ${unit}`;

/** Suffix of a key to how its number is written; the first that fits is taken, so longer ones stand first. */
const UNITS: readonly (readonly [string, Write])[] = [
  ["bytes_s", plainUnit("bytes/s", 0)],
  ["per_quarter", plainUnit("per quarter")],
  ["dbfs", plainUnit("dBFS", 1)],
  ["dbtp", plainUnit("dBTP", 1)],
  ["dbu", plainUnit("dBu", 1)],
  ["lufs", plainUnit("LUFS", 1)],
  ["db", decibels],
  ["ohm", plainUnit("Ω")],
  ["khz", plainUnit("kHz")],
  [
    "hz",
    (value) => (Math.abs(value) >= 1000 ? `${number(value / 1000)} kHz` : `${number(value)} Hz`),
  ],
  ["bpm", plainUnit("bpm", 1)],
  ["ppqn", plainUnit("ppqn")],
  ["cents", plainUnit("cents", 1)],
  ["ratio", (value) => `${number(value, 3)} ×`],
  ["percent", plainUnit("%", 1)],
  ["beats", plainUnit("beats")],
  ["bars", plainUnit("bars")],
  ["mm2", plainUnit("mm²")],
  ["mm", plainUnit("mm", 1)],
  ["cm", plainUnit("cm", 1)],
  ["hp", plainUnit("HP", 0)],
  ["ma", milliamps],
  ["mv", plainUnit("mV")],
  ["ms", plainUnit("ms")],
  ["w", plainUnit("W")],
  ["v", volts],
  ["s", seconds],
];

/** Return one number of a finding in words: `peak_v: 4.2` is `peak` and `4.2 V`. */
export function evidenceRow(key: string, value: unknown): EvidenceRow {
  const found = UNITS.find(([suffix]) => key === suffix || key.endsWith(`_${suffix}`));
  const name = (found && key !== found[0] ? key.slice(0, -found[0].length - 1) : key).replaceAll(
    "_",
    " ",
  );
  if (typeof value === "number")
    return { key, name, value: found ? found[1](value) : number(value, 3) };
  // The server writes null for a number without end.
  return { key, name, value: value === null ? "without end" : words(value) };
}

function words(value: unknown): string {
  if (Array.isArray(value)) return value.map(words).join(", ");
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "number") return number(value, 3);
  return typeof value === "string" ? value : JSON.stringify(value);
}

export const evidenceRows = (evidence: Record<string, unknown>): EvidenceRow[] =>
  Object.entries(evidence).map(([key, value]) => evidenceRow(key, value));
