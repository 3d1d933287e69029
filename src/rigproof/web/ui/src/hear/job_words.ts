/** Renders in words. */
import type { Job } from "../shared/types";
import { number } from "../shared/words";

export const STAGES: Record<Job["stage"], string> = {
  waiting: "waits",
  running: "renders",
  done: "done",
  failed: "failed",
  cancelled: "stopped",
};

/** Return what a render is at, and how far it has come in that. */
export function progressOf(job: Job): { words: string; share: number } {
  if (job.stage === "waiting") return { words: "Waits for its turn", share: 0 };
  if (job.stopping) return { words: "Stops", share: 0 };
  if (job.stage === "running" && job.ready_ratio < 1)
    return {
      words: "Gets the sound library ready, which takes longest the first time",
      share: job.ready_ratio,
    };
  return { words: "Renders", share: isOver(job) ? 1 : job.done_s / job.seconds };
}

export const isOver = (job: Job): boolean => !["waiting", "running"].includes(job.stage);

/** Return the jacks that a render looked at. */
export const probesOf = (job: Job): string[] =>
  job.files.filter((file) => file.sort === "probe").map((file) => file.name);

export const hasMix = (job: Job): boolean => job.files.some((file) => file.sort === "mix");

/** Return how many samples of the mix stood at full scale and were cut. */
export const clippedOf = (job: Job): number => job.clipped_samples?.["mix.wav"] ?? 0;

/** Return whether a render plays the patch as its files say it. */
export const isAsItIs = (job: Job): boolean => job.without.length === 0 && job.fix === null;

/** Return what sets a render apart from the patch as its files say it; empty where nothing does. */
export function apartWords(job: Job): string {
  if (job.fix) return `${job.fix.finding} mended`;
  const pulled = job.without.length;
  return pulled === 0 ? "" : pulled === 1 ? "one cable pulled" : `${pulled} cables pulled`;
}

/** Return whether two renders are of the same stretch of the same revision. */
const isSameStretch = (a: Job, b: Job): boolean =>
  a.revision === b.revision &&
  a.title === b.title &&
  a.start_s === b.start_s &&
  a.seconds === b.seconds &&
  a.rate_hz === b.rate_hz;

/**
 * Return a render with the one to hold it against: the nearest of the same stretch of which one is of the patch as it
 * is and the other is not. The one as it is comes first.
 */
export function pairOf(
  jobs: readonly Job[],
  id: string,
): { first: string; second: string | null } | null {
  const job = jobs.find((one) => one.id === id);
  if (!job) return null;
  const near = jobs
    .filter((one) => isSameStretch(one, job) && isAsItIs(one) !== isAsItIs(job))
    .sort((a, b) => away(a, job) - away(b, job))[0];
  if (!near) return { first: id, second: null };
  return isAsItIs(job) ? { first: id, second: near.id } : { first: near.id, second: id };
}

/** Return the newest render that is under way, with the one to hold it against: what a page read anew waits for. */
export function underWay(jobs: readonly Job[]): { first: string; second: string | null } | null {
  const open = jobs.filter((job) => !isOver(job)).sort((a, b) => Number(b.id) - Number(a.id))[0];
  return open ? pairOf(jobs, open.id) : null;
}

const away = (a: Job, b: Job): number => Math.abs(Number(a.id) - Number(b.id));

const figure = (value: number | null | undefined, unit: string): string =>
  value === undefined ? "not measured" : value === null ? "silence" : `${number(value, 1)} ${unit}`;

/** Return what a render's mix measures, as rows: name, value, and whether it is a trouble. */
export function measured(job: Job): { name: string; value: string; isBad: boolean }[] {
  const { loudness } = job;
  if (!loudness) return [];
  const clipped = clippedOf(job);
  const peak_dbtp = loudness.true_peak_dbtp;
  return [
    { name: "Loudness", value: figure(loudness.integrated_lufs, "LUFS"), isBad: false },
    { name: "Range", value: figure(loudness.range_lu, "LU"), isBad: false },
    { name: "True peak", value: figure(peak_dbtp, "dBTP"), isBad: (peak_dbtp ?? -Infinity) > 0 },
    {
      name: "Clipped",
      value: clipped === 0 ? "no sample" : `${clipped} samples`,
      isBad: clipped > 0,
    },
  ];
}
