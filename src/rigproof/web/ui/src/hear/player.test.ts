import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { Player } from "./player.svelte";

/** A sound that plays by a clock which the test turns. */
class FakeAudio {
  static made: FakeAudio[] = [];
  preload = "";
  src = "";
  currentTime = 0;
  playbackRate = 1;
  paused = true;
  onerror: (() => void) | null = null;
  onended: (() => void) | null = null;
  constructor() {
    FakeAudio.made.push(this);
  }
  play = vi.fn(() => {
    this.paused = false;
    return Promise.resolve();
  });
  pause = (): void => {
    this.paused = true;
  };
  load = (): void => undefined;
  removeAttribute = (): void => {
    this.src = "";
  };
}

class FakeNode {
  gain = {
    value: 1,
    cancelScheduledValues: () => undefined,
    setValueAtTime: (value: number) => (this.gain.value = value),
    setTargetAtTime: (value: number) => (this.gain.value = value),
  };
  fftSize = 4;
  connect = (): void => undefined;
  disconnect = (): void => undefined;
  getFloatTimeDomainData = (samples: Float32Array): void => {
    samples.fill(0.5);
  };
}
class FakeContext {
  static gains: FakeNode[] = [];
  currentTime = 0;
  destination = {};
  resume = (): Promise<void> => Promise.resolve();
  close = (): Promise<void> => Promise.resolve();
  createMediaElementSource = (): FakeNode => new FakeNode();
  createChannelSplitter = (): FakeNode => new FakeNode();
  createAnalyser = (): FakeNode => new FakeNode();
  createGain = (): FakeNode => {
    const node = new FakeNode();
    FakeContext.gains.push(node);
    return node;
  };
}

let turn: () => void = () => undefined;

beforeEach(() => {
  FakeAudio.made = [];
  FakeContext.gains = [];
  vi.stubGlobal("Audio", FakeAudio);
  vi.stubGlobal("AudioContext", FakeContext);
  vi.stubGlobal("requestAnimationFrame", (call: () => void) => {
    turn = call;
    return 1;
  });
  vi.stubGlobal("cancelAnimationFrame", () => undefined);
});
afterEach(() => vi.unstubAllGlobals());

/** Let the clock of every sound that plays go on. */
function pass(seconds: number): void {
  for (const audio of FakeAudio.made) if (!audio.paused) audio.currentTime += seconds;
  turn();
}
const gains = (): number[] => FakeContext.gains.map((node) => node.gain.value);
const times = (): number[] => FakeAudio.made.map((audio) => audio.currentTime);

describe("player", () => {
  it("plays both and lets one be heard, and the other at the same place", async () => {
    const player = new Player();
    player.load(["a.wav", "b.wav"], 10);
    await player.play();
    expect([player.isPlaying, gains()]).toEqual([true, [1, 0]]);
    pass(2);
    player.hear(1);
    expect([player.at_s, gains(), times()]).toEqual([2, [0, 1], [2, 2]]);
  });
  it("puts a sound that has fallen behind where the heard one is before it is heard", async () => {
    const player = new Player();
    player.load(["a.wav", "b.wav"], 10);
    await player.play();
    pass(3);
    const second = FakeAudio.made[1];
    if (second) second.currentTime = 2.95; // near enough to be brought there while nobody hears it
    player.hear(1);
    expect(times()).toEqual([3, 3]);
  });
  it("goes round in its loop", async () => {
    const player = new Player();
    player.load(["a.wav"], 10);
    player.loop = [2, 4];
    player.seek(3);
    await player.play();
    pass(1.5);
    expect(times()).toEqual([2.5]);
  });
  it("measures what is heard: a steady half of full scale is 6.02 dB below it", async () => {
    const player = new Player();
    player.load(["a.wav"], 10);
    await player.play();
    pass(0.1);
    expect(player.levels[0]?.peak_dbfs).toBeCloseTo(-6.02, 2);
    expect(player.levels[0]?.rms_dbfs).toBeCloseTo(-6.02, 2);
  });
  it("says what the browser will not do", async () => {
    const player = new Player();
    player.load(["a.wav"], 10);
    FakeAudio.made[0]?.play.mockRejectedValueOnce(new DOMException("no", "NotAllowedError"));
    await player.play();
    expect([player.isPlaying, player.trouble]).toEqual([
      false,
      "The browser wants a click first: press Play again.",
    ]);
    FakeAudio.made[0]?.onerror?.();
    expect(player.trouble).toContain("cannot play this render");
  });
  it("stays within the sound and begins again after its end", async () => {
    const player = new Player();
    player.load(["a.wav"], 10);
    player.seek(99);
    expect(player.at_s).toBe(10);
    await player.play();
    expect(times()).toEqual([0]);
    player.close();
    expect(FakeAudio.made[0]?.src).toBe("");
  });
});
