/** A trace as it runs through the diagram: which wires in which order, and what each carries. */
import type { Diagram, Hop, Trace } from "../shared/types";
import { decibels, range, seconds } from "../shared/words";
import { flowOf, keysOf, moduleOf } from "./shape";

export interface TracedWire {
  /** Its place in the order in which the trace goes. */
  number: number;
  words: string;
}
export interface Traced {
  wires: Map<string, TracedWire>;
  modules: Set<string>;
  jacks: Set<string>;
}

/** Return the jack of the drawing that a hop names: without its lane, the host's own where it is inside one. */
export function jackOf(name: string): string {
  return name.replace(/:.*$/, "").replace(/\/[^.]*/, "");
}

/** Say what a hop carries: volts, change of level, how late. */
export function hopWords(hop: Hop): string {
  const parts: string[] = [];
  if (hop.span) parts.push(range([hop.span.lo, hop.span.hi]));
  if (hop.change_db !== null) parts.push(decibels(hop.change_db));
  if (hop.arrival && hop.arrival.hi_s > 0) {
    const { lo_s, hi_s } = hop.arrival;
    parts.push(between(lo_s, hi_s));
  }
  return parts.join(", ");
}

/** `0.9 … 11.3 ms`, the unit once where it is the same. */
function between(lo_s: number, hi_s: number): string {
  const [from = "", to = ""] = [seconds(lo_s), seconds(hi_s)];
  if (from === to) return to;
  const unit = to.slice(to.indexOf(" "));
  return from.endsWith(unit) ? `${from.slice(0, -unit.length)} … ${to}` : `${from} … ${to}`;
}

export function tracedOn(trace: Trace, diagram: Diagram): Traced {
  const keys = keysOf(diagram.edges);
  const ways = waysOf(diagram, keys);
  const traced: Traced = { wires: new Map(), modules: new Set(), jacks: new Set() };
  for (const hop of trace.hops) {
    const name = jackOf(hop.name);
    traced.modules.add(moduleOf(name));
    if (hop.place === "output" || hop.place === "input") traced.jacks.add(name);
    const parent = hop.parent === null ? undefined : trace.hops[hop.parent];
    if (hop.place !== "input" || !parent) continue;
    for (const key of wiresBetween(ways, jackOf(parent.name), name)) {
      const edge = diagram.edges[keys.indexOf(key)];
      if (edge) for (const end of flowOf(edge)) traced.modules.add(moduleOf(end));
      if (traced.wires.has(key)) continue;
      traced.wires.set(key, { number: traced.wires.size + 1, words: hopWords(hop) });
    }
  }
  return traced;
}

interface Way {
  to: string;
  /** The wire that leads there; null inside a mult. */
  key: string | null;
}

function waysOf(diagram: Diagram, keys: readonly string[]): Map<string, Way[]> {
  const ways = new Map<string, Way[]>();
  const add = (from: string, way: Way): void => {
    const there = ways.get(from);
    if (there) there.push(way);
    else ways.set(from, [way]);
  };
  diagram.edges.forEach((edge, index) => {
    const [from, to] = flowOf(edge);
    add(from, { to, key: keys[index] ?? null });
  });
  for (const meeting of diagram.meetings) {
    for (const from of meeting.jacks) {
      for (const to of meeting.jacks) if (to !== from) add(from, { to, key: null });
    }
  }
  return ways;
}

/** Return the wires by the shortest way from jack to jack; none where only a module lies between. */
function wiresBetween(ways: ReadonlyMap<string, Way[]>, from: string, to: string): string[] {
  const cameBy = new Map<string, { from: string; key: string | null } | null>([[from, null]]);
  const todo = [from];
  for (const here of todo) {
    if (here === to) break;
    for (const way of ways.get(here) ?? []) {
      if (cameBy.has(way.to)) continue;
      cameBy.set(way.to, { from: here, key: way.key });
      todo.push(way.to);
    }
  }
  const found: string[] = [];
  for (let step = cameBy.get(to); step; step = cameBy.get(step.from)) {
    if (step.key !== null) found.push(step.key);
  }
  return found.reverse();
}
