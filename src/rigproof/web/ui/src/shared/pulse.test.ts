import { expect, it } from "vitest";
import type { Cycle, Pulse, Track } from "./types";
import { cycleWords, pulseWords } from "./pulse";

const pulse = (more: Partial<Pulse>): Pulse => ({
  beat: "steady",
  per_quarter: "4",
  cycle_quarters: "1/4",
  length_s: 0.005,
  hz: null,
  chance: 1,
  ...more,
});
it("says how often and how sure", () => {
  expect(pulseWords(pulse({}))).toBe("sixteenths");
  expect(pulseWords(pulse({ per_quarter: "3/7" }))).toBe("3/7 a quarter");
  expect(pulseWords(pulse({ beat: "pattern", per_quarter: "5/8", chance: 0.85 }))).toBe(
    "5/8 a quarter on average, pattern, 85 % of them come",
  );
  expect(pulseWords(pulse({ beat: "none", per_quarter: null }))).toBe("no pulses");
  expect(pulseWords(pulse({ beat: "steady", per_quarter: null, hz: 2.5 }))).toBe("2.5 Hz");
});

it("says after how long what repeats", () => {
  const cycle: Cycle = { quarters: "16", bars: "4", locked: [], free: [], by_chance: [] };
  const track: Track = { name: "a", row: 0, pulse: pulse({}) };
  expect(cycleWords(cycle)).toBe("What is locked to the tempo repeats after 4 bars.");
  expect(cycleWords({ ...cycle, bars: null })).toContain("after 16 quarters");
  expect(cycleWords({ ...cycle, bars: "1", free: [track], by_chance: [track, track] })).toBe(
    "What is locked to the tempo repeats after 1 bar; one line runs free and 2 lines leave pulses to chance.",
  );
  expect(cycleWords({ ...cycle, bars: null, quarters: null })).toBe(
    "Nothing is locked to the tempo.",
  );
});
