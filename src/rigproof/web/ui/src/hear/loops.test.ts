import { expect, it } from "vitest";
import { barAround, setLoopEnd, turnLoop } from "./loops";
import { stretchesOf } from "./set_time";

// Two bars at 120 bpm, 2 s each, then a bar at 60 bpm, 4 s.
const stretches = stretchesOf(
  [
    { id: "a", title: "A", start_s: 0, length_s: 4, tempo_bpm: 120 },
    { id: "b", title: "B", start_s: 4, length_s: 4, tempo_bpm: 60 },
  ],
  4,
  0,
  8,
);
it("finds the bar around a time", () => {
  expect(barAround(stretches, 4, 0.5)).toEqual([0, 2]);
  expect(barAround(stretches, 4, 2)).toEqual([2, 4]);
  expect(barAround(stretches, 4, 7.9)).toEqual([4, 8]);
  expect(barAround([], 4, 3)).toEqual([3, 5]);
});
it("loops it, and lets go again", () => {
  const player = { at_s: 5, length_s: 6, loop: null as [number, number] | null };
  turnLoop(player, stretches, 4);
  expect(player.loop).toEqual([4, 6]);
  turnLoop(player, stretches, 4);
  expect(player.loop).toBeNull();
});
it("can be given either end where it plays", () => {
  const player = { at_s: 1, length_s: 8, loop: null as [number, number] | null };
  setLoopEnd(player, stretches, 4, "from");
  expect(player.loop).toEqual([1, 3]);
  player.at_s = 6;
  setLoopEnd(player, stretches, 4, "to");
  expect(player.loop).toEqual([1, 6]);
  player.at_s = 0.5;
  setLoopEnd(player, stretches, 4, "to"); // before its beginning: a bar that ends here, as far as there is one
  expect(player.loop).toEqual([0, 0.5]);
  player.at_s = 7;
  setLoopEnd(player, stretches, 4, "from");
  expect(player.loop).toEqual([7, 8]);
});
