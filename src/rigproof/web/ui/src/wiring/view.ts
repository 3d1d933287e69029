/** How the drawing is looked at: `screen = drawing * scale + offset`. [px] */
import { around, type Box, type Spot } from "./place";

export interface View {
  x: number;
  y: number;
  scale: number;
}

export const LEAST_SCALE = 0.08;
export const MOST_SCALE = 3;
/** Below this the names of jacks are left out, the name of a module takes its whole block, and lines are thinner. */
export const FAR_SCALE = 0.64;
/** Below this arrows and dots grow, and lines are thinner still. */
export const AFAR_SCALE = 0.34;
/** A whole drawing is shown down to this scale; a larger one is opened at the other. */
export const READABLE_SCALE = 0.2;
export const OPENING_SCALE = 0.36;
const EDGE = 16;

const STEP = 1.03;

/** Return the step in which a scale lies: what is written anew for each scale waits until one is passed. */
export const stepOf = (scale: number): number =>
  STEP ** Math.round(Math.log(scale) / Math.log(STEP));

/** Return how large arrows and dots are drawn, to be seen at a scale. */
export const markFactor = (scale: number): number =>
  scale >= FAR_SCALE ? 1 : scale >= AFAR_SCALE ? 1.4 : 2;

const clampScale = (scale: number): number => Math.min(MOST_SCALE, Math.max(LEAST_SCALE, scale));

/** Return what is under a point of the screen. */
export const toDrawing = (view: View, at: Spot): Spot => ({
  x: (at.x - view.x) / view.scale,
  y: (at.y - view.y) / view.scale,
});

/** Return the view with another scale, what is under the point staying under it. */
export function zoomAt(view: View, at: Spot, factor: number): View {
  const scale = clampScale(view.scale * factor);
  const there = toDrawing(view, at);
  return { x: at.x - there.x * scale, y: at.y - there.y * scale, scale };
}

/** Return the view in which a box fills the room, no larger than `most`. */
export function fit(box: Box, width: number, height: number, most = 1): View {
  const room = { width: Math.max(1, width - 2 * EDGE), height: Math.max(1, height - 2 * EDGE) };
  const scale = clampScale(
    Math.min(most, room.width / Math.max(1, box.width), room.height / Math.max(1, box.height)),
  );
  return {
    x: width / 2 - (box.x + box.width / 2) * scale,
    y: height / 2 - (box.y + box.height / 2) * scale,
    scale,
  };
}

/** Return the view in which a drawing is first seen: whole where its names can be read so, else where its voices begin. */
export function opening(extent: Box, voices: Box | null, width: number, height: number): View {
  const whole = fit(extent, width, height);
  if (whole.scale >= READABLE_SCALE) return whole;
  const begin = voices ?? extent;
  return {
    x: EDGE - begin.x * OPENING_SCALE,
    y: EDGE - begin.y * OPENING_SCALE,
    scale: OPENING_SCALE,
  };
}

/** Return the view moved as little as it takes for a box to be seen; its middle where the box is larger than the room. */
export function reveal(view: View, box: Box, width: number, height: number, edge = 48): View {
  const along = (offset: number, from: number, length: number, room: number): number => {
    const start = from * view.scale + offset;
    const size = length * view.scale;
    if (size > room - 2 * edge) return offset + room / 2 - (start + size / 2);
    if (start < edge) return offset + edge - start;
    if (start + size > room - edge) return offset + room - edge - (start + size);
    return offset;
  };
  return {
    x: along(view.x, box.x, box.width, width),
    y: along(view.y, box.y, box.height, height),
    scale: view.scale,
  };
}

/** Return the view with a box in the middle, near enough to read. */
export function centre(view: View, box: Box, width: number, height: number): View {
  const wanted = Math.max(view.scale, 0.9);
  return fit(box, width, height, wanted);
}

/** Return the view kept from leaving the drawing altogether. */
export function keepInSight(view: View, extent: Box, width: number, height: number): View {
  const keep = 60;
  const along = (offset: number, from: number, length: number, room: number): number => {
    const start = from * view.scale;
    const end = (from + length) * view.scale;
    return Math.min(room - keep - start, Math.max(keep - end, offset));
  };
  return {
    x: along(view.x, extent.x, extent.width, width),
    y: along(view.y, extent.y, extent.height, height),
    scale: view.scale,
  };
}

/** Return the box around points. */
export function boxAround(points: readonly Spot[]): Box {
  return around(points.map(({ x, y }) => ({ x, y, width: 0, height: 0 }))) as Box;
}
