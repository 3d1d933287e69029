/** Where the arrow keys lead. */
import type { Box } from "./place";

export type Towards = "left" | "right" | "up" | "down";

export const TOWARDS: Record<string, Towards> = {
  ArrowLeft: "left",
  ArrowRight: "right",
  ArrowUp: "up",
  ArrowDown: "down",
};

/** Return the nearest box in a direction: what lies straight ahead counts before what lies aside. */
export function nextBox(
  boxes: ReadonlyMap<string, Box>,
  from: string,
  towards: Towards,
): string | null {
  const start = boxes.get(from);
  if (!start) return null;
  const isAcross = towards === "left" || towards === "right";
  const sign = towards === "right" || towards === "down" ? 1 : -1;
  let best: string | null = null;
  let least = Infinity;
  for (const [id, box] of boxes) {
    if (id === from) continue;
    const dx = box.x + box.width / 2 - start.x - start.width / 2;
    const dy = box.y + box.height / 2 - start.y - start.height / 2;
    const ahead = sign * (isAcross ? dx : dy);
    const aside = Math.abs(isAcross ? dy : dx);
    if (ahead <= 0 || aside > 3 * ahead) continue;
    const cost = ahead + 2 * aside;
    if (cost < least) {
      least = cost;
      best = id;
    }
  }
  return best;
}

/** Return the item so many steps further round a list; the first where it is not in the list. */
export function round<T>(items: readonly T[], from: T | null, by: number): T | null {
  if (items.length === 0) return null;
  const at = from === null ? -1 : items.indexOf(from);
  const next = at < 0 ? (by > 0 ? 0 : items.length - 1) : at + by;
  return items[(next + items.length) % items.length] ?? null;
}
