/** Which findings are shown, in which groups: by severity, the declined ones apart. */
import type { Finding, Severity } from "../shared/types";

export type GroupId = Severity | "declined";
export interface Group {
  id: GroupId;
  title: string;
  findings: Finding[];
}

const TITLES: readonly (readonly [GroupId, string])[] = [
  ["stops-the-show", "Stops the show"],
  ["hurts", "Hurts"],
  ["worth-knowing", "Worth knowing"],
  ["declined", "Declined"],
];

export interface Filter {
  text: string;
  /** A family of checks, or empty for all. */
  family: string;
  /** A module, or empty for all. */
  module: string;
}

/** Return what identifies a finding: its name and its place. */
export const keyOf = (finding: { finding: string; at: string }): string =>
  `${finding.finding} @ ${finding.at}`;

/** Return whether a finding stands at a module, or its message or fix speaks of it. */
export function concerns(finding: Finding, module: string): boolean {
  const name = module.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
  const whole = new RegExp(`(^|[^a-z0-9-])${name}($|[^a-z0-9-])`);
  return [finding.at, finding.message, finding.fix?.words ?? ""].some((text) => whole.test(text));
}

/** Return whether a finding passes a filter; every word that was typed has to stand in it somewhere. */
export function passes(finding: Finding, filter: Filter): boolean {
  if (filter.family !== "" && finding.family !== filter.family) return false;
  if (filter.module !== "" && !concerns(finding, filter.module)) return false;
  const all =
    `${finding.finding} ${finding.at} ${finding.message} ${finding.fix?.words ?? ""}`.toLowerCase();
  return filter.text
    .toLowerCase()
    .split(/\s+/)
    .every((word) => all.includes(word));
}

/** Return the findings that pass, in their groups; within a group they keep the order of the server. */
export function grouped(findings: readonly Finding[], filter: Filter): Group[] {
  const shown = findings.filter((finding) => passes(finding, filter));
  return TITLES.map(([id, title]) => ({
    id,
    title,
    findings: shown.filter(
      (finding) => (finding.declined === null ? finding.severity : "declined") === id,
    ),
  }));
}

/** Return the one that stands a step further in a list, without going round; the first where none is chosen. */
export function stepped<T>(list: readonly T[], now: number, step: number): T | undefined {
  return list[Math.min(list.length - 1, Math.max(0, now < 0 ? 0 : now + step))];
}

/** Return the verdict over a whole rig: what stops the show alone decides, but no sound is nothing to play. */
export function verdict(
  counts: Record<Severity, number>,
  isSilentRig: boolean,
): { isFit: boolean; words: string } {
  const stops = counts["stops-the-show"];
  if (stops === 1) return { isFit: false, words: "One thing stops the show" };
  if (stops > 1) return { isFit: false, words: `${stops} things stop the show` };
  if (isSilentRig) return { isFit: false, words: "No sound comes out yet" };
  const hurts = counts.hurts;
  return {
    isFit: true,
    words:
      hurts === 0
        ? "Fit to play"
        : `Fit to play, and ${hurts === 1 ? "one thing hurts" : `${hurts} things hurt`}`,
  };
}
