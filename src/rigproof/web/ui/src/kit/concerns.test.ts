import { describe, expect, it } from "vitest";
import type { Finding } from "../shared/types";
import { concerning, names } from "./concerns";

describe("what a finding is about", () => {
  it("is the thing itself, its jacks, either end of a cable", () => {
    for (const at of ["osc", "osc.saw", "vca.out to osc.fm", "osc and vca", "vca and osc"])
      expect(names(at, "osc"), at).toBe(true);
  });
  it("is no thing whose name only holds it", () => {
    for (const at of ["osc-2.saw", "my-osc.saw", "oscillator", "host/osc.saw", "vca.osc", "+12V"])
      expect(names(at, "osc"), at).toBe(false);
  });
  it("leaves out what is let stand", () => {
    const finding = (at: string, declined: string | null) => ({ at, declined }) as Finding;
    expect(
      concerning(
        [finding("osc", null), finding("osc.saw", "meant so"), finding("vca", null)],
        "osc",
      ),
    ).toEqual([finding("osc", null)]);
  });
});
