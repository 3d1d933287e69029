/** A trace as a list to be read: how far each place is put in, and what is said of it. */
import type { Chosen } from "../../shared/desk.svelte";
import type { Hop, Project } from "../../shared/types";
import { after, decibels, number, swing } from "../../shared/words";
import { jackOf, sheetOf, split } from "./parts";
import { isPulses, isVolts, pulsesIn, spanWords } from "./told";

/** Return how often the way to each hop has branched: a chain stays where it is, only branches are put in. */
export function branchDepths(hops: readonly Pick<Hop, "index" | "parent">[]): number[] {
  const children = new Map<number | null, number>();
  for (const hop of hops) children.set(hop.parent, (children.get(hop.parent) ?? 0) + 1);
  const depths: number[] = [];
  for (const hop of hops) {
    const above = hop.parent === null ? 0 : (depths[hop.parent] ?? 0);
    depths.push(above + (hop.parent !== null && (children.get(hop.parent) ?? 0) > 1 ? 1 : 0));
  }
  return depths;
}

/** Return the way by which a hop is reached, in few words. */
export const wayWords = (hop: Hop): string =>
  hop.through.startsWith("line ") ? "line" : hop.through;

/** Return what is typical at a hop; the change in level is against the top of the control's travel. */
export function usualWords(hop: Hop): string {
  if (!hop.level) return "";
  if (hop.place === "ear") {
    const peak = Math.max(Math.abs(hop.level.lo_v), Math.abs(hop.level.hi_v));
    return peak > 0 ? `peak ${number(20 * Math.log10(peak), 1)} dBFS` : "nothing";
  }
  if (hop.signal !== null && isPulses(hop.signal)) return pulsesIn(hop.pulse);
  if (hop.signal !== null && !isVolts(hop.signal)) return "";
  return hop.dbu === null ? swing(hop.level) : `${number(hop.dbu, 1)} dBu`;
}

export const changeWords = (hop: Hop): string =>
  hop.change_db === null || Math.abs(hop.change_db) < 0.05 || hop.place === "ear"
    ? ""
    : `${hop.change_db > 0 ? "+" : ""}${decibels(hop.change_db)}`;

/** Return what is proved at a hop; at an ear there are numbers and no volts. */
export function provedAt(hop: Hop): string {
  if (hop.place === "ear" || !hop.span) return "";
  if (hop.signal !== null && !isVolts(hop.signal)) return "";
  return spanWords([hop.span.lo, hop.span.hi]);
}

export const afterWords = (hop: Hop): string => (hop.arrival ? after(hop.arrival) : "");

/** Return what a hop's name leads to: a jack, a control, or the module in which a section is. */
export function hopChosen(hop: Pick<Hop, "place" | "name">, project: Project): Chosen {
  const [module] = split(hop.name);
  if (hop.place === "control") return { sort: "control", name: hop.name };
  if ((hop.place === "input" || hop.place === "output") && jackOf(project, lane(hop.name)))
    return { sort: "jack", name: lane(hop.name) };
  return sheetOf(project, module) ? { sort: "module", name: module } : null;
}

/** Return the jack of a contact: `module.jack:ring` is one lane of `module.jack`. */
export const lane = (contact: string): string => contact.split(":")[0] ?? contact;
