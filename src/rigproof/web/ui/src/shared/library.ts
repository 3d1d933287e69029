/** Finding a sheet among those that can be added: by words, by what it carries, does and takes up. */
import type { LibrarySheet, Signal } from "./types";

export type Order = "name" | "hp" | "draw";

export interface Wish {
  words: string;
  /** A signal at one of its jacks; empty for any. */
  signal: Signal | "";
  /** A section kind in it; empty for any. */
  kind: string;
  housings: readonly string[];
  /** No wider than this, in HP. */
  most_hp: number | null;
  /** No more from any one rail than this, in mA. */
  most_ma: number | null;
  order: Order;
}

export const ANY: Wish = {
  words: "",
  signal: "",
  kind: "",
  housings: ["module"],
  most_hp: null,
  most_ma: null,
  order: "name",
};

/** Return the most that a sheet draws from any one rail. [mA] */
export const hungriest_ma = (sheet: Pick<LibrarySheet, "draw_ma">): number =>
  Math.max(0, ...Object.values(sheet.draw_ma));

/** Return the sheets that are wished for: own ones first, then by how well the words fit, then in order. */
export function found(sheets: readonly LibrarySheet[], wish: Wish): LibrarySheet[] {
  const words = wish.words.trim().toLowerCase().split(/\s+/).filter(Boolean);
  return sheets
    .map((sheet) => ({ sheet, rank: rankOf(sheet, words) }))
    .filter(({ sheet, rank }) => rank >= 0 && fits(sheet, wish))
    .sort(
      (a, b) =>
        Number(b.sheet.is_own) - Number(a.sheet.is_own) ||
        a.rank - b.rank ||
        ORDERS[wish.order](a.sheet, b.sheet) ||
        a.sheet.name.localeCompare(b.sheet.name),
    )
    .map(({ sheet }) => sheet);
}

const ORDERS: Record<Order, (a: LibrarySheet, b: LibrarySheet) => number> = {
  name: () => 0,
  hp: (a, b) => a.hp - b.hp,
  draw: (a, b) => hungriest_ma(a) - hungriest_ma(b),
};

function fits(sheet: LibrarySheet, wish: Wish): boolean {
  if (sheet.errors > 0) return wish.signal === "" && wish.kind === "";
  return (
    wish.housings.includes(sheet.housing) &&
    (wish.signal === "" ||
      sheet.signals.in.includes(wish.signal) ||
      sheet.signals.out.includes(wish.signal)) &&
    (wish.kind === "" || sheet.kinds.includes(wish.kind)) &&
    (wish.most_hp === null || sheet.hp <= wish.most_hp) &&
    (wish.most_ma === null || hungriest_ma(sheet) <= wish.most_ma)
  );
}

/** Return 0 where all words begin its name or title, 1 where they begin a word of them, 2 elsewhere, -1 nowhere. */
function rankOf(sheet: LibrarySheet, said: readonly string[]): number {
  const near = `${sheet.name} ${sheet.title}`.toLowerCase();
  const far = `${near} ${sheet.summary} ${sheet.kinds.join(" ")}`.toLowerCase();
  const words = said.map((word) => (far.includes(word) ? word : inFull(word)));
  if (!words.every((word) => far.includes(word))) return -1;
  const first = words[0] ?? "";
  if (sheet.name.startsWith(first) || sheet.title.toLowerCase().startsWith(first)) return 0;
  return words.every((word) => new RegExp(`\\b${escaped(word)}`, "u").test(near)) ? 1 : 2;
}

/** What is said for short in the trade, and what the sheets call it; common practice, no source. */
const SHORT_FOR: Readonly<Record<string, string>> = {
  vco: "oscillator",
  vcf: "filter",
  eg: "envelope",
  lpg: "low-pass-gate",
  "s&h": "sample-and-hold",
};
const inFull = (word: string): string => (Object.hasOwn(SHORT_FOR, word) ? SHORT_FOR[word]! : word);

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");

/** Return what a sheet draws, in words. */
export function drawWords(draw_ma: Record<string, number>): string {
  const parts = Object.entries(draw_ma)
    .filter(([, ma]) => ma > 0)
    .map(([rail, ma]) => `${rail.replace("-", "−")} ${ma}`);
  return parts.length > 0 ? `${parts.join(", ")} mA` : "draws nothing";
}
