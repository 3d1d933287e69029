import { expect, it } from "vitest";
import {
  after,
  afterLead,
  clock,
  dbu,
  dbuFromVolts,
  inUnit,
  isSilent,
  number,
  ohms,
  percent,
  range,
  seconds,
  swing,
  volts,
} from "./words";

it("writes numbers without what is not needed", () => {
  expect(number(1.5)).toBe("1.5");
  expect(number(2)).toBe("2");
  expect(number(-0.001)).toBe("0");
  expect(number(-3.25)).toBe("−3.25");
  expect(number(100)).toBe("100");
});
it("takes the unit that reads best", () => {
  expect(volts(0.0123)).toBe("12.3 mV");
  expect(volts(-5)).toBe("−5 V");
  expect(seconds(0.0114)).toBe("11.4 ms");
  expect(seconds(1.25)).toBe("1.25 s");
  expect(inUnit(1250, "Hz")).toBe("1.25 kHz");
  expect(range([-5, 5])).toBe("−5 … 5 V");
  expect(clock(754)).toBe("12:34");
});
it("counts dBu from 0.7746 V", () => {
  // ITU-R BS.645: +4 dBu is 1.228 V RMS.
  expect(dbuFromVolts(1.2276)).toBeCloseTo(4, 2);
});
it("writes resistances in the unit that reads best", () => {
  expect(ohms(22)).toBe("22 Ω");
  expect(ohms(1000)).toBe("1 kΩ");
  expect(ohms(47_500)).toBe("47.5 kΩ");
  expect(ohms(1e6)).toBe("1 MΩ");
  expect(ohms(1e12)).toBe("none");
});
it("writes what is typical as the command does", () => {
  expect(swing({ dc_v: 2.5, rms_v: 0 })).toBe("2.5 V");
  expect(swing({ dc_v: 0.01, rms_v: 2.5 })).toBe("2.5 V RMS");
  expect(swing({ dc_v: 1, rms_v: 0.5 })).toBe("1 ± 0.5 V RMS");
  expect(swing({ dc_v: 0, rms_v: 0 })).toBe("");
});
it("writes levels and chances", () => {
  expect(dbu(1.2276)).toBe("4 dBu");
  expect(percent(0.855)).toBe("85.5 %");
});
it("writes how long something takes, first and last", () => {
  expect(after({ lo_s: 0.008, hi_s: 0.01 })).toBe("8 to 10 ms");
  expect(after({ lo_s: 0.0114, hi_s: 0.0114 })).toBe("11.4 ms");
  expect(after({ lo_s: 0.009, hi_s: 1.25 })).toBe("9 ms to 1.25 s");
  expect(after({ lo_s: 0, hi_s: 1.3125 })).toBe("0 ms to 1.31 s");
  expect(after({ lo_s: 0.0000208, hi_s: 0.0023125 })).toBe("0.021 to 2.31 ms");
});

it.each([
  ["Undone", "undo: mount echo in row 1", "Undone: mount echo in row 1"],
  ["Done again", "redo: mount echo in row 1", "Done again: mount echo in row 1"],
  ["Changed on the disk", "changed on the disk: rig.toml", "Changed on the disk: rig.toml"],
  ["Changed on the disk", "sound files changed", "Changed on the disk: sound files changed"],
  ["Undone", "let undo: stand", "Undone: let undo: stand"],
])("says once what was done: %s, %s", (lead, words, said) => {
  expect(afterLead(lead, words)).toBe(said);
});

it("calls silent only a way out that has neither level nor peaks", () => {
  expect(isSilent({ level: { rms_v: 0 }, peak_dbfs: null })).toBe(true);
  expect(isSilent({ level: { rms_v: 0.001 }, peak_dbfs: null })).toBe(false);
  expect(isSilent({ level: { rms_v: 0 }, peak_dbfs: -20 })).toBe(false);
});
