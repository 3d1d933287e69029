/** What goes with a module, controller or interface that leaves the rig: everything that names it. */
import type { Edit, Project } from "../shared/types";

export interface Removal {
  /** All edits, in an order in which each finds what it names. */
  edits: Edit[];
  /** What goes with it, in words. */
  takes: string[];
  /** Why it cannot go; empty where it can. */
  stuck: string;
}

/** Return what must be done so that a thing can leave the rig, and with it. */
export function removalOf(project: Project, id: string): Removal {
  const { patch, set, rig } = project;
  const edits: Edit[] = [];
  const takes: string[] = [];
  const isOf = (name: string): boolean => name.startsWith(`${id}.`);

  for (const cable of patch?.cables ?? []) {
    if (!isOf(cable.source) && !isOf(cable.target)) continue;
    // Cables with the same ends go one after the other, each time the first that is left.
    edits.push({ do: "remove-cable", source: cable.source, target: cable.target, nth: 0 });
    takes.push(`cable ${cable.source} to ${cable.target}`);
  }
  const mapsOf: Record<string, number> = {};
  for (const link of patch?.maps ?? []) {
    const nth = mapsOf[link.control] ?? 0;
    const rest = link.to.filter((name) => !isOf(name));
    if (isOf(link.control) || (rest.length === 0 && link.to.length > 0)) {
      edits.push({ do: "remove-map", control: link.control, nth });
      takes.push(`mapping of ${link.control} to ${link.to.join(", ") || `CC ${link.cc}`}`);
      continue;
    }
    if (rest.length < link.to.length) {
      edits.push({ do: "set-map-targets", control: link.control, to: rest, nth });
      takes.push(`part of the mapping of ${link.control}`);
    }
    mapsOf[link.control] = nth + 1;
  }
  const settings = (patch?.settings ?? []).filter((one) => isOf(one.control));
  for (const { control } of settings) edits.push({ do: "forget-control", control });
  if (settings.length > 0) takes.push(counted(settings.length, "setting"));
  for (const { slot } of (patch?.rhythms ?? []).filter((one) => isOf(one.slot))) {
    edits.push({ do: "remove-rhythm", slot });
    takes.push(`rhythm ${slot}`);
  }
  for (const { slot } of (patch?.samples ?? []).filter((one) => isOf(one.slot))) {
    edits.push({ do: "set-samples", slot, files: [] });
    takes.push(`samples in ${slot}`);
  }
  for (const passage of set?.sections ?? []) {
    const starts = passage.settings.filter((one) => isOf(one.control));
    for (const { control } of starts)
      edits.push({ do: "forget-passage-control", passage: passage.id, control });
    if (starts.length > 0)
      takes.push(`${counted(starts.length, "setting")} at the start of ${passage.id}`);
    let moves = 0;
    for (let index = passage.moves.length - 1; index >= 0; index--) {
      if (!isOf(passage.moves[index]?.control ?? "")) continue;
      edits.push({ do: "remove-move", passage: passage.id, index });
      moves += 1;
    }
    if (moves > 0) takes.push(`${counted(moves, "move")} in ${passage.id}`);
  }
  const isMounted = (rig?.modules ?? []).some((module) => module.id === id);
  edits.push(isMounted ? { do: "remove-module", module: id } : { do: "remove-outside", id });
  const inside = (project.insides as { host?: string }[]).some((one) => one.host === id);
  return {
    edits,
    takes,
    stuck: inside ? `A patch runs inside ${id}: take it out of the patch's file first.` : "",
  };
}

const counted = (count: number, word: string): string =>
  count === 1 ? `1 ${word}` : `${count} ${word}s`;
