"""What a lint of a module sheet is: a function with a name that reads one described module and yields flaws.

A flaw is no error: the sheet loads and can be played. It is a figure that nobody wrote, a place where nothing fits, or
a section that nobody hears, and whatever is computed from the sheet is as wrong as it is. A lint's docstring is what
the performer reads: the fault in the first line, then `Why:`, `Do:` and `Source:`.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from rigproof.checks.told import read_parts, table_of
from rigproof.errors import NOWHERE, Where
from rigproof.model.sheet import Control, ControlShape, Housing, Jack, Plug, Sheet
from rigproof.net.sheets import SheetPlan


class Weight(StrEnum):
    """How much a flaw matters, worst first."""

    WRONG = "wrong"
    """What is computed from the sheet is not to be trusted."""
    DOUBTFUL = "doubtful"
    """It may be so, and is worth a look into the manual."""
    NOTE = "note"
    """What the sheet takes for granted."""

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return list(Weight).index(self)


@dataclass(frozen=True)
class Described:
    """A module as its sheet describes it, and what the lints need beside."""

    sheet: Sheet
    plan: SheetPlan
    written: frozenset[str]
    """Every key that stands in the file, such as `typical` or `jacks.out.resistance_ohm`."""
    library: Mapping[str, Sheet] = field(default_factory=dict)

    def has_panel(self) -> bool:
        """Whether there is a panel to put things on."""
        return self.sheet.housing is not Housing.PROGRAM

    def panel_jacks(self) -> list[Jack]:
        """Return the jacks of the panel: none inside a host, no ribbon behind it."""
        return [
            j for j in self.sheet.jacks.values() if not j.is_inside and j.plug is not Plug.RIBBON
        ]

    def panel_controls(self) -> list[Control]:
        """Return the controls of the panel: no menus."""
        return [c for c in self.sheet.controls.values() if c.shape is not ControlShape.MENU]


@dataclass(frozen=True, slots=True)
class Flaw:
    """One thing a lint has found: where in the sheet, and what."""

    at: str
    message: str
    where: Where = NOWHERE
    lint: str = ""
    """Name and weight of the lint: the runner puts them here."""
    weight: Weight = Weight.NOTE


Run = Callable[[Described], Iterator[Flaw]]
PARTS = ("Why", "Do", "Source")


@dataclass(frozen=True, slots=True)
class Lint:
    """One thing that can be amiss with a sheet, under a stable name that says the fault."""

    name: str
    weight: Weight
    run: Run
    parts: Mapping[str, str]
    """`Fault`, `Why`, `Do` and `Source`, as its docstring tells them."""


def lint(name: str, weight: Weight) -> Callable[[Run], Lint]:
    """Make a lint out of a function."""

    def made(run: Run) -> Lint:
        return Lint(name, weight, run, read_parts(inspect.getdoc(run) or "", PARTS))

    return made


def lints_in(*families: object) -> dict[str, Lint]:
    """Return the table of all lints in the modules; raises `ValueError` on a name used twice."""
    return table_of(Lint, families)
