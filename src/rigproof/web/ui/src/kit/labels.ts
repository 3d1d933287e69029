/** The words on a module in the elevation: as much as stays legible, along the panel or up it. */

/** Widths of a letter at the sizes used: IBM Plex Mono is 0.6 em wide, IBM Plex Sans about 0.52 em on average. */
const ID_PX = 13 * 0.6;
const TITLE_PX = 12 * 0.55;
const LINE_PX = 15;

export interface Label {
  /** Whether it reads up the panel. */
  isUpright: boolean;
  id: string;
  /** Lines of the title; none where there is no room. */
  title: string[];
}

/** Return words cut into lines of at most so many letters; what is left over ends in an ellipsis. */
export function wrapped(text: string, letters: number, most: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(/\s+/).filter(Boolean)) {
    const last = lines.at(-1);
    if (last !== undefined && `${last} ${word}`.length <= letters)
      lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  const shown = lines.slice(0, Math.max(0, most)).map((line) => clipped(line, letters));
  const last = shown.at(-1);
  if (lines.length > shown.length && last !== undefined && !last.endsWith("…"))
    shown[shown.length - 1] =
      last.length + 2 <= letters ? `${last} …` : `${last.slice(0, letters - 1)}…`;
  return shown;
}

/** Return a text of at most so many letters, the last an ellipsis where more was there. */
export const clipped = (text: string, letters: number): string =>
  text.length <= letters ? text : `${text.slice(0, Math.max(0, letters - 1)).trimEnd()}…`;

/** Return the words for a module of some size on the page. [px] */
export function labelOf(id: string, title: string, width_px: number, height_px: number): Label {
  const pad = 8;
  if (id.length * ID_PX + pad <= width_px) {
    const letters = Math.floor((width_px - pad) / TITLE_PX);
    const most = Math.floor((height_px - 64) / LINE_PX);
    return { isUpright: false, id, title: wrapped(title, letters, Math.min(most, 5)) };
  }
  const length = height_px - 36;
  return {
    isUpright: true,
    id: clipped(id, Math.floor(length / ID_PX)),
    title: width_px >= 36 ? [clipped(title, Math.floor(length / TITLE_PX))] : [],
  };
}
