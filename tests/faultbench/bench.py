"""Plant every fault, check, mend, check again; `python -m tests.faultbench.bench` prints the table."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from rigproof.checks import Bench, Finding, Severity, run_checks
from rigproof.model.edits import apply_edits
from rigproof.model.project import Project
from tests.faultbench.clean_rigs import DEMO, load, write_large, write_small
from tests.faultbench.faults import Fault
from tests.faultbench.planted import FAULTS

WEAKER = {"interface-overloaded": ("interface-can-clip", "clips-with-all-up")}
"""What is told of a signal only where the stronger finding is not: what is possible, once what is typical fits."""


@dataclass(frozen=True)
class Row:
    """What became of one fault."""

    fault: Fault
    found: tuple[str, ...]
    """What was found that the clean rig did not have, as `finding at place`."""
    is_found: bool
    has_fix: bool
    is_mended: bool
    """The fix ended it; true where there is none."""
    new: tuple[str, ...]
    """What the fix brought that was not there before."""

    @property
    def is_right(self) -> bool:
        """Whether it was found in the right place, and its fix, if it has one, mends it and nothing else breaks."""
        return self.is_found and self.is_mended and not self.new

    @property
    def text(self) -> str:
        """The row for people."""
        fix = (
            "mended"
            if self.has_fix and self.is_mended
            else "no fix"
            if not self.has_fix
            else "NOT MENDED"
        )
        verdict = "ok" if self.is_right else "FAILS"
        says = f"{self.fault.finding} at {self.fault.at}"
        also = len(self.found) - self.is_found
        return (
            f"{verdict:5} {self.fault.rig:5}  {self.fault.title:38} {says:58} {fix:10} "
            f"{f'and {also} more' if also else ''}"
        )


def named(findings: Sequence[Finding]) -> set[str]:
    """Return findings as `finding at place`."""
    return {f"{f.check} at {f.at}" for f in findings}


def clean_rigs(folder: Path) -> dict[str, Project]:
    """Return the clean rigs, those that a script makes written into a folder first."""
    demo = load(DEMO)
    return {
        "demo": demo,
        "case": replace(
            demo, setlist=None
        ),  # the same without its set, for faults that no set can show
        "small": load(write_small(folder / "small")),
        "large": load(write_large(folder / "large")),
    }


def plant(fault: Fault, clean: Project, before: set[str]) -> Row:
    """Plant one fault in its rig, which says `before` when it is clean."""
    spoilt = fault.plant(clean)
    findings = run_checks(Bench.of(spoilt))
    hit = next((f for f in findings if (f.check, f.at) == (fault.finding, fault.at)), None)
    is_mended, new = True, set[str]()
    if hit is not None and hit.fix is not None:
        after = named(run_checks(Bench.of(apply_edits(spoilt, hit.fix.edits))))
        is_mended = f"{fault.finding} at {fault.at}" not in after
        weaker = {f"{name} at " for name in WEAKER.get(fault.finding, ())}
        new = {
            one
            for one in after - named(findings) - before
            if not any(one.startswith(name) for name in weaker)
        }
    return Row(
        fault,
        tuple(sorted(named(findings) - before)),
        hit is not None and f"{fault.finding} at {fault.at}" not in before,
        hit is not None and hit.fix is not None,
        is_mended,
        tuple(sorted(new)),
    )


def loud(project: Project) -> list[Finding]:
    """Return what is said about a clean rig above worth-knowing."""
    findings = run_checks(Bench.of(project))
    return [f for f in findings if f.severity is not Severity.WORTH_KNOWING]


def run(folder: Path) -> list[Row]:
    """Plant all faults; return what became of them."""
    rigs = clean_rigs(folder)
    before = {name: named(run_checks(Bench.of(project))) for name, project in rigs.items()}
    return [plant(fault, rigs[fault.rig], before[fault.rig]) for fault in FAULTS]


def main() -> int:
    """Print the table; fail when a row does."""
    with tempfile.TemporaryDirectory() as folder:
        rows = run(Path(folder))
    for row in rows:
        print(row.text.rstrip())
        if not row.is_right:
            print(
                f"        found: {', '.join(row.found) or 'nothing'}; new after the fix: {row.new}"
            )
    right = sum(row.is_right for row in rows)
    print(f"{right} of {len(rows)} faults found in the right place")
    return 0 if right == len(rows) else 1


if __name__ == "__main__":
    sys.exit(main())
