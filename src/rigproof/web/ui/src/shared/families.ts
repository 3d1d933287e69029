/** Families of checks whose matters are settled at the case: what is screwed in, and what it draws. None is heard. */
export const AT_THE_CASE: ReadonlySet<string> = new Set(["power", "fit", "distribution"]);
