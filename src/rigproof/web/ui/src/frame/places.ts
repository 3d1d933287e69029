/** The places of the app, in the order in which they stand. A place joins the app by joining this table. */
import type { Component } from "svelte";
import Hear from "../hear/Hear.svelte";
import Kit from "../kit/Kit.svelte";
import Proof from "../proof/Proof.svelte";
import Wiring from "../wiring/Wiring.svelte";

export interface PlaceInfo {
  id: string;
  name: string;
  /** What a performer does there, in a few words. */
  doc: string;
  view: Component;
}

export const PLACES: readonly PlaceInfo[] = [
  { id: "kit", name: "Kit", doc: "Case, modules, supply, cables", view: Kit },
  { id: "wiring", name: "Wiring", doc: "What goes where, and what it carries", view: Wiring },
  { id: "proof", name: "Proof", doc: "What would go wrong, and what to do", view: Proof },
  { id: "hear", name: "Hear", doc: "Render a stretch, listen, look at jacks", view: Hear },
];
