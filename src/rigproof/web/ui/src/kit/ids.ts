/** Ids of things in the rig: lower-case words with dashes, each once. */

const ID = /^[a-z0-9]+(?:-[a-z0-9]+)*$/;
const LETTERS = 64;

/** Return what is wrong with an id, or nothing where it is good. */
export function idTrouble(id: string, taken: Iterable<string>): string {
  if (id === "") return "It needs an id.";
  if (id.length > LETTERS) return `At most ${LETTERS} letters.`;
  if (!ID.test(id)) return "Lower-case words with dashes, such as bass-vca.";
  for (const other of taken) if (other === id) return `There is a ${id} already.`;
  return "";
}

/** Return an id that nothing has yet: the name, and a number from the second on. */
export function freeId(name: string, taken: Iterable<string>): string {
  const have = new Set(taken);
  let id = name;
  for (let number = 2; have.has(id); number++) id = `${name.slice(0, LETTERS - 8)}-no-${number}`;
  return id;
}

/** Return a title as an id: `Two LFOs` as `two-lfos`. Empty where nothing is left of it. */
export function idFrom(title: string): string {
  return title
    .normalize("NFKD")
    .replace(/\p{M}/gu, "")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .slice(0, LETTERS)
    .replace(/^-+|-+$/g, "");
}
