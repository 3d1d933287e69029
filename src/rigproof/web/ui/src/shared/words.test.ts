import { expect, it } from "vitest";
import { clock, dbuFromVolts, inUnit, number, range, seconds, volts } from "./words";

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
