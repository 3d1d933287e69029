/** What things of the diagram are called, for ears and for eyes. */
import { SIGNALS } from "../shared/signals";
import type { DrawnBlock, DrawnEdge } from "../shared/types";
import { flowOf, type Pin, type Shape } from "./shape";

const SORTS: Record<DrawnEdge["sort"], string> = {
  cable: "cable",
  midi: "MIDI cable",
  usb: "USB cable",
  link: "expander ribbon",
  normal: "normal",
};

const signalName = (edge: { signal: DrawnEdge["signal"] }): string => {
  const name = SIGNALS[edge.signal].name;
  return /^[A-Z]{2}/.test(name) ? name : name.toLowerCase();
};

/** `cable from clock.sixteenth to rhythm.clock, trigger`. */
export function wireName(edge: DrawnEdge): string {
  const [source, target] = flowOf(edge);
  const parts = [`${SORTS[edge.sort]} from ${source} to ${target}`];
  if (edge.sort === "cable" || edge.sort === "normal") parts.push(signalName(edge));
  if (edge.driver !== null && edge.driver !== source) parts.push(`driven by ${edge.driver}`);
  if (edge.is_loop) parts.push("part of a feedback loop");
  return parts.join(", ");
}

/** `clock, Master clock, six rates: 5 of 8 jacks in use`. */
export function blockName(shape: Shape): string {
  if (!shape.block) return `${shape.name}: ${shape.title}`;
  const used = shape.block.jacks.filter((jack) => jack.is_used).length;
  return `${shape.name}, ${shape.title}: ${used} of ${jacks(shape.block)} in use`;
}

const jacks = (block: DrawnBlock): string =>
  block.jacks.length === 1 ? "1 jack" : `${block.jacks.length} jacks`;

const WAYS = { in: "input", out: "output", bare: "passive contact" };

/** `rhythm.clock, input, clock, 1 cable`. */
export function pinName(pin: Pin): string {
  if (!pin.jack) return `wires ${pin.side === "left" ? "from" : "to"} ${pin.label}`;
  const count = pin.jack.cables.length;
  const cables = count === 0 ? "free" : count === 1 ? "1 cable" : `${count} cables stacked`;
  return `${pin.id}, ${WAYS[pin.way]}, ${signalName(pin)}, ${cables}`;
}
