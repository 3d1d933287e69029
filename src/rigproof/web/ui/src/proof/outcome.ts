/** What has come of a fix: told from the findings before and after, so that nothing is said that was not found. */
import type { Finding } from "../shared/types";
import { keyOf } from "./order";

export interface Outcome {
  isGone: boolean;
  /** Findings that were not there before, undeclined. */
  fresh: string[];
  /** Other findings that went with it. */
  also: string[];
}

const open = (findings: readonly Finding[]): string[] =>
  findings.filter((finding) => finding.declined === null).map(keyOf);

export function outcomeOf(
  fixed: { finding: string; at: string },
  before: readonly Finding[],
  after: readonly Finding[],
): Outcome {
  const key = keyOf(fixed);
  const [was, is] = [open(before), open(after)];
  return {
    isGone: !is.includes(key),
    fresh: is.filter((one) => !was.includes(one)),
    also: was.filter((one) => one !== key && !is.includes(one)),
  };
}

/** Return an outcome in words. */
export function outcomeWords(outcome: Outcome): string {
  const parts = [outcome.isGone ? "The finding is gone." : "The finding is still there."];
  if (outcome.also.length > 0) parts.push(`Gone with it: ${outcome.also.join(", ")}.`);
  parts.push(
    outcome.fresh.length > 0 ? `New now: ${outcome.fresh.join(", ")}.` : "Nothing new came of it.",
  );
  return parts.join(" ");
}
