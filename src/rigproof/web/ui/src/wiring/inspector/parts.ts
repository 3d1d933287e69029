/** What of the project belongs to a module, a jack, a cable or a control. */
import type { Chosen } from "../../shared/desk.svelte";
import { spotsOf } from "../../shared/spots";
import type {
  Cable,
  ControlSheet,
  Filling,
  Finding,
  Jack,
  JackReading,
  MapLink,
  Project,
  Raw,
  Sheet,
  Slot,
} from "../../shared/types";

/** Return the two parts of `module.thing`. */
export function split(name: string): [module: string, thing: string] {
  const at = name.indexOf(".");
  return at < 0 ? [name, ""] : [name.slice(0, at), name.slice(at + 1)];
}

/** Return every thing of the rig with the name of its sheet: modules, what stands beside the case, programs. */
export function things(project: Project): { id: string; sheet: string }[] {
  const { rig } = project;
  return rig ? [...rig.modules, ...rig.outside, ...rig.programs] : [];
}

export function sheetOf(project: Project, module: string): Sheet | null {
  const found = things(project).find((one) => one.id === module);
  return (found && project.sheets[found.sheet]) ?? null;
}

export function jackOf(project: Project, name: string): Jack | null {
  const [module, jack] = split(name);
  return sheetOf(project, module)?.jacks[jack] ?? null;
}

export function controlSheetOf(project: Project, name: string): ControlSheet | null {
  const [module, control] = split(name);
  return sheetOf(project, module)?.controls[control] ?? null;
}

/** A plug in a jack: the cable, and the jack at its other end. */
export interface Plugged {
  index: number;
  cable: Cable;
  other: string;
}

/** Return the cables in a jack, in the order of the patch. */
export function pluggedIn(project: Project, jack: string): Plugged[] {
  return (project.patch?.cables ?? []).flatMap((cable, index) => {
    if (cable.source === jack) return [{ index, cable, other: cable.target }];
    if (cable.target === jack) return [{ index, cable, other: cable.source }];
    return [];
  });
}

/** Return how many cables with the same ends stand before this one: so an edit tells them apart. */
export function nthOf(cables: readonly Cable[], index: number): number {
  const cable = cables[index];
  return cables
    .slice(0, index)
    .filter((one) => one.source === cable?.source && one.target === cable.target).length;
}

/** Return the fields by which an edit names a cable. */
export function cableName(
  cables: readonly Cable[],
  index: number,
): { source: string; target: string; nth: number } | null {
  const cable = cables[index];
  return cable ? { source: cable.source, target: cable.target, nth: nthOf(cables, index) } : null;
}

/** A mapping, and how many mappings of the same control stand before it. */
export interface Mapping {
  index: number;
  nth: number;
  link: MapLink;
}

export function mappings(project: Project): Mapping[] {
  const seen = new Map<string, number>();
  return (project.patch?.maps ?? []).map((link, index) => {
    const nth = seen.get(link.control) ?? 0;
    seen.set(link.control, nth + 1);
    return { index, nth, link };
  });
}

/** Return the mappings that a module sends or hears. */
export const mappingsOf = (project: Project, module: string): Mapping[] =>
  mappings(project).filter(
    ({ link }) =>
      split(link.control)[0] === module || link.to.some((slot) => split(slot)[0] === module),
  );

/** Return the readings of a jack by lane, in the order of its sheet. */
export function lanesOf(
  readings: Readonly<Record<string, JackReading>>,
  name: string,
): { lane: string; key: string; reading: JackReading }[] {
  const [module, jack] = split(name);
  return Object.entries(readings)
    .filter(([, one]) => one.module === module && one.jack === jack)
    .map(([key, reading]) => ({ lane: reading.lane, key, reading }));
}

/** What a slot's section can be told, as far as the controls of the module do not tell it already. */
export interface SlotView {
  slot: Slot;
  name: string;
  sections: string[];
  kinds: string[];
  filling: Filling | null;
  /** Controls of the module that turn something of the same sections. */
  controls: string[];
}

