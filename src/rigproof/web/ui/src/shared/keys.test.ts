import { expect, it } from "vitest";
import { keysOf } from "./keys";

it("names a key for each place and none that goes nowhere", () => {
  expect(keysOf(4)[0]?.keys[0]).toEqual(["Alt+1 … Alt+4", "go to a place"]);
});
