import { expect, it } from "vitest";
import { kept } from "./kept.svelte";

it("a finding stays shown until another finding is chosen", () => {
  expect(kept.follow({ sort: "finding", finding: "rail-overloaded", at: "+12V" })).toBe(true);
  expect(kept.follow({ sort: "finding", finding: "rail-overloaded", at: "+12V" })).toBe(false);
  expect(kept.follow({ sort: "module", name: "echo" })).toBe(false);
  expect(kept.follow(null)).toBe(false);
  expect(kept.key).toBe("rail-overloaded @ +12V");
  expect(kept.follow({ sort: "finding", finding: "rail-overloaded", at: "-12V" })).toBe(true);
});
