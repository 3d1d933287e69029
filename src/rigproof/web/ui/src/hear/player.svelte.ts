/** Plays one render, or two of the same stretch in step of which one is heard. */
import { dbfs, isTogether, looped, nudge } from "./in_step";

export interface ChannelLevel {
  peak_dbfs: number;
  rms_dbfs: number;
}

const FADE_S = 0.005;
const CHECK_MS = 100;

interface Deck {
  element: HTMLAudioElement;
  gain: GainNode | null;
}

export class Player {
  /** On the clock of the render. [s] */
  at_s = $state(0);
  length_s = $state(0);
  isPlaying = $state(false);
  /** Which of the two is heard. */
  heard = $state(0);
  loop = $state.raw<[number, number] | null>(null);
  levels = $state.raw<ChannelLevel[]>([]);
  /** What the browser will not do, in words; empty while all is well. */
  trouble = $state("");
  hasSound = $state(false);

  private decks: Deck[] = [];
  private context: AudioContext | null = null;
  private analysers: AnalyserNode[] = [];
  private frame = 0;
  private checked_ms = 0;

  /** Take renders to play, none of them where there is only something to see. Playing stops. */
  load(urls: readonly string[], length_s: number): void {
    this.stop();
    this.length_s = length_s;
    this.hasSound = urls.length > 0;
    this.heard = 0;
    this.trouble = "";
    this.loop = null;
    this.decks = urls.map((url) => {
      const element = new Audio();
      element.preload = "auto";
      element.src = url;
      element.onerror = () => {
        this.trouble = "The browser cannot play this render: it may have been forgotten by now.";
        this.pause();
      };
      return { element, gain: null };
    });
    this.at_s = Math.min(this.at_s, length_s);
    for (const deck of this.decks) deck.element.currentTime = this.at_s;
    const first = this.decks[0];
    if (first) {
      first.element.onended = () => {
        if (this.loop) this.seek(this.loop[0]);
        else {
          this.pause();
          this.at_s = this.length_s;
        }
      };
    }
  }

  /** Begin to play; has to be called from a click or a key, or the browser will not let it be heard. */
  async play(): Promise<void> {
    if (this.decks.length === 0) return;
    this.wire();
    this.trouble = "";
    if (this.at_s >= this.length_s - 0.01) this.seek(this.loop?.[0] ?? 0);
    try {
      await this.context?.resume();
      await Promise.all(this.decks.map((deck) => deck.element.play()));
      this.isPlaying = true;
      this.tick();
    } catch (error) {
      this.pause();
      this.trouble =
        error instanceof DOMException && error.name === "NotAllowedError"
          ? "The browser wants a click first: press Play again."
          : "The browser cannot play this render.";
    }
  }

  pause(): void {
    cancelAnimationFrame(this.frame);
    for (const deck of this.decks) deck.element.pause();
    this.isPlaying = false;
    this.levels = [];
  }

  toggle(): void {
    if (this.isPlaying) this.pause();
    else void this.play();
  }

  seek(at_s: number): void {
    this.at_s = Math.max(0, Math.min(this.length_s, at_s));
    for (const deck of this.decks) deck.element.currentTime = this.at_s;
  }

  /** Hear the other one, at the same place. */
  hear(which: number): void {
    if (which === this.heard || which < 0 || which >= this.decks.length) return;
    const [from, to] = [this.decks[this.heard], this.decks[which]];
    if (from && to && !isTogether(from.element.currentTime - to.element.currentTime))
      to.element.currentTime = from.element.currentTime;
    this.heard = which;
    this.keepInStep();
    this.setGains(FADE_S);
  }

  /** Let go of everything. */
  stop(): void {
    this.pause();
    for (const deck of this.decks) {
      deck.element.onerror = null;
      deck.element.onended = null;
      deck.gain?.disconnect();
      deck.element.removeAttribute("src");
      deck.element.load();
    }
    this.decks = [];
  }

  close(): void {
    this.stop();
    void this.context?.close();
    this.context = null;
    this.analysers = [];
  }

  private wire(): void {
    const context = (this.context ??= new AudioContext());
    if (this.analysers.length === 0) {
      this.analysers = [0, 1].map(() => {
        const analyser = context.createAnalyser();
        analyser.fftSize = 4096;
        return analyser;
      });
    }
    for (const deck of this.decks) {
      if (deck.gain) continue;
      const source = context.createMediaElementSource(deck.element);
      deck.gain = context.createGain();
      source.connect(deck.gain);
      deck.gain.connect(context.destination);
      const splitter = context.createChannelSplitter(2);
      deck.gain.connect(splitter);
      this.analysers.forEach((analyser, channel) => splitter.connect(analyser, channel));
    }
    this.setGains(0);
  }

  private setGains(fade_s: number): void {
    const now = this.context?.currentTime ?? 0;
    this.decks.forEach((deck, index) => {
      const target = index === this.heard ? 1 : 0;
      if (!deck.gain) return;
      deck.gain.gain.cancelScheduledValues(now);
      if (fade_s > 0) deck.gain.gain.setTargetAtTime(target, now, fade_s);
      else deck.gain.gain.setValueAtTime(target, now);
    });
  }

  private keepInStep(): void {
    const leader = this.decks[this.heard];
    if (!leader) return;
    leader.element.playbackRate = 1;
    this.decks.forEach((deck, index) => {
      if (index === this.heard) return;
      const { isSeek, rate } = nudge(leader.element.currentTime - deck.element.currentTime);
      if (isSeek) deck.element.currentTime = leader.element.currentTime;
      deck.element.playbackRate = rate;
    });
  }

  private readonly tick = (): void => {
    if (!this.isPlaying) return;
    const leader = this.decks[this.heard];
    if (!leader) return;
    const at_s = leader.element.currentTime;
    const wanted_s = looped(at_s, this.loop);
    if (wanted_s !== at_s) this.seek(wanted_s);
    else this.at_s = at_s;
    const now_ms = performance.now();
    if (now_ms - this.checked_ms >= CHECK_MS) {
      this.checked_ms = now_ms;
      this.keepInStep();
      this.levels = this.analysers.map(levelOf);
    }
    this.frame = requestAnimationFrame(this.tick);
  };
}

function levelOf(analyser: AnalyserNode): ChannelLevel {
  const samples = new Float32Array(analyser.fftSize);
  analyser.getFloatTimeDomainData(samples);
  let peak = 0;
  let square = 0;
  for (const sample of samples) {
    peak = Math.max(peak, Math.abs(sample));
    square += sample * sample;
  }
  return { peak_dbfs: dbfs(peak), rms_dbfs: dbfs(Math.sqrt(square / samples.length)) };
}
