/** A cable in the hand: where it comes from, where it may end, and what it is held over. By pointer or by keys. */
import { Refused, api } from "../shared/api";
import { desk } from "../shared/desk.svelte";
import type { DrawnJack, End } from "../shared/types";
import { drawing } from "./drawing.svelte";
import { moduleOf } from "./shape";
import { round } from "./walk";

export interface Moving {
  /** The wire whose end is in the hand. */
  key: string;
  end: "source" | "target";
}

class Pull {
  /** The jack that stays; null while nothing is in the hand. */
  from = $state<string | null>(null);
  moving = $state.raw<Moving | null>(null);
  ends = $state.raw<ReadonlyMap<string, End> | null>(null);
  over = $state<string | null>(null);
  isByKeys = $state(false);
  /** Held without a button pressed: after it was dropped on a block to open it. */
  isHeld = $state(false);
  typed = $state("");
  /** Read out as it changes. */
  says = $state("");

  private request: AbortController | null = null;

  /** The jacks where it may end, in the order of the rig; those with which something is odd come last. */
  can = $derived.by((): string[] => {
    const some = [...(this.ends?.values() ?? [])].filter((end) => end.ok);
    return [
      ...some.filter((end) => end.warns.length === 0),
      ...some.filter((end) => end.warns.length > 0),
    ].map((end) => end.jack);
  });

  async begin(jack: string, moving: Moving | null = null, isByKeys = false): Promise<void> {
    this.letGo();
    this.from = jack;
    this.moving = moving;
    this.isByKeys = isByKeys;
    this.says = moving
      ? `The end of the cable from ${jack} is in your hand.`
      : `Cable from ${jack}.`;
    const request = new AbortController();
    this.request = request;
    const without = moving && drawing.edges.get(moving.key)?.cable;
    try {
      const { ends } = await api.ends(jack, request.signal, without ?? undefined);
      if (this.request !== request) return;
      this.ends = new Map(ends.map((end) => [end.jack, end]));
      if (isByKeys) {
        const count = this.can.length;
        this.says =
          count === 0
            ? `A cable from ${jack} may end nowhere. Escape lets go.`
            : `Cable from ${jack}: ${count} jacks may take it. Arrows or letters choose, Enter plugs, Escape lets go.`;
      }
    } catch (error) {
      if (error instanceof DOMException) return;
      this.letGo();
      if (!(error instanceof Refused && error.status === 409)) desk.fail(error);
    }
  }

  /** Hold it over a jack, or over none. */
  hold(jack: string | null): void {
    if (jack === this.over) return;
    this.over = jack;
    if (jack === null) return;
    this.says = this.why(jack) || `${jack}${this.warns(jack)}`;
  }

  /** Why it cannot end in a jack; empty where it can. */
  why(jack: string): string {
    if (jack === this.from) return "A cable from a jack into itself does nothing.";
    const end = this.ends?.get(jack);
    if (!end) return this.ends ? `${jack} is not a jack to wire.` : "";
    return end.ok ? "" : (end.why ?? `A cable from ${this.from} cannot end in ${jack}.`);
  }

  private warns(jack: string): string {
    const warns = this.ends?.get(jack)?.warns ?? [];
    return warns.length > 0 ? `, but ${warns.join("; ")}` : "";
  }

  get warning(): string {
    return (this.over && this.ends?.get(this.over)?.warns.join("; ")) || "";
  }

  /** Go to the next jack that may take it, of those whose name holds what was typed. */
  step(by: number): void {
    const some = this.matching();
    this.holdOneOf(round(some, this.over, by), some);
  }

  type(letter: string): void {
    this.typed = letter === "Backspace" ? this.typed.slice(0, -1) : this.typed + letter;
    const some = this.matching();
    if (some.length === 0) this.says = `No jack that may take it holds '${this.typed}'.`;
    else this.holdOneOf(some[0] ?? null, some);
  }

  private matching(): string[] {
    const typed = this.typed.toLowerCase();
    const some = this.can.filter((jack) => jack.toLowerCase().includes(typed));
    return [
      ...some.filter((jack) => jack.toLowerCase().startsWith(typed)),
      ...some.filter((jack) => !jack.toLowerCase().startsWith(typed)),
    ];
  }

  private holdOneOf(jack: string | null, some: readonly string[]): void {
    if (jack === null) return;
    this.over = jack;
    this.says = `${jack}, ${some.indexOf(jack) + 1} of ${some.length}${this.warns(jack)}`;
  }

  /** Plug it in where it is held. Returns whether there was a way to; the server has the last word. */
  plug(jack: string | null = this.over): boolean {
    const { from, moving } = this;
    if (from === null || jack === null) return false;
    const why = this.ends ? this.why(jack) : "";
    if (why) {
      this.says = why;
      return false;
    }
    const lead = this.ends?.get(jack)?.lead ?? null;
    this.letGo();
    if (moving) {
      this.says = `Moved to ${jack}.`;
      void drawing.replug(moving.key, moving.end, jack);
    } else {
      const [source, target] = endsOf(from, jack);
      this.says = `Plugged ${source} into ${target}.`;
      void drawing.plug({ source, target, lead });
    }
    return true;
  }

  letGo(): void {
    this.request?.abort();
    this.request = null;
    if (this.from !== null) drawing.closeAll();
    this.from = null;
    this.moving = null;
    this.ends = null;
    this.over = null;
    this.isByKeys = false;
    this.isHeld = false;
    this.typed = "";
  }
}

export function jackNamed(name: string): DrawnJack | undefined {
  return drawing.diagram?.blocks
    .find((block) => block.id === moduleOf(name))
    ?.jacks.find((jack) => `${moduleOf(name)}.${jack.id}` === name);
}

/** Return two ends as source and target of a cable: what goes out first. */
export function endsOf(a: string, b: string): [string, string] {
  const isTurned = jackNamed(b)?.way === "out" || jackNamed(a)?.way === "in";
  return isTurned ? [b, a] : [a, b];
}

export const pull = new Pull();
