/** Texts that the server writes to stand behind a colon, as sentences of their own. */
import type { Project } from "./types";

/** Return the words of a rig that stay in small letters wherever they stand. */
export function namesIn(project: Project | null): ReadonlySet<string> {
  const { rig, patch, set } = project ?? {};
  const things = [...(rig?.modules ?? []), ...(rig?.outside ?? []), ...(rig?.programs ?? [])];
  const passages = set?.sections ?? [];
  return new Set([...things, ...passages].map((one) => one.id).concat(patch?.name ?? []));
}

/** Return a text with a capital where it begins with a word and not with a name of the rig. */
export function sentence(text: string, names: ReadonlySet<string>): string {
  const first = /^[a-z]+(?=[\s,;:]|$)/.exec(text)?.[0];
  if (first === undefined || names.has(first)) return text;
  return text.charAt(0).toUpperCase() + text.slice(1);
}
