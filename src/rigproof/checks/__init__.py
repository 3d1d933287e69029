"""Checks: what can be wrong with a rig, each under a stable name, with numbers and, where honest, a computed fix."""

from __future__ import annotations

from collections.abc import Iterable

from rigproof.checks import (
    cables,
    clocks,
    copies,
    delays,
    distribution,
    fit,
    gestures,
    levels,
    midi,
    mix,
    power,
    rhythm,
    starts,
)
from rigproof.checks.base import Bench, Check, Finding, Fix, Severity, checks_in
from rigproof.checks.run import run_all

CHECKS: dict[str, Check] = checks_in(
    power,
    distribution,
    fit,
    cables,
    copies,
    levels,
    starts,
    mix,
    delays,
    clocks,
    rhythm,
    midi,
    gestures,
)
"""Every check by its name, in the order in which findings of like severity stand."""


def run_checks(bench: Bench, checks: Iterable[Check] | None = None) -> list[Finding]:
    """Return what the checks find on a bench, worst first; all checks unless some are named."""
    return run_all(bench, CHECKS.values() if checks is None else checks)


__all__ = ["CHECKS", "Bench", "Check", "Finding", "Fix", "Severity", "run_checks"]
