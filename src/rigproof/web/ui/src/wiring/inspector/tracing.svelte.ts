/** Following a control, a jack or a section: what is asked of the server, and the newest answer. */
import { Refused, api } from "../../shared/api";
import { desk } from "../../shared/desk.svelte";
import { traced } from "../trace.svelte";

class Tracing {
  /** What is followed; empty for nothing. */
  start = $state("");
  /** Where a control is held, in its unit; null for where the patch has it. */
  at = $state<number | null>(null);
  isBusy = $state(false);
  troubles = $state.raw<string[]>([]);
  private under: AbortController | null = null;
  private timer = 0;

  /** Follow something from where the patch has it. */
  from(start: string): void {
    this.start = start;
    this.at = null;
    void this.follow();
  }

  /** Hold the control elsewhere; the answer is asked for when the hand rests for a moment. */
  hold(at: number): void {
    this.at = at;
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.follow(), 90);
  }

  /** Ask again; an older question that is still open is given up. */
  async follow(): Promise<void> {
    window.clearTimeout(this.timer);
    this.under?.abort();
    if (this.start === "") return;
    const mine = new AbortController();
    this.under = mine;
    this.isBusy = true;
    try {
      const found = await api.trace(this.start, this.at, mine.signal);
      if (this.under !== mine) return;
      traced.trace = found;
      this.troubles = [];
    } catch (error) {
      if (this.under !== mine) return;
      if (error instanceof DOMException && error.name === "AbortError") return;
      traced.trace = null;
      if (error instanceof Refused && error.status !== 401) this.troubles = error.sentences;
      else desk.fail(error);
    } finally {
      if (this.under === mine) {
        this.under = null;
        this.isBusy = false;
      }
    }
  }

  clear(): void {
    window.clearTimeout(this.timer);
    this.under?.abort();
    this.under = null;
    this.isBusy = false;
    this.start = "";
    this.at = null;
    this.troubles = [];
    traced.trace = null;
  }
}

export const tracing = new Tracing();
