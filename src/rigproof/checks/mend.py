"""Mend: make the fixes of findings one after the other, each on what the ones before have left.

A fix is computed for the project as it stands, so after each that is made all checks are asked again: what one fix has
cured needs no second one, and the next is computed anew.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from rigproof.checks.base import Bench, Check, Finding
from rigproof.checks.run import run_all
from rigproof.model.edits import apply_edits
from rigproof.model.project import Project


@dataclass(frozen=True, slots=True)
class Mending:
    """What became of a project's fixes."""

    project: Project
    """The project with those that were made."""
    made: tuple[Finding, ...]
    """In the order in which they were made, each as it was found then."""
    left: tuple[Finding, ...]
    """What still has a fix afterwards and nobody has declined."""


Wants = Callable[[Finding], bool]


def named(names: Collection[str], at: str | None = None) -> Wants:
    """Return what wants the findings of these names, at one place only where one is given."""
    return lambda finding: finding.check in names and at in (None, finding.at)


def mend(project: Project, checks: Collection[Check], wants: Wants | None = None) -> Mending:
    """Make the fixes that are wanted; without a wish those that are safe and bring nothing new.

    Each finding is mended once at most, so a fix that does not hold cannot go round for ever.
    """
    made: list[Finding] = []
    tried: set[tuple[str, str]] = set()
    found = _open(project, checks)
    while True:
        one = next((f for f in found if _key(f) not in tried and _is_wanted(f, wants)), None)
        if one is None or one.fix is None:
            return Mending(project, tuple(made), tuple(f for f in found if f.fix is not None))
        tried.add(_key(one))
        after = apply_edits(project, one.fix.edits)
        again = _open(after, checks)
        if wants is None and not {_key(f) for f in again} <= {_key(f) for f in found}:
            continue
        project, found = after, again
        made.append(one)


def _key(finding: Finding) -> tuple[str, str]:
    return finding.check, finding.at


def _is_wanted(finding: Finding, wants: Wants | None) -> bool:
    if finding.fix is None:
        return False
    return finding.fix.is_safe if wants is None else wants(finding)


def _open(project: Project, checks: Collection[Check]) -> list[Finding]:
    """Return what is found and not declined."""
    return [f for f in run_all(Bench.of(project), checks) if f.declined is None]
