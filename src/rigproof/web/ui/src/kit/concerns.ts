/** Which findings are about a thing of the rig. */
import type { Finding } from "../shared/types";

/** Return whether the place of a finding names a thing: `osc`, `osc.saw to vca.in`, `osc and vca`. */
export function names(at: string, id: string): boolean {
  const escaped = id.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
  return new RegExp(`(?<![\\w./-])${escaped}(?![\\w-])`, "u").test(at);
}

/** Return the findings about a thing that are not declined, in the order of the proof. */
export const concerning = (findings: readonly Finding[], id: string): Finding[] =>
  findings.filter((finding) => finding.declined === null && names(finding.at, id));
