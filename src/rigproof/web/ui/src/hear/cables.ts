/** Cables by name, so that a choice among them outlives a change of their order. */
import type { Chosen } from "../shared/desk.svelte";
import type { Cable } from "../shared/types";

type Ends = Pick<Cable, "source" | "target">;

/** Return a name for every cable: its ends, numbered where several have the same. */
export function cableKeys(cables: readonly Ends[]): string[] {
  const seen = new Map<string, number>();
  return cables.map(({ source, target }) => {
    const name = `${source} to ${target}`;
    const count = (seen.get(name) ?? 0) + 1;
    seen.set(name, count);
    return count === 1 ? name : `${name}, no. ${count}`;
  });
}

/** Return where the named cables stand in the patch now; names that are gone are left out. */
export function withoutIndices(cables: readonly Ends[], keys: readonly string[]): number[] {
  const all = cableKeys(cables);
  return keys.map((key) => all.indexOf(key)).filter((index) => index >= 0);
}

/** Return the names that fit what was typed, those first that belong to what is chosen in the diagram. */
export function cablesFor(
  cables: readonly Ends[],
  typed: string,
  chosen: Chosen,
): { key: string; index: number; isChosen: boolean }[] {
  const keys = cableKeys(cables);
  const words = typed.toLowerCase().split(/\s+/).filter(Boolean);
  const rows = keys.map((key, index) => ({
    key,
    index,
    isChosen: isOf(cables[index], index, chosen),
  }));
  return rows
    .filter((row) => words.every((word) => row.key.toLowerCase().includes(word)))
    .sort((a, b) => Number(b.isChosen) - Number(a.isChosen) || a.index - b.index);
}

function isOf(cable: Ends | undefined, index: number, chosen: Chosen): boolean {
  if (!cable || chosen === null) return false;
  switch (chosen.sort) {
    case "cable":
      return chosen.index === index;
    case "jack":
      return cable.source === chosen.name || cable.target === chosen.name;
    case "module":
      return [cable.source, cable.target].some((end) => end.split(".")[0] === chosen.name);
    default:
      return false;
  }
}
