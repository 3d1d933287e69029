/** How scope and spectrum are drawn: thin rules, ink, numbers in the sheet's hand. */
import type uPlot from "uplot";
import { number } from "../shared/words";

export interface PlotInk {
  ink: string;
  ink2: string;
  rule: string;
  accent: string;
  sheet: string;
  know: string;
  font: string;
}

type Options = Omit<uPlot.Options, "width" | "height">;

const axis = (ink: PlotInk, more: Partial<uPlot.Axis>): uPlot.Axis => ({
  stroke: ink.ink2,
  font: ink.font,
  grid: { stroke: ink.rule, width: 1 },
  ticks: { stroke: ink.rule, width: 1, size: 4 },
  gap: 4,
  ...more,
});

const quiet: Partial<uPlot.Options> = {
  legend: { show: false },
  cursor: { show: false },
  padding: [8, 20, 0, 0],
};

/** Lowest and highest voltage of each column over time. `range` are the volts that are shown. */
export const scopeOptions =
  (lanes: number, range: () => [number, number], isShort: boolean) =>
  (ink: PlotInk): Options => ({
    ...quiet,
    scales: { x: { time: false }, y: { range: () => range() } },
    axes: [
      axis(ink, {
        size: 28,
        values: (_, ticks) =>
          ticks.map((tick) => (isShort ? `${number(tick * 1000, 2)} ms` : `${number(tick)} s`)),
      }),
      axis(ink, { size: 60, values: (_, ticks) => ticks.map((tick) => `${number(tick)} V`) }),
    ],
    series: [
      {},
      ...Array.from({ length: lanes * 2 }, (_, index) => ({
        stroke: index < 2 ? ink.ink : ink.know,
        width: 1.25,
        points: { show: false },
      })),
    ],
    bands: Array.from({ length: lanes }, (_, lane) => ({
      series: [lane * 2 + 2, lane * 2 + 1] as [number, number],
      fill: lane === 0 ? ink.ink : ink.know,
    })),
  });

/** A narrower plot names only some of its frequencies. [px] */
const ROOMY_PX = 620;
const SPARSE_HZ = new Set([20, 100, 500, 2000, 10_000]);
export const LOWEST_HZ = 20;
export const LOWEST_DB = -100;
export const HIGHEST_DB = 24;

/** How strong each frequency is, against a sine of 1 V peak, frequency on a log scale. */
export const spectrumOptions =
  (lanes: number, highest_hz: number) =>
  (ink: PlotInk): Options => ({
    ...quiet,
    scales: {
      x: { time: false, distr: 3, range: () => [LOWEST_HZ, highest_hz] },
      y: { range: () => [LOWEST_DB, HIGHEST_DB] },
    },
    axes: [
      axis(ink, {
        size: 28,
        splits: () => [20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000],
        filter: (_, splits) => splits,
        values: (plot, ticks) =>
          ticks.map((tick) =>
            plot.width < ROOMY_PX && !SPARSE_HZ.has(tick)
              ? ""
              : tick >= 1000
                ? `${number(tick / 1000)} kHz`
                : `${number(tick)} Hz`,
          ),
      }),
      axis(ink, { size: 60, values: (_, ticks) => ticks.map((tick) => `${number(tick)} dB`) }),
    ],
    series: [
      {},
      ...Array.from({ length: lanes }, (_, lane) => ({
        stroke: lane === 0 ? ink.ink : ink.know,
        width: 1.25,
        points: { show: false },
        spanGaps: true,
      })),
    ],
  });
