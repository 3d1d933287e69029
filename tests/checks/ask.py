"""Ask one check about one rig."""

from __future__ import annotations

from rigproof.checks import CHECKS, Bench, Finding, run_checks
from rigproof.model.project import Project


def findings(name: str, project: Project) -> list[Finding]:
    """What one check finds."""
    return run_checks(Bench.of(project), [CHECKS[name]])


def only(name: str, project: Project) -> Finding:
    """The one thing that a check finds."""
    (finding,) = findings(name, project)
    return finding


def bench_of(project: Project) -> Bench:
    """The bench of a project, for questions that checks share."""
    return Bench.of(project)
