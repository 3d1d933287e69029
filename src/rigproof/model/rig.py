"""Rig: what the performer owns. Case, supply, modules in their places, controllers, interface, box of cables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigproof.errors import NOWHERE, Where

RAILS = ("+12V", "-12V", "+5V")
"""The rails of a supply, as sheets and rigs name them."""
HP_MM = 5.08
"""Width of one HP. IEC 60297-3 (0.2 inch). [mm]"""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the case: its width and the depth free below the panels."""

    hp: int
    depth_mm: float
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Supply:
    """What the supply can give on each rail, and the share of it to keep free."""

    rails_ma: Mapping[str, float] = field(default_factory=dict)
    headroom_ratio: float = 0.2
    """Share of each rail to keep free: 20 to 30 %. Common practice, no source."""
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Mounted:
    """A module in the case: row from 1, left edge in HP from 0, `turned` when it hangs upside down."""

    id: str
    sheet: str
    row: int
    hp: int
    turned: bool = False
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Outside:
    """A thing that stands beside the case: a controller, an interface or a desk."""

    id: str
    sheet: str
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class CableStock:
    """So many cables of one lead and length in the box."""

    lead: str
    cm: int
    count: int
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Rig:
    """What the performer owns."""

    name: str
    rows: tuple[Row, ...] = ()
    supply: Supply | None = None
    modules: tuple[Mounted, ...] = ()
    outside: tuple[Outside, ...] = ()
    cables: tuple[CableStock, ...] = ()
    programs: tuple[Outside, ...] = ()
    """What runs inside the hosts, as `host/program`; only a project with its insides unfolded has any."""
    where: Where = NOWHERE

    @property
    def sheet_names(self) -> dict[str, str]:
        """The sheet of every module, controller and interface by id; the first wins where an id stands twice."""
        names: dict[str, str] = {}
        things: tuple[Mounted | Outside, ...] = (*self.modules, *self.outside, *self.programs)
        for thing in things:
            names.setdefault(thing.id, thing.sheet)
        return names
