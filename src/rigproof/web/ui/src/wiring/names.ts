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

const wordsOf = (text: string): string =>
  text
    .toLowerCase()
    .split(/[^a-z0-9]+/)
    .join(" ");

/** `rhythm.clock, input, clock, 1 cable`; with what is written at the pin where that is something else. */
export function pinName(pin: Pin): string {
  if (!pin.jack) return `wires ${pin.side === "left" ? "from" : "to"} ${pin.label}`;
  const count = pin.jack.cables.length;
  const cables = count === 0 ? "free" : count === 1 ? "1 cable" : `${count} cables stacked`;
  const isSaid = ` ${wordsOf(pin.id)} `.includes(` ${wordsOf(pin.label)} `);
  const name = isSaid ? pin.id : `${pin.id}, ${pin.label}`;
  return `${name}, ${WAYS[pin.way]}, ${signalName(pin)}, ${cables}`;
}

/** Cut to so many letters, after a whole word where there is one: what is read out holds what can be seen. */
export function cut(text: string, letters: number): string {
  if (text.length <= letters) return text;
  const start = text.slice(0, Math.max(1, Math.floor(letters) - 1));
  const isWhole = !/[a-z0-9]/i.test(text[start.length] ?? "") || !/[a-z0-9]$/i.test(start);
  const end = isWhole ? start : start.replace(/[a-z0-9]+$/i, "");
  return `${(end.trim() || start).replace(/[\s,;:(–-]+$/, "")}…`;
}
