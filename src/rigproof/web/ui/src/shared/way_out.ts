/** What arrives at the way out. */
import type { WayOut } from "./types";

/** Return whether no sound can arrive at any way out; so it is where there is none. */
export const isSilent = (ways: readonly Pick<WayOut, "level">[]): boolean =>
  ways.every(({ level }) => level.lo_v === 0 && level.hi_v === 0);
