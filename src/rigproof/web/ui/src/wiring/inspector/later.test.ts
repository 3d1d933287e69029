import { expect, it, vi } from "vitest";
import { Later } from "./later.svelte";

it("sends the last of a burst, once", async () => {
  vi.useFakeTimers();
  const sent: number[] = [];
  const later = new Later<number>(async (value) => void sent.push(value), 100);
  later.put(1);
  vi.advanceTimersByTime(60);
  later.put(2);
  vi.advanceTimersByTime(60);
  expect(sent).toEqual([]);
  expect(later.value).toBe(2);
  await vi.advanceTimersByTimeAsync(60);
  expect(sent).toEqual([2]);
  expect(later.value).toBeNull();
  vi.useRealTimers();
});
it("keeps showing what was put while the one before is under way", async () => {
  let done: () => void = () => undefined;
  const later = new Later<number>(() => new Promise<void>((resolve) => (done = resolve)), 5);
  later.put(1);
  const first = later.flush();
  later.put(2);
  done();
  await first;
  expect(later.value).toBe(2);
  later.drop();
  expect(later.value).toBeNull();
});
it("sends at once when told to, and nothing where there is nothing", async () => {
  const sent: number[] = [];
  const later = new Later<number>(async (value) => void sent.push(value), 1000);
  await later.flush();
  later.put(7);
  await later.flush();
  expect(sent).toEqual([7]);
});
