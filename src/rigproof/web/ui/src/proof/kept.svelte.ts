/** How Proof was left, so that who goes to a finding's place and comes back goes on where they were. */
import type { Chosen } from "../shared/desk.svelte";
import { keyOf } from "./order";

class Kept {
  /** The finding that is shown; it stays while something else is chosen elsewhere. */
  key = $state<string | null>(null);
  text = $state("");
  family = $state("");
  module = $state("");
  isDeclinedOpen = $state(false);
  /** How far the place was scrolled. [CSS px] */
  top = 0;

  /** Take in what is chosen on the page; returns whether it is another finding than before. */
  follow(chosen: Chosen): boolean {
    if (chosen?.sort !== "finding" || keyOf(chosen) === this.key) return false;
    this.key = keyOf(chosen);
    return true;
  }
}

export const kept = new Kept();
