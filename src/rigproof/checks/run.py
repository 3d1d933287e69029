"""The runner: every check on one bench; then once and for all: names, order, no doubles, and what is declined."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from rigproof.checks.base import Bench, Check, Finding
from rigproof.model.edits import apply_edits


def run_all(bench: Bench, checks: Iterable[Check]) -> list[Finding]:
    """Return the findings of the checks: worst first, then in the order of the checks, then by place.

    Of two findings with the same check and place the first stays. A finding that the patch declines stays in the list,
    with the reason in `declined`. What lies in a library sheet is told of the project's own lines. A fix on a rig with
    feedback is tried before it is offered, and left out when it does not hold: what a loop settles to cannot be worked
    out at one place.
    """
    has_loop = any(part.is_loop for part in bench.net.components)
    reasons = {(d.finding, d.at): d.reason for d in bench.project.patch.declined}
    found: dict[tuple[str, str], Finding] = {}
    order: dict[str, int] = {}
    for check in checks:
        order.setdefault(check.name, len(order))
        for finding in check(bench):
            key = (check.name, finding.at)
            if key not in found:
                keeps_fix = not has_loop or holds(bench, check, finding)
                found[key] = replace(
                    finding,
                    check=check.name,
                    severity=check.severity,
                    declined=reasons.get(key),
                    fix=finding.fix if keeps_fix else None,
                    where=bench.line_of_ones_own(finding.at, finding.where),
                )
    return sorted(
        found.values(), key=lambda f: (f.severity.rank, order[f.check], natural_key(f.at))
    )


def holds(bench: Bench, check: Check, finding: Finding) -> bool:
    """Return whether a finding's fix, once applied, silences the finding; there is nothing to hold without a fix."""
    if finding.fix is None:
        return True
    mended = Bench.of(apply_edits(bench.project, finding.fix.edits))
    return all(other.at != finding.at for other in check(mended))


def natural_key(text: str) -> list[tuple[int, str]]:
    """Return a sort key by which `in-2` stands before `in-10`.

    >>> sorted(["in-10", "in-2"], key=natural_key)
    ['in-2', 'in-10']
    """
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", text)]
