/** Things one below the other in a given order, each as near as can be to where its wires want it. */

export interface Stacked {
  height: number;
  /** Where its top should be; one for each wire. */
  wants: readonly number[];
}

/**
 * Return the tops, in order, with the room between and all within a height, so that the sum of the ways to what is wanted
 * is least: pools of neighbours that want past one another move as one to the middle of what they want.
 *
 * Source: R. E. Barlow et al., Statistical Inference under Order Restrictions (1972), ch. 1, pool adjacent violators.
 */
export function stack(things: readonly Stacked[], room: number, height: number): number[] {
  const offsets: number[] = [];
  let total = 0;
  for (const thing of things) {
    offsets.push(total);
    total += thing.height + room;
  }
  const slack = Math.max(0, height - (total - room));
  const pools: { wants: number[]; at: number; count: number }[] = [];
  things.forEach((thing, index) => {
    const wants = thing.wants.map((want) => want - (offsets[index] ?? 0));
    let pool = { wants, at: middleOf(wants, pools[pools.length - 1]?.at ?? 0), count: 1 };
    for (let above = pools[pools.length - 1]; above && above.at > pool.at;) {
      pools.pop();
      const both = [...above.wants, ...pool.wants];
      pool = { wants: both, at: middleOf(both, above.at), count: above.count + pool.count };
      above = pools[pools.length - 1];
    }
    pools.push(pool);
  });
  const shifts = pools.flatMap((pool) =>
    Array<number>(pool.count).fill(Math.min(slack, Math.max(0, pool.at))),
  );
  return things.map((_, index) => (offsets[index] ?? 0) + (shifts[index] ?? 0));
}

/** Return one of the wishes, the one in the middle: whoever is in the middle gets a straight wire. */
function middleOf(wants: readonly number[], otherwise: number): number {
  if (wants.length === 0) return otherwise;
  const sorted = wants.toSorted((a, b) => a - b);
  return sorted[(sorted.length - 1) >> 1] ?? otherwise;
}
