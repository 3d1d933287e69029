import { expect, it } from "vitest";
import type { WayOut } from "./types";
import { isSilent } from "./way_out";

const way = (lo_v: number, hi_v: number) => ({ level: { lo_v, hi_v } }) as WayOut;

it("is silent where there is no way out, or nothing can arrive at any", () => {
  expect(isSilent([])).toBe(true);
  expect(isSilent([way(0, 0), way(0, 0)])).toBe(true);
  expect(isSilent([way(0, 0), way(-1, 1)])).toBe(false);
});
