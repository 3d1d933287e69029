/** The layout engine, in a worker of its own that is begun once and stays. */
import ELK, { type ELK as Elk, type ElkNode } from "elkjs/lib/elk-api";
import workerUrl from "elkjs/lib/elk-worker.min.js?url";
import { LAYERED } from "./arrange";

let engine: Elk | null = null;

/** Return the engine; the first call begins its worker, so call it before it is needed. */
export function layoutEngine(): Elk {
  if (!engine) {
    engine = new ELK({ workerUrl, workerFactory: (url) => new Worker(url ?? workerUrl) });
    // The first layout of a worker is several times slower than the next: let it be of something small.
    engine.layout(trifle()).catch(() => undefined);
  }
  return engine;
}

/** A few blocks in a chain with a branch. */
function trifle(): ElkNode {
  const names = ["a", "b", "c", "d", "e"];
  const wires = [
    ["a", "b"],
    ["b", "c"],
    ["a", "d"],
    ["d", "c"],
    ["c", "e"],
    ["b", "e"],
  ] as const;
  return {
    id: "trifle",
    layoutOptions: LAYERED,
    children: names.map((name) => ({
      id: name,
      width: 120,
      height: 72,
      layoutOptions: { "elk.portConstraints": "FIXED_POS" },
      ports: [
        { id: `${name}.in`, x: 0, y: 60, layoutOptions: { "elk.port.side": "WEST" } },
        { id: `${name}.out`, x: 120, y: 60, layoutOptions: { "elk.port.side": "EAST" } },
      ],
    })),
    edges: wires.map(([from, to]) => ({
      id: `${from}${to}`,
      sources: [`${from}.out`],
      targets: [`${to}.in`],
    })),
  };
}
