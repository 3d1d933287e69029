/** The set on the clock of a render: bars and beats to seconds and back. */
import type { PassageSpan } from "../shared/types";

/** A stretch of one tempo: a section of the set, or the whole patch where there is no set. */
export interface Stretch {
  title: string;
  /** When it begins and ends, on the clock of the render; a section that began earlier has a start below 0. [s] */
  start_s: number;
  end_s: number;
  tempo_bpm: number;
  /** Bars of the whole set before it. */
  bars_before: number;
}

export interface Mark {
  at_s: number;
  sort: "section" | "bar" | "beat";
  /** The section's title, or the number of the bar over the whole set. */
  words: string;
}

export interface Place {
  section: string;
  /** Counted from 1 over the whole set. */
  bar: number;
  /** Counted from 1 inside its section. */
  bar_of_section: number;
  /** Counted from 1, with its fraction. */
  beat: number;
}

/** Times closer than this are the same: far less than a sample, far more than rounding. [s] */
const SAME_S = 1e-7;

/** Return the length of a beat, a quarter note. Source: 60 s a minute. */
export const beat_s = (tempo_bpm: number): number => 60 / tempo_bpm;

/** Return what of the set sounds in a render that begins at `start_s` of the set. */
export function stretchesOf(
  passages: readonly PassageSpan[],
  beats_per_bar: number,
  start_s: number,
  length_s: number,
): Stretch[] {
  const found: Stretch[] = [];
  let bars_before = 0;
  for (const one of passages) {
    const from = one.start_s - start_s;
    const to = from + one.length_s;
    if (from < length_s - SAME_S && to > SAME_S) {
      found.push({
        title: one.title,
        start_s: from,
        end_s: to,
        tempo_bpm: one.tempo_bpm,
        bars_before,
      });
    }
    bars_before += Math.round(one.length_s / (beats_per_bar * beat_s(one.tempo_bpm)));
  }
  return found;
}

/** Return the one stretch of a patch without a set. */
export const withoutSet = (title: string, tempo_bpm: number, length_s: number): Stretch[] => [
  { title, start_s: 0, end_s: length_s, tempo_bpm, bars_before: 0 },
];

function stretchAt(stretches: readonly Stretch[], at_s: number): Stretch | undefined {
  return stretches.findLast((one) => one.start_s <= at_s + SAME_S) ?? stretches[0];
}

/** Return section, bar and beat at a time of the render; null where nothing is counted. */
export function placeAt(
  stretches: readonly Stretch[],
  beats_per_bar: number,
  at_s: number,
): Place | null {
  const one = stretchAt(stretches, at_s);
  if (!one) return null;
  const beats = Math.max(0, at_s - one.start_s + SAME_S) / beat_s(one.tempo_bpm);
  const bars = Math.floor(beats / beats_per_bar);
  return {
    section: one.title,
    bar: one.bars_before + bars + 1,
    bar_of_section: bars + 1,
    beat: beats - bars * beats_per_bar + 1,
  };
}

/** Return every section, bar and beat that begins in a window of the render. */
export function marksIn(
  stretches: readonly Stretch[],
  beats_per_bar: number,
  from_s: number,
  to_s: number,
): Mark[] {
  const marks: Mark[] = [];
  for (const one of stretches) {
    const length_s = beat_s(one.tempo_bpm);
    const first = Math.max(0, Math.ceil((from_s - one.start_s - SAME_S) / length_s));
    const last_s = Math.min(one.end_s - SAME_S, to_s);
    for (let beat = first; one.start_s + beat * length_s <= last_s; beat++) {
      const at_s = one.start_s + beat * length_s;
      if (beat === 0) marks.push({ at_s, sort: "section", words: one.title });
      if (beat % beats_per_bar === 0) {
        marks.push({
          at_s,
          sort: "bar",
          words: String(one.bars_before + beat / beats_per_bar + 1),
        });
      } else marks.push({ at_s, sort: "beat", words: "" });
    }
  }
  return marks;
}

/** How close marks may stand together on the sheet. [px] */
const NEAR_PX = { section: 0, bar: 34, beat: 12 };

/** Return the marks that have room at so many pixels a second: every bar or every 2nd, 4th, 8th …; beats, or none. */
export function roomFor(marks: readonly Mark[], px_per_s: number): Mark[] {
  const bars = marks.filter((mark) => mark.sort === "bar");
  const beats = marks.filter((mark) => mark.sort !== "section");
  const apart = (some: readonly Mark[]): number => {
    const steps = some.slice(1).map((mark, index) => mark.at_s - (some[index]?.at_s ?? 0));
    return Math.min(Infinity, ...steps.filter((step) => step > SAME_S)) * px_per_s;
  };
  let every = 1;
  while (apart(bars) * every < NEAR_PX.bar && every < 1024) every *= 2;
  const hasBeats = apart(beats) >= NEAR_PX.beat;
  return marks.filter(
    (mark) =>
      mark.sort === "section" ||
      (mark.sort === "bar" && (Number(mark.words) - 1) % every === 0) ||
      (mark.sort === "beat" && hasBeats),
  );
}

/** Return the time a few beats further: on the grid of beats where there is one, else so many seconds. */
export function steppedBeats(stretches: readonly Stretch[], at_s: number, beats: number): number {
  const one = stretchAt(stretches, at_s);
  if (!one) return at_s + beats;
  const length_s = beat_s(one.tempo_bpm);
  const now = (at_s - one.start_s) / length_s;
  const whole = beats > 0 ? Math.floor(now + 1e-6) + beats : Math.ceil(now - 1e-6) + beats;
  return one.start_s + whole * length_s;
}

/** Return where the section before or after begins, on the clock of the render. */
export function steppedSection(
  stretches: readonly Stretch[],
  at_s: number,
  step: 1 | -1,
): number | null {
  const starts = stretches.map((one) => Math.max(0, one.start_s));
  if (step > 0) return starts.find((start) => start > at_s + 0.01) ?? null;
  return starts.findLast((start) => start < at_s - 0.5) ?? 0;
}
