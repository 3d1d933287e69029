/** What is under a point of the drawing. */
import type { Spot } from "./place";
import type { Points } from "./route";

/** Return the distance from a point to a way. */
export function distanceTo(way: Points, at: Spot): number {
  let least = Infinity;
  for (let i = 1; i < way.length; i += 1) {
    const a = way[i - 1] as Spot;
    const b = way[i] as Spot;
    const dx = Math.max(Math.min(a.x, b.x) - at.x, 0, at.x - Math.max(a.x, b.x));
    const dy = Math.max(Math.min(a.y, b.y) - at.y, 0, at.y - Math.max(a.y, b.y));
    least = Math.min(least, Math.hypot(dx, dy));
  }
  return least;
}

/** Return the name of the nearest way within reach, null where there is none. */
export function nearestWay(
  ways: Iterable<readonly [string, Points]>,
  at: Spot,
  reach: number,
): string | null {
  let best: string | null = null;
  let least = reach;
  for (const [key, way] of ways) {
    const distance = distanceTo(way, at);
    if (distance < least || (distance === least && best === null)) {
      best = key;
      least = distance;
    }
  }
  return best;
}

/** Return the name of the nearest spot within reach, null where there is none. */
export function nearestSpot(
  spots: Iterable<readonly [string, Spot]>,
  at: Spot,
  reach: number,
): string | null {
  let best: string | null = null;
  let least = reach;
  for (const [key, spot] of spots) {
    const distance = Math.hypot(spot.x - at.x, spot.y - at.y);
    if (distance < least) {
      best = key;
      least = distance;
    }
  }
  return best;
}

/** Return the middle of the longest straight of a way, and whether it runs down: there words stand best. */
export function middleOf(way: Points): Spot & { isDown: boolean } {
  let best = { x: way[0]?.x ?? 0, y: way[0]?.y ?? 0, isDown: false };
  let longest = -1;
  for (let i = 1; i < way.length; i += 1) {
    const a = way[i - 1] as Spot;
    const b = way[i] as Spot;
    const isDown = a.x === b.x;
    const length = Math.abs(b.x - a.x) + Math.abs(b.y - a.y);
    if (length > longest) {
      longest = length;
      best = { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, isDown };
    }
  }
  return best;
}
