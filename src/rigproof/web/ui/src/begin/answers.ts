/** What has been answered so far at the first open, kept while the page is open, and what is made of it. */
import type { Beginning, LibrarySheet, Row } from "../shared/types";

export interface Answers {
  name: string;
  tempo_bpm: number;
  rows: Row[];
  rails_ma: Record<string, number>;
  /** How many of each module, by the name of its sheet. */
  counts: Record<string, number>;
  controller: string | null;
  interface: string | null;
  first_sound: boolean;
}

/** A case and a supply of a usual size: common practice, no source. */
export const FIRST: Answers = {
  name: "",
  tempo_bpm: 120,
  rows: [{ hp: 84, depth_mm: 50 }],
  rails_ma: { "+12V": 2000, "-12V": 1200, "+5V": 500 },
  counts: {},
  controller: null,
  interface: "interface-2",
  first_sound: true,
};

const KEY = "rigproof-begin";

/** Return the answers that were kept, the first ones where there are none or they cannot be read. */
export function kept(store: Pick<Storage, "getItem">): Answers {
  try {
    const read: unknown = JSON.parse(store.getItem(KEY) ?? "null");
    if (read !== null && typeof read === "object" && !Array.isArray(read)) {
      const answers = { ...FIRST, ...(read as Partial<Answers>) };
      if (Array.isArray(answers.rows) && answers.rows.length > 0) return answers;
    }
  } catch {
    // Whatever stood there is no answer.
  }
  return structuredClone(FIRST);
}

export const keep = (store: Pick<Storage, "setItem">, answers: Answers): void =>
  store.setItem(KEY, JSON.stringify(answers));

export const forget = (store: Pick<Storage, "removeItem">): void => store.removeItem(KEY);

/** Return the modules, one entry each, in the order in which they were first taken. */
export const modulesOf = (counts: Record<string, number>): string[] =>
  Object.entries(counts).flatMap(([name, count]) => Array.from({ length: count }, () => name));

/** Return the counts with one more or one less of a module; none of it is not there at all. */
export function counted(
  counts: Record<string, number>,
  name: string,
  by: 1 | -1,
): Record<string, number> {
  const next = Math.max(0, (counts[name] ?? 0) + by);
  if (next > 0) return { ...counts, [name]: next };
  return Object.fromEntries(Object.entries(counts).filter(([other]) => other !== name));
}

/** Return what is sent to begin with. */
export function wanted(answers: Answers): Beginning {
  return {
    start: "owned",
    ...(answers.name.trim() === "" ? {} : { name: answers.name.trim() }),
    rows: answers.rows.map(({ hp, depth_mm }) => ({ hp, depth_mm })),
    rails_ma: Object.fromEntries(Object.entries(answers.rails_ma).filter(([, ma]) => ma > 0)),
    tempo_bpm: answers.tempo_bpm,
    modules: modulesOf(answers.counts),
    controller: answers.controller,
    interface: answers.interface,
    first_sound: answers.first_sound,
  };
}

/** What a first sound asks of a rig; `has` says whether it is there. */
export interface Need {
  words: string;
  has: boolean;
}

/** Section kinds that make a sound by themselves; a sampler needs sound files first. */
const VOICES = new Set([
  "oscillator",
  "fm-oscillator",
  "wavetable-oscillator",
  "noise",
  "kick-drum",
  "snare-drum",
  "hi-hat",
  "clap",
]);

/** Return what is still missing for a first sound, as far as the sheets in short can tell. */
export function needsOf(answers: Answers, sheets: readonly LibrarySheet[]): Need[] {
  const mine = sheets.filter((sheet) => (answers.counts[sheet.name] ?? 0) > 0);
  return [
    {
      words: "something that sounds by itself: an oscillator, noise or drums",
      has: mine.some((sheet) => sheet.kinds.some((kind) => VOICES.has(kind))),
    },
    { words: "a way out: an interface or a desk", has: answers.interface !== null },
  ];
}

/** Whether clocks or rhythms of the rig's own will drive the sound; without one it may be a steady tone. */
export const hasPulse = (answers: Answers, sheets: readonly LibrarySheet[]): boolean =>
  sheets.some(
    (sheet) =>
      (answers.counts[sheet.name] ?? 0) > 0 &&
      (sheet.signals.out.includes("clock") || sheet.signals.out.includes("trigger")),
  );

export interface Told {
  line: string;
  /** Cables and settings that belong to the line. */
  parts: string[];
}

/** Return what was made as an outline: cables and settings stand below the line that announces them. */
export function outlined(lines: readonly string[]): Told[] {
  const told: Told[] = [];
  for (const line of lines) {
    const last = told.at(-1);
    const isPart = /^(set )?\S+\.\S+ to \S+/.test(line);
    if (isPart && last?.line.endsWith(":")) last.parts.push(line);
    else told.push({ line, parts: [] });
  }
  return told;
}
