/**
 * Which blocks of a group stand in which column, and in which order from the top: what flows from one to another stands
 * to its left, and few wires cross.
 *
 * Columns by the longest way, order by the mean of the neighbours' places (K. Sugiyama, S. Tagawa, M. Toda, "Methods for
 * visual understanding of hierarchical system structures", 1981).
 */

/** A wire from block to block. */
export interface Link {
  from: string;
  to: string;
}

const SWEEPS = 8;

/** Return the links without those that lead back to where the flow came from, and without what stays in one block. */
export function forwardOnly<L extends Link>(ids: readonly string[], links: readonly L[]): L[] {
  const next = groupBy(links, (link) => link.from);
  const state = new Map<string, "open" | "done">();
  const back = new Set<L>();
  const visit = (id: string): void => {
    state.set(id, "open");
    for (const link of next.get(id) ?? []) {
      const there = state.get(link.to);
      if (there === "open") back.add(link);
      else if (there === undefined) visit(link.to);
    }
    state.set(id, "done");
  };
  // From what nothing flows into first: only true loops are cut then.
  const into = new Set(links.filter(({ from, to }) => from !== to).map((link) => link.to));
  for (const id of [...ids.filter((one) => !into.has(one)), ...ids]) {
    if (!state.has(id)) visit(id);
  }
  return links.filter((link) => !back.has(link));
}

/** Return the column of every block: one to the right of all that flows into it, and as near to what it feeds. */
export function ranksOf(ids: readonly string[], links: readonly Link[]): Map<string, number> {
  const forward = forwardOnly(ids, links);
  const into = groupBy(forward, (link) => link.to);
  const outOf = groupBy(forward, (link) => link.from);
  const ranks = new Map<string, number>();
  const rank = (id: string): number => {
    const known = ranks.get(id);
    if (known !== undefined) return known;
    const found = Math.max(-1, ...(into.get(id) ?? []).map((link) => rank(link.from))) + 1;
    ranks.set(id, found);
    return found;
  };
  ids.forEach(rank);
  const byRank = ids.toSorted((a, b) => rank(b) - rank(a));
  for (const id of byRank) {
    const fed = (outOf.get(id) ?? []).map((link) => rank(link.to));
    // What is fed by nothing moves to what it feeds.
    if (fed.length > 0 && !into.has(id)) ranks.set(id, Math.min(...fed) - 1);
  }
  return ranks;
}

/** Return the columns from left to right, each from the top down; blocks that no wire joins to others fill up the shortest. */
export function columnsOf(
  ids: readonly string[],
  links: readonly Link[],
  heightOf: (id: string) => number,
): string[][] {
  const ranks = ranksOf(ids, links);
  const joined = new Set(links.flatMap(({ from, to }) => (from === to ? [] : [from, to])));
  const columns: string[][] = [];
  for (const id of ids.filter((one) => joined.has(one))) {
    (columns[ranks.get(id) ?? 0] ??= []).push(id);
  }
  const found = inOrder(
    Array.from(columns, (column) => column ?? []).filter((column) => column.length > 0),
    links,
  );
  const loose = ids.filter((one) => !joined.has(one));
  if (found.length === 0) return loose.length > 0 ? [loose] : [];
  const tall = found.map((column) => column.reduce((sum, id) => sum + heightOf(id), 0));
  for (const id of loose) {
    const at = tall.indexOf(Math.min(...tall));
    found[at]?.push(id);
    tall[at] = (tall[at] ?? 0) + heightOf(id);
  }
  return found;
}

/** Return the columns with the blocks of each put where those stand that they are wired to. */
export function inOrder(columns: readonly string[][], links: readonly Link[]): string[][] {
  let best = columns.map((column) => [...column]);
  let least = crossings(best, links);
  const now = best.map((column) => [...column]);
  for (let sweep = 0; sweep < SWEEPS && least > 0; sweep += 1) {
    const order = sweep % 2 === 0 ? now.keys() : [...now.keys()].reverse();
    for (const at of order) {
      const places = placesOf(now);
      const column = now[at] ?? [];
      const mean = new Map(column.map((id) => [id, meanPlace(id, at, links, places)]));
      column.sort(
        (a, b) => (mean.get(a) ?? 0) - (mean.get(b) ?? 0) || place(places, a) - place(places, b),
      );
    }
    const count = crossings(now, links);
    if (count < least) {
      least = count;
      best = now.map((column) => [...column]);
    }
  }
  return best;
}

interface Place {
  column: number;
  /** From 0 at the top to 1. */
  part: number;
}

const placesOf = (columns: readonly string[][]): Map<string, Place> =>
  new Map(
    columns.flatMap((column, at) =>
      column.map((id, row) => [id, { column: at, part: (row + 0.5) / column.length }]),
    ),
  );

const place = (places: ReadonlyMap<string, Place>, id: string): number => places.get(id)?.part ?? 0;

function meanPlace(
  id: string,
  column: number,
  links: readonly Link[],
  places: ReadonlyMap<string, Place>,
): number {
  const others = links.flatMap(({ from, to }) => {
    const other = from === id ? to : to === id ? from : null;
    const there = other === null ? undefined : places.get(other);
    return there && there.column !== column ? [there.part] : [];
  });
  if (others.length === 0) return place(places, id);
  return others.reduce((sum, one) => sum + one, 0) / others.length;
}

/** Return how many pairs of wires cross between the columns, as far as the order alone tells. */
export function crossings(columns: readonly string[][], links: readonly Link[]): number {
  const places = placesOf(columns);
  const lines = links.flatMap(({ from, to }) => {
    const ends = [places.get(from), places.get(to)].flatMap((one) => (one ? [one] : []));
    const [a, b] = ends.toSorted((one, other) => one.column - other.column);
    return a && b && a.column !== b.column ? [[a, b] as const] : [];
  });
  let count = 0;
  lines.forEach(([a, b], index) => {
    for (const [c, d] of lines.slice(index + 1)) {
      if (a.column !== c.column || b.column !== d.column) continue;
      if ((a.part - c.part) * (b.part - d.part) < 0) count += 1;
    }
  });
  return count;
}

export function groupBy<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const found = new Map<string, T[]>();
  for (const item of items) {
    const there = found.get(keyOf(item));
    if (there) there.push(item);
    else found.set(keyOf(item), [item]);
  }
  return found;
}
