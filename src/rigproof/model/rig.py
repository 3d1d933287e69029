"""Rig: what the performer owns. Case, supply, modules in their places, controllers, interface, box of cables."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from rigproof.errors import NOWHERE, Where

RAILS = ("+12V", "-12V", "+5V")
"""The rails of a supply, as sheets and rigs name them."""
RIBBONS = ("10-way", "16-way")
"""Ribbons from the bus to a module: the ten-way one carries +12V and -12V, the other one +5V too. Common practice, no
source."""
COPPER_OHM_MM2_M = 1.0 / 58.0
"""Resistivity of annealed copper at 20 C. IEC 60028 (1925). [ohm mm2/m]"""
HP_MM = 5.08
"""Width of one HP. IEC 60297-3 (0.2 inch). [mm]"""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the case: its width and the depth free below the panels."""

    hp: int
    depth_mm: float
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Board:
    """A bus board: the modules that hang on it, the lead from the supply to it, and what it may carry."""

    id: str
    modules: tuple[str, ...] = ()
    lead_cm: float | None = None
    mm2: float | None = None
    """Cross-section of each conductor of the lead. [mm2]"""
    limit_ma: Mapping[str, float] = field(default_factory=dict)
    """What board, fuse or connector may carry on a rail. [mA]"""
    where: Where = NOWHERE

    @property
    def lead_ohm(self) -> float | None:
        """Resistance of one conductor of the lead at 20 C, or None when length or cross-section is not known. [ohm]"""
        if self.lead_cm is None or self.mm2 is None:
            return None
        return COPPER_OHM_MM2_M * self.lead_cm / 100.0 / self.mm2


def mm2_from_awg(awg: int) -> float:
    """Return the cross-section of a wire gauge. ASTM B258: diameter 0.127 mm times 92^((36 - n)/39). [mm2]

    >>> round(mm2_from_awg(18), 3)
    0.823
    """
    return float(0.25 * math.pi * (0.127 * 92.0 ** ((36 - awg) / 39)) ** 2)


@dataclass(frozen=True, slots=True)
class Supply:
    """What the supply can give on each rail, and the share of it to keep free."""

    rails_ma: Mapping[str, float] = field(default_factory=dict)
    headroom_ratio: float = 0.2
    """Share of each rail to keep free: 20 to 30 %. Common practice, no source."""
    where: Where = NOWHERE
    surge_ma: Mapping[str, float] = field(default_factory=dict)
    """What it bears for some milliseconds at switch-on, where its maker says so. [mA]"""
    boards: tuple[Board, ...] = ()


@dataclass(frozen=True, slots=True)
class Mounted:
    """A module in the case: row from 1, left edge in HP from 0, `turned` when it hangs upside down."""

    id: str
    sheet: str
    row: int
    hp: int
    turned: bool = False
    where: Where = NOWHERE
    ribbon: str | None = None
    """Which of RIBBONS joins it to the bus; None where nobody says."""


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
