/** Rhythms as a patch writes them: letters, or hits, steps and rotation; and the lists that go with them. */
import type { Raw } from "../../shared/types";

export type Step = "rest" | "hit" | "accent";

export const MOST_STEPS = 64;
export const MOST_NOTES = 64;
const LETTER: Record<string, Step> = { ".": "rest", "-": "rest", x: "hit", X: "accent" };
const WRITTEN: Record<Step, string> = { rest: ".", hit: "x", accent: "X" };
/** Letters that only help the eye. */
const SPACERS = " |";

/** Return the steps of a written rhythm; null where it is none. */
export function stepsOf(text: string): Step[] | null {
  const steps: Step[] = [];
  for (const letter of text) {
    if (SPACERS.includes(letter)) continue;
    const step = LETTER[letter];
    if (step === undefined) return null;
    steps.push(step);
  }
  return steps.length <= MOST_STEPS ? steps : null;
}

/** Return a rhythm with one step otherwise; spaces and bars that the performer has put in stay. */
export function withStep(text: string, index: number, step: Step): string {
  let seen = -1;
  let found = "";
  for (const letter of text) {
    if (!SPACERS.includes(letter)) seen += 1;
    found += seen === index && !SPACERS.includes(letter) ? WRITTEN[step] : letter;
  }
  return found;
}

/** What a touch makes of a step: a rest a hit, anything else a rest. With accents, a hit becomes an accent first. */
export function touched(step: Step, withAccents: boolean): Step {
  if (step === "rest") return "hit";
  return step === "hit" && withAccents ? "accent" : "rest";
}

/** Return a rhythm with so many steps: cut at its end, or with rests put there. */
export function resized(text: string, count: number): string {
  const wanted = Math.min(MOST_STEPS, Math.max(1, Math.round(count)));
  let seen = 0;
  let found = "";
  for (const letter of text) {
    if (!SPACERS.includes(letter)) {
      if (seen === wanted) break;
      seen += 1;
    }
    found += letter;
  }
  return (
    (seen < wanted ? found : found.trimEnd().replace(/[ |]+$/, "")) + ".".repeat(wanted - seen)
  );
}

/** Return steps in letters. */
export const lettersOf = (steps: readonly Step[]): string =>
  steps.map((step) => WRITTEN[step]).join("");

/**
 * Return so many hits spread over steps as evenly as whole steps allow, moved left by `rotation`. Groups of the second
 * list are appended to groups of the first, leftovers become the second list, until at most one is left.
 * Source: G. Toussaint, The Euclidean Algorithm Generates Traditional Musical Rhythms, Proc. BRIDGES 2005, pp. 47-56.
 */
export function euclidean(hits: number, steps: number, rotation = 0): Step[] {
  if (hits <= 0) return Array<Step>(steps).fill("rest");
  if (hits >= steps) return Array<Step>(steps).fill("hit");
  let first: Step[][] = Array.from({ length: hits }, () => ["hit"]);
  let second: Step[][] = Array.from({ length: steps - hits }, () => ["rest"]);
  while (second.length > 1) {
    const joined = Math.min(first.length, second.length);
    const left = first.length > joined ? first.slice(joined) : second.slice(joined);
    first = first.slice(0, joined).map((group, i) => [...group, ...(second[i] ?? [])]);
    second = left;
  }
  const flat = [...first, ...second].flat();
  const turn = ((rotation % steps) + steps) % steps;
  return [...flat.slice(turn), ...flat.slice(0, turn)];
}

export interface Euclid {
  hits: number;
  steps: number;
  rotation: number;
}

/** Return hits, steps and rotation as they are written; null where they are none. */
export function euclidOf(raw: Raw | undefined): Euclid | null {
  if (!Array.isArray(raw) || raw.length < 2 || raw.length > 3) return null;
  const [hits, steps, rotation = 0] = raw;
  if (![hits, steps, rotation].every((part) => Number.isInteger(part))) return null;
  const found = { hits: Number(hits), steps: Number(steps), rotation: Number(rotation) };
  return found.steps >= 1 &&
    found.steps <= MOST_STEPS &&
    found.hits >= 0 &&
    found.hits <= found.steps
    ? found
    : null;
}

/** Return hits, steps and rotation with one of them otherwise, each held where it can be. */
export function withPart(euclid: Euclid, part: keyof Euclid, value: number): Euclid {
  const whole = Math.round(value);
  const next = { ...euclid, [part]: whole };
  next.steps = Math.min(MOST_STEPS, Math.max(1, next.steps));
  next.hits = Math.min(next.steps, Math.max(0, next.hits));
  return next;
}

