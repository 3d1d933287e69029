/** From the place of a finding, as the server names it, to what can be shown of it, and where. */
import type { Chosen } from "./desk.svelte";
import { AT_THE_CASE } from "./families";
import type { Project } from "./types";

export interface Spot {
  words: string;
  chosen: Chosen;
  place: "wiring" | "kit";
}

/**
 * Return everything of the rig that a place names, in the order in which it is named: `a.b to c.d` is a cable and two
 * jacks, `spread and vcas` two modules, `+12V` the case. A section inside a module leads to its module.
 */
export function spotsOf(at: string, family: string, project: Project): Spot[] {
  const modules = new Set(
    [...(project.rig?.modules ?? []), ...(project.rig?.outside ?? [])].map((one) => one.id),
  );
  const spots: Spot[] = [];
  const add = (spot: Spot): void => {
    if (!spots.some((one) => one.words === spot.words)) spots.push(spot);
  };
  const cable = cableAt(at, project);
  if (cable >= 0)
    add({ words: "the cable", chosen: { sort: "cable", index: cable }, place: "wiring" });
  for (const name of at.match(/[a-z0-9][a-z0-9-]*(\.[a-z0-9-]+)*/g) ?? []) {
    const [module = "", part = ""] = name.split(".");
    if (!modules.has(module)) continue;
    const sheet = sheetOf(module, project);
    const jack = `${module}.${part}`;
    if (part !== "" && sheet?.jacks[part])
      add({ words: jack, chosen: { sort: "jack", name: jack }, place: "wiring" });
    else if (part !== "" && jack in project.controls)
      add({ words: jack, chosen: { sort: "control", name: jack }, place: "wiring" });
    else
      add({
        words: module,
        chosen: { sort: "module", name: module },
        place: AT_THE_CASE.has(family) ? "kit" : "wiring",
      });
  }
  if (spots.length === 0 && (AT_THE_CASE.has(family) || at === "supply"))
    add({ words: "the case", chosen: null, place: "kit" });
  return spots;
}

function sheetOf(module: string, project: Project): Project["sheets"][string] | undefined {
  const things = [...(project.rig?.modules ?? []), ...(project.rig?.outside ?? [])];
  return project.sheets[things.find((one) => one.id === module)?.sheet ?? ""];
}

function cableAt(at: string, project: Project): number {
  const [source, target] = at.split(" to ");
  if (source === undefined || target === undefined) return -1;
  return (project.patch?.cables ?? []).findIndex(
    (cable) => cable.source === source && cable.target === target,
  );
}
