/** A module as it is being described: what was said so far, and the form that this makes. */
import type { Flaw, KindInfo, Sheet, SheetForm } from "../shared/types";
import { idFrom } from "./ids";

export type Changes = Record<string, Record<string, unknown>>;

export interface Description {
  /** `own`: the project's own sheet `like` is itself changed. */
  begins: "sheet" | "kinds" | "own";
  like: string;
  kinds: string[];
  wires: [string, string][];
  housing: string;
  title: string;
  /** Empty while it follows the title. */
  name: string;
  summary: string | null;
  hp: number | null;
  depth_mm: number | null;
  /** Whether the figures are typical; false once they are the maker's. */
  isTypical: boolean;
  draw_ma: Record<string, number>;
  jacks: Changes;
  controls: Changes;
}

export const blank = (like = ""): Description => ({
  begins: "sheet",
  like,
  kinds: [],
  wires: [],
  housing: "module",
  title: "",
  name: "",
  summary: null,
  hp: null,
  depth_mm: null,
  isTypical: true,
  draw_ma: {},
  jacks: {},
  controls: {},
});

/** Return what is said of a sheet of one's own before anything is changed. */
export const asItIs = (sheet: Sheet): Description => ({
  ...blank(sheet.id),
  begins: "own",
  name: sheet.id,
  title: sheet.title,
  isTypical: sheet.is_typical,
});

/** Return whether there is anything to make a sheet of. */
export const isBegun = (said: Description): boolean =>
  said.begins === "kinds" ? said.kinds.length > 0 : said.like !== "";

export const nameOf = (said: Description): string => said.name || idFrom(said.title);

/**
 * Return the form to send. Figures that nobody changed are left to the sheet that it begins from; a draw is given
 * whole, since a form replaces all rails at once. `seen` is the sheet as it was last drafted.
 */
export function formOf(said: Description, seen: Sheet | null): SheetForm {
  const form: SheetForm = { name: nameOf(said) || "new-module", typical: said.isTypical };
  if (said.begins === "sheet") form.like = said.like;
  else {
    form.kinds = said.kinds;
    form.housing = said.housing;
    if (said.wires.length > 0) form.wires = said.wires;
  }
  if (said.title.trim() !== "") form.title = said.title.trim();
  if (said.summary !== null) form.summary = said.summary.trim();
  if (said.hp !== null) form.hp = said.hp;
  if (said.depth_mm !== null) form.depth_mm = said.depth_mm;
  if (Object.keys(said.draw_ma).length > 0)
    form.draw_ma = { ...(seen?.draw_ma ?? {}), ...said.draw_ma };
  const jacks = only(said.jacks, seen?.jacks);
  const controls = only(said.controls, seen?.controls);
  if (jacks) form.jacks = jacks;
  if (controls) form.controls = controls;
  return form;
}

/** Return the form that changes a sheet of one's own: only what is another than in `was`, so that all else stays. */
export function changesOf(said: Description, was: Sheet): SheetForm {
  const form: SheetForm = { name: said.like, change: true };
  const title = said.title.trim();
  if (title !== "" && title !== was.title) form.title = title;
  if (said.summary !== null && said.summary.trim() !== was.summary)
    form.summary = said.summary.trim();
  if (said.hp !== null && said.hp !== was.hp) form.hp = said.hp;
  if (said.depth_mm !== null && said.depth_mm !== was.depth_mm) form.depth_mm = said.depth_mm;
  if (said.isTypical !== was.is_typical) form.typical = said.isTypical;
  if (Object.entries(said.draw_ma).some(([rail, ma]) => ma !== (was.draw_ma[rail] ?? 0)))
    form.draw_ma = { ...was.draw_ma, ...said.draw_ma };
  const jacks = others(said.jacks, (id, key) =>
    key === "label" ? was.jacks[id]?.label : was.jacks[id]?.range_v,
  );
  const controls = others(said.controls, (id, key) => {
    const control = was.controls[id];
    return key === "default" ? control?.default : [control?.lo, control?.hi];
  });
  if (jacks) form.jacks = jacks;
  if (controls) form.controls = controls;
  return form;
}

/** Return whether a form changes anything. */
export const changesAny = (form: SheetForm): boolean =>
  Object.keys(form).some((key) => key !== "name" && key !== "change");

/** Return the changes that say something else than before. */
function others(
  changes: Changes,
  before: (id: string, key: string) => unknown,
): Changes | undefined {
  const left = Object.entries(changes).flatMap(([id, values]) => {
    const kept = Object.entries(values).filter(
      ([key, value]) => JSON.stringify(value) !== JSON.stringify(before(id, key)),
    );
    return kept.length > 0 ? [[id, Object.fromEntries(kept)] as const] : [];
  });
  return left.length > 0 ? Object.fromEntries(left) : undefined;
}

/** Return the changes of what is still there: with other kinds or wires a jack may be gone. */
function only(changes: Changes, there: Record<string, unknown> | undefined): Changes | undefined {
  const kept = Object.entries(changes).filter(([id]) => there === undefined || id in there);
  return kept.length > 0 ? Object.fromEntries(kept) : undefined;
}

export interface Ports {
  outputs: string[];
  inputs: string[];
}

/** Return the ports that wires can join: those that a sheet without wires brings to jacks. */
export function portsOf(sheet: Sheet): Ports {
  const of = (way: string): string[] =>
    Object.values(sheet.jacks)
      .filter((jack) => jack.way === way)
      .flatMap((jack) => Object.values(jack.lanes).flat());
  return { outputs: of("out"), inputs: of("in") };
}

/** Return what a kind does, as its docstring says first. */
export function kindWords(kind: Pick<KindInfo, "doc">): string {
  const line = (kind.doc.trim().split("\n\n")[0] ?? "").replaceAll("\n", " ");
  return `${(line.split(". ")[0] ?? "").replace(/\.$/, "")}.`;
}

export interface FlawGroup {
  weight: Flaw["weight"];
  fault: string;
  do: string;
  /** Where in the sheet and what there; the first few of many. */
  places: string;
}

/** Return flaws with those of the same sort together, worst first. */
export function grouped(flaws: readonly Flaw[], most = 4): FlawGroup[] {
  const order: Flaw["weight"][] = ["wrong", "doubtful", "note"];
  const groups = new Map<string, Flaw[]>();
  for (const flaw of flaws) groups.set(flaw.lint, [...(groups.get(flaw.lint) ?? []), flaw]);
  return [...groups.values()]
    .map((group) => ({ ...group[0]!, places: placesOf(group, most) }))
    .sort((a, b) => order.indexOf(a.weight) - order.indexOf(b.weight))
    .map(({ weight, fault, do: cure, places }) => ({ weight, fault, do: cure, places }));
}

/** Return where flaws of one sort stand; what is said of all of them alike is said once. */
function placesOf(flaws: readonly Flaw[], most: number): string {
  const shown = flaws.length <= most + 1 ? flaws : flaws.slice(0, most);
  const more = flaws.length === shown.length ? "" : ` and ${flaws.length - shown.length} more`;
  const isAlike = flaws.every((flaw) => flaw.message === flaws[0]!.message);
  return isAlike
    ? `${shown.map((flaw) => flaw.at).join(", ")}${more}: ${flaws[0]!.message}`
    : `${shown.map((flaw) => `${flaw.at}: ${flaw.message}`).join("; ")}${more}`;
}
