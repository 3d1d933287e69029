/** Moves of modules that are not written yet: several quick ones of one module become one edit. */
import type { Edit } from "../shared/types";
import type { Place } from "./case";

export type Put = Pick<Place, "row" | "hp" | "turned">;

export const moveEdit = (module: string, { row, hp, turned }: Put): Edit => ({
  do: "move-module",
  module,
  row,
  hp,
  turned,
});

/** So long after the last key a gesture is over. */
const REST_MS = 600;

export class Moves {
  /** Where modules stand that the project does not know of yet. */
  put = $state.raw<Record<string, Put>>({});
  private timer = 0;
  private isWriting = false;

  constructor(private readonly write: (edits: Edit[]) => Promise<boolean>) {}

  get isPending(): boolean {
    return Object.keys(this.put).length > 0;
  }

  /** Show modules in their new places and write that at once. */
  async now(puts: Record<string, Put>): Promise<void> {
    this.put = { ...this.put, ...puts };
    await this.flush();
  }

  /** Show a module in a new place and write that when no other move of it follows soon. */
  gather(id: string, put: Put): void {
    if (this.isPending && !(id in this.put)) void this.flush();
    this.put = { ...this.put, [id]: put };
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.flush(), REST_MS);
  }

  /** Forget what is not written yet; returns whether there was anything. */
  cancel(): boolean {
    window.clearTimeout(this.timer);
    if (!this.isPending || this.isWriting) return false;
    this.put = {};
    return true;
  }

  /** Write what is pending. */
  async flush(): Promise<void> {
    window.clearTimeout(this.timer);
    const puts = this.put;
    if (!this.isPending || this.isWriting) return;
    this.isWriting = true;
    try {
      await this.write(Object.entries(puts).map(([id, put]) => moveEdit(id, put)));
    } finally {
      this.isWriting = false;
      // What was moved again meanwhile stays to be written.
      this.put = Object.fromEntries(
        Object.entries(this.put).filter(([id, put]) => puts[id] !== put),
      );
      if (this.isPending) this.timer = window.setTimeout(() => void this.flush(), REST_MS);
    }
  }
}
