"""Lints of module sheets: figures, panel and what is inside. `lint_sheet` runs them all over one described module."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rigproof.checks.sheet import circuit, figures, panel
from rigproof.checks.sheet.base import Described, Flaw, Lint, Weight, lints_in
from rigproof.model.sheet import Sheet
from rigproof.net.sheets import plan_sheet

LINTS: dict[str, Lint] = lints_in(figures, panel, circuit)
"""All of them, by name."""


def describe(
    sheet: Sheet, *, written: frozenset[str], library: Mapping[str, Sheet] | None = None
) -> Described:
    """Return a sheet ready for the lints; `plan.errors` says what is wrong with it."""
    return Described(sheet, plan_sheet(sheet), written, library or {})


def lint_sheet(module: Described) -> list[Flaw]:
    """Return what the lints find, worst first, then in the order of the table."""
    found = [
        replace(flaw, lint=lint.name, weight=lint.weight)
        for lint in LINTS.values()
        for flaw in lint.run(module)
    ]
    return sorted(found, key=lambda flaw: flaw.weight.rank)


__all__ = ["LINTS", "Described", "Flaw", "Lint", "Weight", "describe", "lint_sheet"]