/** Return the slots of a module that a patch fills with rhythms or samples. */
export function slotsOf(project: Project, module: string): SlotView[] {
  const sheet = sheetOf(project, module);
  if (!sheet) return [];
  return Object.values(sheet.slots)
    .filter((slot) => slot.takes !== "cc")
    .map((slot) => {
      const name = `${module}.${slot.id}`;
      const sections = (slot.sections as string[] | undefined) ?? [];
      const list = slot.takes === "rhythm" ? project.patch?.rhythms : project.patch?.samples;
      return {
        slot,
        name,
        sections,
        kinds: sections.map((section) => sheet.sections[section]?.kind ?? ""),
        filling: list?.find((one) => one.slot === name) ?? null,
        controls: Object.values(sheet.controls)
          .filter((control) => control.sets.some((set) => sections.includes(split(set)[0])))
          .map((control) => control.id),
      };
    });
}

/** Return what is written in a slot. */
export const valuesOf = (view: SlotView): Readonly<Record<string, Raw>> =>
  view.filling?.values ?? {};

/** Return the controls of the rig that send messages: what a mapping can begin at. */
export function sendingControls(project: Project): string[] {
  return things(project).flatMap(({ id, sheet }) => {
    const found = project.sheets[sheet];
    if (!found) return [];
    return Object.values(found.controls)
      .filter((control) =>
        control.sets.some((set) => found.sections[split(set)[0]]?.kind === "cc-sender"),
      )
      .map((control) => `${id}.${control.id}`);
  });
}

/** Return the slots of the rig that listen to a controller number. */
export function listeningSlots(project: Project): string[] {
  return things(project).flatMap(({ id, sheet }) =>
    Object.values(project.sheets[sheet]?.slots ?? {})
      .filter((slot) => slot.takes === "cc")
      .map((slot) => `${id}.${slot.id}`),
  );
}

/**
 * Return the lowest controller number that nothing sends on a channel, from those that MIDI leaves to anybody first.
 * Source: MIDI 1.0 Detailed Specification, Table III (from memory): 20 to 31 and 102 to 119 are undefined.
 */
export function freeCc(maps: readonly MapLink[], channel: number): number {
  const taken = new Set(maps.filter((map) => map.channel === channel).map((map) => map.cc));
  const among = (lo: number, hi: number): number[] =>
    Array.from({ length: hi - lo + 1 }, (_, i) => lo + i);
  const order = [...among(20, 31), ...among(102, 119), ...among(0, 119)];
  return order.find((cc) => !taken.has(cc)) ?? 119;
}

/** Return the findings that speak of what is chosen; declined ones are left out. */
export function findingsOf(
  findings: readonly Finding[],
  chosen: Chosen,
  project: Project,
): Finding[] {
  if (chosen === null) return [];
  return findings.filter((finding) => {
    if (finding.declined !== null) return false;
    if (chosen.sort === "finding")
      return finding.finding === chosen.finding && finding.at === chosen.at;
    const spots = spotsOf(finding.at, finding.family, project);
    return spots.some(({ chosen: spot }) => {
      if (spot === null || spot.sort === "finding") return false;
      if (spot.sort === "cable") return chosen.sort === "cable" && spot.index === chosen.index;
      if (chosen.sort === "cable") return false;
      if (chosen.sort === "module") return split(spot.name)[0] === chosen.name;
      return spot.sort === chosen.sort && spot.name === chosen.name;
    });
  });
}

/** Where in the set a control is set or moved, a line each. */
export function inTheSet(project: Project, control: string): string[] {
  return (project.set?.sections ?? []).flatMap((passage) => {
    const title = passage.title || passage.id;
    const set = passage.settings.some((setting) => setting.control === control);
    const moves = passage.moves.filter((move) => move.control === control).length;
    return [
      ...(set ? [`${title}: set when it begins`] : []),
      ...(moves > 0 ? [`${title}: ${moves === 1 ? "one move" : `${moves} moves`}`] : []),
    ];
  });
}
