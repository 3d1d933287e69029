import { expect, it } from "vitest";
import type { Job } from "../shared/types";
import {
  apartWords,
  clippedOf,
  hasMix,
  measured,
  pairOf,
  probesOf,
  progressOf,
  underWay,
} from "./job_words";

const job: Job = {
  id: "1",
  revision: 0,
  stage: "done",
  title: "x",
  start_s: 0,
  stopping: false,
  ready_ratio: 1,
  done_s: 5,
  seconds: 5,
  rate_hz: 48_000,
  files: [
    { file: "mix.wav", sort: "mix", name: "mix", channels: 2, full_scale_v: null },
    { file: "probe.a.b.wav", sort: "probe", name: "a.b", channels: 1, full_scale_v: 1 },
  ],
  errors: [],
  without: [],
  fix: null,
  clipped_samples: { "mix.wav": 3, "probe.a.b.wav": 0 },
  loudness: { integrated_lufs: -18.04, range_lu: 2, true_peak_dbtp: 0.2 },
};
it("tells what was looked at and what measured", () => {
  expect(probesOf(job)).toEqual(["a.b"]);
  expect(hasMix(job)).toBe(true);
  expect(clippedOf(job)).toBe(3);
  expect(measured(job)).toEqual([
    { name: "Loudness", value: "−18 LUFS", isBad: false },
    { name: "Range", value: "2 LU", isBad: false },
    { name: "True peak", value: "0.2 dBTP", isBad: true },
    { name: "Clipped", value: "3 samples", isBad: true },
  ]);
});
it("tells getting ready from rendering, and both from waiting", () => {
  const begun: Job = { ...job, stage: "running", ready_ratio: 0.25, done_s: 0 };
  expect(progressOf({ ...begun, stage: "waiting" })).toEqual({
    words: "Waits for its turn",
    share: 0,
  });
  expect(progressOf({ ...begun, stopping: true }).words).toBe("Stops");
  expect(progressOf(begun)).toEqual({
    words: "Gets the sound library ready, which takes longest the first time",
    share: 0.25,
  });
  expect(progressOf({ ...begun, ready_ratio: 1, done_s: 1 })).toEqual({
    words: "Renders",
    share: 0.2,
  });
  expect(progressOf(job)).toEqual({ words: "Renders", share: 1 });
});
it("waits for the newest render that is under way, with the one it is held against", () => {
  const at = (id: string, stage: Job["stage"], without: number[] = []): Job => ({
    ...job,
    id,
    stage,
    without,
  });
  expect(underWay([at("1", "done")])).toBeNull();
  expect(underWay([at("1", "running"), at("10", "waiting"), at("9", "waiting")])).toEqual({
    first: "10",
    second: null,
  });
  expect(underWay([at("1", "done"), at("2", "running", [3])])).toEqual({ first: "1", second: "2" });
});
it("tells silence from what was not measured", () => {
  const silent = measured({ ...job, loudness: { integrated_lufs: null, true_peak_dbtp: null } });
  expect(silent.map((row) => row.value).slice(0, 3)).toEqual([
    "silence",
    "not measured",
    "silence",
  ]);
  expect(measured({ ...job, loudness: undefined })).toEqual([]);
});
it("says what sets a render apart", () => {
  expect(apartWords({ ...job, without: [3] })).toBe("one cable pulled");
  expect(apartWords({ ...job, without: [3, 4] })).toBe("2 cables pulled");
  expect(apartWords({ ...job, fix: { finding: "clips", at: "a" } })).toBe("clips mended");
  expect(apartWords(job)).toBe("");
});
it("finds the other one of the same stretch", () => {
  const jobs = [
    { ...job, id: "1" },
    { ...job, id: "2", without: [1] },
    { ...job, id: "3", seconds: 9 },
    { ...job, id: "4" },
    { ...job, id: "5", fix: { finding: "clips", at: "a" } },
    { ...job, id: "6", revision: 1 },
  ];
  expect(pairOf(jobs, "2")).toEqual({ first: "1", second: "2" });
  expect(pairOf(jobs, "1")).toEqual({ first: "1", second: "2" });
  expect(pairOf(jobs, "5")).toEqual({ first: "4", second: "5" });
  expect(pairOf(jobs, "3")).toEqual({ first: "3", second: null });
  expect(pairOf(jobs, "6")).toEqual({ first: "6", second: null });
  expect(pairOf(jobs, "7")).toBeNull();
});
