import { expect, it } from "vitest";
import type { Pulse } from "../../shared/types";
import {
  provedWords,
  pulseRows,
  pulsesIn,
  pulsesShort,
  spanWords,
  typicalLines,
  typicalWords,
} from "./told";

const pulse: Pulse = {
  beat: "pattern",
  per_quarter: "5/8",
  cycle_quarters: "8",
  length_s: 0.005,
  hz: null,
  chance: 0.85,
};
const level = { lo_v: -3, hi_v: 3, dc_v: 0, rms_v: 1.2276 };

it("says what sound is in volts and dBu, and what a CV is as it stands", () => {
  // ITU-R BS.645: +4 dBu is 1.228 V RMS.
  expect(typicalWords({ signal: "audio", level })).toBe("1.23 V RMS, 4 dBu");
  expect(typicalWords({ signal: "cv", level: { ...level, dc_v: 2.5, rms_v: 0 } })).toBe("2.5 V");
  expect(typicalWords({ signal: "audio", level: { ...level, rms_v: 0 } })).toBe("");
  expect(typicalLines({ signal: "cv", level: { ...level, dc_v: 2.5, rms_v: 1.4 } })).toEqual([
    "2.5 V",
    "± 1.4 V RMS",
  ]);
});
it("leaves volts out where none are carried, and an average where pulses are", () => {
  expect(provedWords({ signal: "midi", volts: [0, 0] })).toBe("–");
  expect(provedWords({ signal: "clock", volts: [0, 5] })).toBe("0 … 5 V");
  expect(typicalWords({ signal: "gate", level })).toBe("");
  expect(typicalWords({ signal: "midi", level })).toBe("");
});
it("writes an even range in short", () => {
  expect(spanWords([-5, 5])).toBe("±5 V");
  expect(spanWords([-10.7843, 10.7844])).toBe("±10.78 V");
  expect(spanWords([0, 5])).toBe("0 … 5 V");
  expect(spanWords([0, 0])).toBe("0 V");
  expect(spanWords([5, -5])).toBe("5 … −5 V");
});
it("tells pulses in the fewest words", () => {
  expect(pulsesShort(pulse)).toBe("5/8 a quarter, 85 %");
  expect(pulsesShort({ ...pulse, per_quarter: null, hz: 2.5, chance: 1 })).toBe("2.5 Hz");
  expect(pulsesShort({ ...pulse, beat: "irregular", per_quarter: null, chance: 1 })).toBe(
    "irregular",
  );
  expect(pulsesShort({ ...pulse, beat: "none" })).toBe("no pulses");
  expect(pulsesShort(null)).toBe("");
});
it("tells pulses as exact fractions", () => {
  expect(pulseRows(pulse)).toEqual([
    ["Beat", "pattern"],
    ["Ticks per quarter note", "5/8"],
    ["Cycle", "8 quarters"],
    ["Pulse length", "5 ms"],
    ["Chance", "85 %"],
  ]);
  const free = { ...pulse, beat: "free", per_quarter: null, cycle_quarters: null, hz: 2.56789 };
  expect(pulseRows({ ...free, chance: 1 })).toEqual([
    ["Beat", "free"],
    ["Rate", "2.568 Hz"],
    ["Pulse length", "5 ms"],
  ]);
  expect(pulseRows({ ...pulse, beat: "none" })).toEqual([]);
  expect(pulseRows(null)).toEqual([]);
  expect(pulsesIn({ ...pulse, beat: "none" })).toBe("");
  expect(pulsesIn(pulse)).toContain("5/8 a quarter");
});
