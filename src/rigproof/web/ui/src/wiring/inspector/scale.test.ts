import { expect, it } from "vitest";
import { leaves, spot, stretch } from "./scale";

it("stands 0 V in the middle and the rails at the ends", () => {
  expect(spot(0)).toBe(50);
  expect(spot(-12)).toBe(0);
  expect(spot(12)).toBe(100);
  expect(spot(6)).toBe(75);
});
it("keeps what lies beyond at the end", () => {
  expect(spot(48)).toBe(100);
  expect(spot(-48)).toBe(0);
});
it("draws a range whichever end comes first", () => {
  expect(stretch(-6, 6)).toEqual({ left: 25, width: 50 });
  expect(stretch(6, -6)).toEqual({ left: 25, width: 50 });
  expect(stretch(3, 3)).toEqual({ left: 62.5, width: 0 });
});
it("says when volts go where a jack does not follow", () => {
  expect(leaves([-5, 5], [-5, 5])).toBe(false);
  expect(leaves([-5.0005, 5], [-5, 5])).toBe(false);
  expect(leaves([-5, 5.1], [-5, 5])).toBe(true);
  expect(leaves([-1, 5], [0, 10])).toBe(true);
});
