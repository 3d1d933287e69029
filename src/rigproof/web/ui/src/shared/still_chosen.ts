/** Keeping a cable chosen while others come and go: it is chosen by its number, and numbers move up when one is pulled. */
import type { Chosen } from "./desk.svelte";
import type { Cable } from "./types";

type Ends = Pick<Cable, "source" | "target">;

/** Return what is chosen after the cables have changed; what was chosen itself where it still is the same. */
export function stillChosen(
  chosen: Chosen,
  before: readonly Ends[],
  after: readonly Ends[],
): Chosen {
  if (chosen?.sort !== "cable") return chosen;
  const old = before[chosen.index];
  if (!old) return chosen;
  const isAlike = (one: Ends | undefined): boolean =>
    one?.source === old.source && one.target === old.target;
  // The same one of those with these ends.
  const nth = before.slice(0, chosen.index).filter(isAlike).length;
  const alike = after.flatMap((one, index) => (isAlike(one) ? [index] : []));
  const index = alike[nth];
  if (index === chosen.index) return chosen;
  if (index !== undefined) return { sort: "cable", index };
  // A plug that was moved stays where it was in the list.
  return after.length === before.length ? chosen : null;
}
