/** What an edit will make of the drawing, shown before the server has answered; what it answers then takes its place. */
import type { Diagram, DrawnEdge } from "../shared/types";
import { moduleOf } from "./shape";

/** Return the diagram with one more cable, at the end of the list as the server puts it. */
export function withCable(
  diagram: Diagram,
  cable: { source: string; target: string; colour?: string | null; cm?: number | null },
): Diagram {
  const index = 1 + Math.max(-1, ...diagram.edges.map((edge) => edge.cable ?? -1));
  const jack = diagram.blocks
    .find((block) => block.id === moduleOf(cable.source))
    ?.jacks.find((one) => `${moduleOf(cable.source)}.${one.id}` === cable.source);
  const signal = jack?.signal ?? "cv";
  const sort = signal === "midi" || signal === "usb" || signal === "link" ? signal : "cable";
  const edge: DrawnEdge = {
    sort,
    cable: index,
    source: cable.source,
    target: cable.target,
    is_backwards: false,
    signal,
    driver: cable.source,
    colour: cable.colour ?? null,
    cm: cable.cm ?? null,
    lead: null,
    is_loop: false,
  };
  const last = diagram.edges.findLastIndex((one) => one.cable !== null) + 1;
  return plugged(diagram, diagram.edges.toSpliced(last, 0, edge));
}

/** Return the diagram without a cable; those behind it move up one number. */
export function withoutCable(diagram: Diagram, index: number): Diagram {
  return plugged(
    diagram,
    diagram.edges
      .filter((edge) => edge.cable !== index)
      .map((edge) =>
        edge.cable !== null && edge.cable > index ? { ...edge, cable: edge.cable - 1 } : edge,
      ),
  );
}

/** Return the diagram with a cable at other ends. */
export function withReplugged(
  diagram: Diagram,
  index: number,
  ends: { source: string; target: string },
): Diagram {
  return plugged(
    diagram,
    diagram.edges.map((edge) => (edge.cable === index ? { ...edge, ...ends } : edge)),
  );
}

/** Let every jack say which cables are in it. */
function plugged(diagram: Diagram, edges: DrawnEdge[]): Diagram {
  const cables = new Map<string, number[]>();
  for (const edge of edges) {
    if (edge.cable === null) continue;
    for (const end of new Set([edge.source, edge.target])) {
      const there = cables.get(end);
      if (there) there.push(edge.cable);
      else cables.set(end, [edge.cable]);
    }
  }
  const blocks = diagram.blocks.map((block) => ({
    ...block,
    jacks: block.jacks.map((jack) => {
      const now = cables.get(`${block.id}.${jack.id}`) ?? [];
      return { ...jack, cables: now, is_used: now.length > 0 };
    }),
  }));
  return { ...diagram, blocks, edges };
}

/** Return how many cables with the same ends stand before a cable: its `nth`, as edits name it. */
export function nthOf(diagram: Diagram, index: number): number {
  const cable = diagram.edges.find((edge) => edge.cable === index);
  return diagram.edges.filter(
    (edge) =>
      edge.cable !== null &&
      edge.cable < index &&
      edge.source === cable?.source &&
      edge.target === cable.target,
  ).length;
}
