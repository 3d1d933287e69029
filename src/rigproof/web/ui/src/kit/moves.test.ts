import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Edit } from "../shared/types";
import { Moves } from "./moves.svelte";

describe("moves that are gathered", () => {
  const written: Edit[][] = [];
  let answer: (() => void) | null = null;
  let moves: Moves;

  beforeEach(() => {
    vi.useFakeTimers();
    written.length = 0;
    answer = null;
    moves = new Moves(async (edits) => {
      written.push(edits);
      await new Promise<void>((resolve) => (answer = resolve));
      return true;
    });
  });
  afterEach(() => vi.useRealTimers());

  const osc = (hp: number) => ({ row: 1, hp, turned: false });
  const edit = (module: string, hp: number) => ({
    do: "move-module",
    module,
    row: 1,
    hp,
    turned: false,
  });

  it("become one edit when the keys rest", async () => {
    for (const hp of [11, 12, 13]) {
      moves.gather("osc", osc(hp));
      await vi.advanceTimersByTimeAsync(200);
    }
    expect(written).toEqual([]);
    expect(moves.put).toEqual({ osc: osc(13) });
    await vi.advanceTimersByTimeAsync(600);
    expect(written).toEqual([[edit("osc", 13)]]);
    answer?.();
    await vi.advanceTimersByTimeAsync(0);
    expect(moves.isPending).toBe(false);
  });

  it("keep what is moved while an edit is under way, and write it after", async () => {
    void moves.now({ osc: osc(20) });
    moves.gather("osc", osc(21));
    await vi.advanceTimersByTimeAsync(1000);
    expect(written.length).toBe(1);
    answer?.();
    await vi.advanceTimersByTimeAsync(0);
    expect(moves.put).toEqual({ osc: osc(21) });
    await vi.advanceTimersByTimeAsync(600);
    expect(written[1]).toEqual([edit("osc", 21)]);
  });

  it("can be taken back before they are written", async () => {
    moves.gather("osc", osc(11));
    expect(moves.cancel()).toBe(true);
    await vi.advanceTimersByTimeAsync(2000);
    expect(written).toEqual([]);
    expect(moves.cancel()).toBe(false);
  });

  it("of another module write the first one's before", async () => {
    moves.gather("osc", osc(11));
    moves.gather("vca", osc(40));
    expect(written).toEqual([[edit("osc", 11)]]);
    answer?.();
    await vi.advanceTimersByTimeAsync(700);
    expect(written[1]).toEqual([edit("vca", 40)]);
  });
});
