import { describe, expect, it } from "vitest";
import { dbfs, difference_db, loopOf, looped, nudge } from "./in_step";

describe("in step", () => {
  it("lets alone what is together, brings what is near, puts what is far", () => {
    expect(nudge(0.001)).toEqual({ isSeek: false, rate: 1 });
    expect(nudge(0.5)).toEqual({ isSeek: true, rate: 1 });
    expect(nudge(0.05).rate).toBeGreaterThan(1);
    expect(nudge(-0.05).rate).toBeLessThan(1);
  });
  it.each([0.1, -0.1, 0.03, -0.005, 0.4])("brings %f s together", (start) => {
    let behind = start;
    for (let turn = 0; turn < 100; turn++) {
      const { isSeek, rate } = nudge(behind);
      behind = isSeek ? 0 : behind - (rate - 1) * 0.1; // a tenth of a second a turn
    }
    expect(Math.abs(behind)).toBeLessThan(0.004);
  });
});
describe("loop", () => {
  it("goes round", () => {
    expect(looped(5, [2, 4])).toBe(3);
    expect(looped(3.5, [2, 4])).toBe(3.5);
    expect(looped(1, [2, 4])).toBe(1);
    expect(looped(9, null)).toBe(9);
  });
  it("is drawn either way, and lies in the sound", () => {
    expect(loopOf(5, 3, 10)).toEqual([3, 5]);
    expect(loopOf(-1, 30, 10)).toEqual([0, 10]);
    expect(loopOf(3, 3.01, 10)).toBeNull();
  });
});
it("measures against full scale", () => {
  expect(dbfs(0.5)).toBeCloseTo(-6.02, 2);
  expect(dbfs(0)).toBe(-Infinity);
  expect(difference_db(-20, -17)).toBe(3);
  expect(difference_db(null, -17)).toBeNull();
});
