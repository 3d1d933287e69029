import { expect, it } from "vitest";
import { evidenceRow, evidenceRows } from "./evidence";

it.each([
  ["peak_v", 4.25, "peak", "4.25 V"],
  ["sag_v", 0.012, "sag", "12 mV"],
  ["draw_ma", 1385, "draw", "1385 mA"],
  ["late_ms", 12.5, "late", "12.5 ms"],
  ["late_s", 0.0114, "late", "11.4 ms"],
  ["limit_bytes_s", 3125, "limit", "3125 bytes/s"],
  ["cutoff_hz", 1250, "cutoff", "1.25 kHz"],
  ["over_db", -6.02, "over", "−6 dB"],
  ["peak_dbfs", 1.99, "peak", "2 dBFS"],
  ["chance_ratio", 0.85, "chance", "0.85 ×"],
  ["narrow_cents", 12, "narrow", "12 cents"],
  ["straight_mm", 414.09, "straight", "414.1 mm"],
  ["length_cm", 10, "length", "10 cm"],
  ["overlap_hp", 6, "overlap", "6 HP"],
  ["found_ppqn", 24, "found", "24 ppqn"],
  ["output_ohm", 1000, "output", "1000 Ω"],
  ["cable_mm2", 0.75, "cable", "0.75 mm²"],
  ["expected_hits", 12, "expected hits", "12"],
  ["hits", 3, "hits", "3"],
  ["expected_hits_a_bar", 2.5, "expected hits a bar", "2.5"],
])("reads the unit of %s", (key, value, name, text) => {
  expect(evidenceRow(key, value)).toEqual({ key, name, value: text });
});
it("does not take part of a word for a unit", () => {
  expect(evidenceRow("outputs", 6)).toEqual({ key: "outputs", name: "outputs", value: "6" });
  expect(evidenceRow("channels", 2).value).toBe("2");
});
it("keeps the order and says what is no number", () => {
  expect(
    evidenceRows({ b_v: 1, a: ["x", "y"], top_v: null, c: true }).map((row) => row.value),
  ).toEqual(["1 V", "x, y", "without end", "yes"]);
});
