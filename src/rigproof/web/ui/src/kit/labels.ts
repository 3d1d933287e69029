/** The words on a module in the elevation: as much as stays legible, along the panel or up it. */

/** Width of a letter of the id, IBM Plex Mono: 0.6 em. */
const ID_PX = 13 * 0.6;
const TITLE_SIZE_PX = 12;
const LINE_PX = 15;
/** Widths of letters in IBM Plex Sans, in em, rounded up from the font's own: first those that fit wins. */
const WIDTHS: readonly [RegExp, number][] = [
  [/[ijl.,:;'|! ]/, 0.29],
  [/[frtI()/-]/, 0.4],
  [/[mwMW%@…]/, 0.9],
  [/[A-Z&]/, 0.68],
];
const USUAL_EM = 0.58;

/** Return about how wide a title is on the page. [px] */
export function widthOf(text: string): number {
  let em = 0;
  for (const letter of text) em += WIDTHS.find(([fits]) => fits.test(letter))?.[1] ?? USUAL_EM;
  return em * TITLE_SIZE_PX;
}

export interface Label {
  /** Whether it reads up the panel. */
  isUpright: boolean;
  /** Lines of the id, cut at its dashes. */
  id: string[];
  /** Lines of the title; none where there is no room. */
  title: string[];
}

/** Return words cut into lines that are no wider; what is left over ends in an ellipsis. */
export function wrapped(text: string, width_px: number, most: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(/\s+/).filter(Boolean)) {
    const last = lines.at(-1);
    if (last !== undefined && widthOf(`${last} ${word}`) <= width_px)
      lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  const shown = lines.slice(0, Math.max(0, most)).map((line) => narrowed(line, width_px));
  const last = shown.at(-1);
  if (lines.length > shown.length && last !== undefined && !last.endsWith("…"))
    shown[shown.length - 1] = narrowed(`${last} …`, width_px);
  return shown;
}

/** Return a title that is no wider, the last letter an ellipsis where more was there. */
export function narrowed(text: string, width_px: number): string {
  if (widthOf(text) <= width_px) return text;
  let kept = text.replace(/ ?…$/, "");
  while (kept !== "" && widthOf(`${kept}…`) > width_px) kept = kept.slice(0, -1);
  return `${kept.trimEnd()}…`;
}

/** Return an id of at most so many letters. */
const clipped = (text: string, letters: number): string =>
  text.length <= letters ? text : `${text.slice(0, Math.max(0, letters - 1))}…`;

/** Return an id in lines of at most so many letters, cut after dashes; null where that cannot be. */
export function idLines(id: string, letters: number, most: number): string[] | null {
  const lines: string[] = [];
  for (const part of id.split(/(?<=-)/)) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + part.length <= letters)
      lines[lines.length - 1] = last + part;
    else lines.push(part);
  }
  return lines.length <= most && lines.every((line) => line.length <= letters) ? lines : null;
}

/** Return the words for a module of some size on the page. [px] */
export function labelOf(id: string, title: string, width_px: number, height_px: number): Label {
  const pad = 8;
  const lines = idLines(id, Math.floor((width_px - pad) / ID_PX), 3);
  if (lines) {
    const most = Math.floor((height_px - 50) / LINE_PX) - lines.length;
    return {
      isUpright: false,
      id: lines,
      title: wrapped(title, width_px - pad, Math.min(most, 5)),
    };
  }
  const length = height_px - 36;
  return {
    isUpright: true,
    id: [clipped(id, Math.floor(length / ID_PX))],
    title: width_px >= 36 ? [narrowed(title, length)] : [],
  };
}
