/** Renders in words. */
import type { RenderWish } from "../shared/api";
import type { Job } from "../shared/types";
import { number } from "../shared/words";

export const STAGES: Record<Job["stage"], string> = {
  waiting: "waits",
  running: "renders",
  done: "done",
  failed: "failed",
  cancelled: "stopped",
};

export const isOver = (job: Job): boolean => !["waiting", "running"].includes(job.stage);

/** Return the jacks that a render looked at. */
export const probesOf = (job: Job): string[] =>
  job.files.filter((file) => file.sort === "probe").map((file) => file.name);

export const hasMix = (job: Job): boolean => job.files.some((file) => file.sort === "mix");

/** Return how many samples of the mix stood at full scale and were cut. */
export const clippedOf = (job: Job): number => job.clipped_samples?.["mix.wav"] ?? 0;

/** Return what sets a second render apart from its first. */
export function apartWords(wish: RenderWish | undefined): string {
  if (wish?.without?.length)
    return wish.without.length === 1 ? "one cable pulled" : `${wish.without.length} cables pulled`;
  if (wish?.fix) return `${wish.fix.finding} mended`;
  return "";
}

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
