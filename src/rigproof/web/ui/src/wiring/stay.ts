/** Where the blocks of a project stood last, kept in this browser so that the drawing is the one that is known. */
import type { Diagram, DrawnGroup } from "../shared/types";
import type { Spot, Spots } from "./place";
import type { Points } from "./route";
import type { View } from "./view";

export interface Stay {
  groups: DrawnGroup[];
  spots: Spots;
  folded: Set<string>;
  /** Blocks that were placed by hand. */
  byHand: Set<string>;
  /** The ways of the wires, so that they need not be found again. */
  ways: Map<string, Points>;
}

const VERSION = 4;
/** Of all modules so many must have stood somewhere, else the drawing is begun anew. */
const ENOUGH = 0.6;

const keyOf = (project: string): string => `rigproof-wiring:${project}`;

/** Return under what the drawing of a project is kept: its file, since the name in it may change at any time. */
export const keptAs = ({ folder, files }: { folder: string; files: readonly string[] }): string =>
  `${folder}/${files.find((file) => file.endsWith(".patch.toml")) ?? ""}`;

export function remember(project: string, stay: Stay): void {
  const { groups, spots, folded, byHand, ways } = stay;
  const text = JSON.stringify({
    version: VERSION,
    groups,
    spots: [...spots],
    folded: [...folded],
    byHand: [...byHand],
    ways: [...ways],
  });
  try {
    localStorage.setItem(keyOf(project), text);
  } catch {
    // A browser that keeps nothing arranges anew each time.
  }
}

/** Return how a project was drawn last; null where it was not, or too much of it has changed. */
export function recall(project: string, diagram: Diagram): Stay | null {
  let stay: Stay;
  try {
    stay = read(localStorage.getItem(keyOf(project)));
  } catch {
    return null;
  }
  const known = diagram.blocks.filter((block) => stay.spots.has(block.id)).length;
  return known >= ENOUGH * diagram.blocks.length && known > 0 ? stay : null;
}

/** Read what was kept; throws where it is not what is kept now. */
function read(text: string | null): Stay {
  const raw = JSON.parse(text ?? "null") as {
    version?: number;
    groups: DrawnGroup[];
    spots: [string, Spot][];
    folded: string[];
    byHand: string[];
    ways: [string, Spot[]][];
  } | null;
  if (raw?.version !== VERSION) throw new Error("another version");
  const spots = new Map(raw.spots);
  const ways = new Map(raw.ways);
  const isWhole =
    [...spots.values(), ...[...ways.values()].flat()].every(
      ({ x, y }) => Number.isFinite(x) && Number.isFinite(y),
    ) &&
    raw.groups.every((group) => typeof group.name === "string" && Array.isArray(group.modules));
  if (!isWhole) throw new Error("not whole");
  return {
    groups: raw.groups,
    spots,
    folded: new Set(raw.folded),
    byHand: new Set(raw.byHand),
    ways,
  };
}

const viewKeyOf = (project: string): string => `rigproof-wiring-view:${project}`;

/** Keep how a drawing is looked at; null where it is shown whole. */
export function rememberView(project: string, view: View | null): void {
  try {
    if (view) localStorage.setItem(viewKeyOf(project), JSON.stringify(view));
    else localStorage.removeItem(viewKeyOf(project));
  } catch {
    // A browser that keeps nothing shows it whole each time.
  }
}

/** Return how a drawing was looked at last; null where it was shown whole, or nothing is known. */
export function recallView(project: string): View | null {
  try {
    const raw = JSON.parse(localStorage.getItem(viewKeyOf(project)) ?? "null") as View | null;
    const { x, y, scale } = raw ?? {};
    return [x, y, scale].every(Number.isFinite) ? raw : null;
  } catch {
    return null;
  }
}