/** What counts in a slot: letters where any are written, else hits, steps and rotation. */
export function shownSteps(values: Readonly<Record<string, Raw>>, usual: Euclid): Step[] {
  const letters = typeof values.steps === "string" ? stepsOf(values.steps) : null;
  if (letters && letters.length > 0) return letters;
  const { hits, steps, rotation } = euclidOf(values.euclid) ?? usual;
  return euclidean(hits, steps, rotation);
}

const NOTE = /^([A-Ga-g])([#b]?)(-?\d+)$/;
const SEMITONES: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** Return the volts of a note, C4 being 0 V, or of a number of semitones; null where it is neither. */
export function noteVolts(raw: Raw): number | null {
  if (typeof raw === "number") return raw / 12;
  const match = typeof raw === "string" ? NOTE.exec(raw) : null;
  if (!match) return null;
  const [, letter = "C", sign = "", octave = "4"] = match;
  const semitone =
    (SEMITONES[letter.toUpperCase()] ?? 0) + (sign === "#" ? 1 : sign === "b" ? -1 : 0);
  return Number(octave) - 4 + semitone / 12;
}

const SHARP = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const FLAT = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];

/** Return a note so many semitones higher, written as it was: a number, or a name with sharps or flats. */
export function transposed(raw: Raw, semitones: number): Raw {
  if (typeof raw === "number") return raw + semitones;
  const volts = noteVolts(raw);
  if (volts === null) return raw;
  const whole = Math.round(volts * 12) + semitones;
  const names = typeof raw === "string" && raw.slice(1).includes("b") ? FLAT : SHARP;
  return `${names[((whole % 12) + 12) % 12] ?? "C"}${Math.floor(whole / 12) + 4}`;
}

/** Return a list of so many: cut at its end, or with its last one again. */
export function listOf(list: readonly Raw[], count: number, usual: Raw): Raw[] {
  const wanted = Math.min(MOST_NOTES, Math.max(1, Math.round(count)));
  return Array.from({ length: wanted }, (_, i) => list[i] ?? list[list.length - 1] ?? usual);
}

export type Read<T> = { values: T[]; wrong: null } | { values: null; wrong: string };

function listed<T extends Raw>(
  text: string,
  most: number,
  read: (word: string) => T | null,
  expected: string,
): Read<T> {
  const words = text.split(/[\s,]+/).filter(Boolean);
  if (words.length > most) return { values: null, wrong: `at most ${most}` };
  const values: T[] = [];
  for (const word of words) {
    const value = read(word);
    if (value === null) return { values: null, wrong: `'${word}' is none: ${expected}` };
    values.push(value);
  }
  return { values, wrong: null };
}

const numberOf = (word: string): number | null => {
  const value = Number(word.replace("−", "-"));
  return Number.isFinite(value) ? value : null;
};

/** How the lists that a slot takes are written and read, by the name of the option. */
export const LISTS: Record<string, { read: (text: string) => Read<Raw>; expected: string }> = {
  notes: list(MOST_NOTES, "notes such as D2, F#2, Bb1, or semitones above C4", (word) => {
    const raw = numberOf(word) ?? word;
    return noteVolts(raw) === null ? null : raw;
  }),
  volts: list(MOST_NOTES, "volts such as 0, 0.5, -1", numberOf),
  chances: list(MOST_STEPS, "chances from 0 to 1, one a step, such as 1, 0.5", (word) => {
    const value = numberOf(word);
    return value !== null && value >= 0 && value <= 1 ? value : null;
  }),
  ratchets: list(MOST_STEPS, "whole numbers from 1 to 8, one a step, such as 1, 1, 3", (word) => {
    const value = numberOf(word);
    return value !== null && Number.isInteger(value) && value >= 1 && value <= 8 ? value : null;
  }),
  conditions: list(
    MOST_STEPS,
    "always, first, not-first, previous, not-previous, or the second of every four turns as 2:4",
    (word) => {
      if (/^(always|(not-)?(first|previous))$/.test(word)) return word;
      const [a, b] = (/^(\d{1,2}):(\d{1,2})$/.exec(word) ?? []).slice(1).map(Number);
      return a !== undefined && b !== undefined && a >= 1 && a <= b && b <= 16 ? word : null;
    },
  ),
};

function list<T extends Raw>(
  most: number,
  expected: string,
  read: (word: string) => T | null,
): { read: (text: string) => Read<Raw>; expected: string } {
  return { expected, read: (text) => listed(text, most, read, expected) };
}

/** Return a list as it is typed. */
export const listText = (raw: Raw | undefined): string =>
  Array.isArray(raw) ? raw.map(String).join(", ") : "";
