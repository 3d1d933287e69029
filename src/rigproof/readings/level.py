"""Level: for every row of the net, what is typical there: peaks, mean and RMS; and the headroom at the way out.

Sections are read in running order, each by its kind's level law, and never outside the proved volts, with every control
where it stands in the patch. What turns messages into volts stands where the control that sends them stands. A loop
goes round until its levels settle; since powers and means approach their end geometrically, it is jumped to from three
rounds.

What dies away is told at the top of its hits (`Level.hit_v`), from its envelope and not from its RMS. In a sum the
strongest hit is at its top and all else at twice its RMS. Left out: hits that meet on one beat, 3 dB more for two
equal ones and 6 dB for three, as nobody is asked when each comes; and the ringing of waves with jumps, up to 1.4 dB.

Source: sums of unlike signals add by power (definition of RMS); dBu and dBFS as in `units`; Aitken's delta-squared
process (1926) for the jump.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rigproof.kinds.base import SILENT, Level, Span
from rigproof.net.graph import Component, Net
from rigproof.readings.messages import Sayings
from rigproof.readings.volts import read_volts
from rigproof.readings.walk import carried_rows, input_names
from rigproof.units import db_from_ratio, dbu_from_v_rms, v_rms_from_dbu

LOOP_ROUNDS = 12
"""No loop is gone round more often."""
SETTLED_RATIO = 1e-3
"""A loop has settled when nothing moves by more than this share of its peak: 0.009 dB."""
FULL_SCALE = "full-scale"
"""The parameter by which an ear states its full scale: the level of a sine that just fits. [dBu]"""


def read_level(
    net: Net,
    *,
    volts: Sequence[Span] | None = None,
    pinned: Mapping[int, Level] | None = None,
) -> tuple[Level, ...]:
    """Return what is typical on each row. [V]

    `volts` is the volts reading when it is already there. `pinned` gives rows a level of the caller's own.
    """
    reader = LevelReader(net, volts if volts is not None else read_volts(net), pinned or {})
    for part in net.components:
        if part.is_loop:
            reader.read_loop(part)
        else:
            reader.read_part(part)
    return tuple(reader.levels)


class LevelReader:
    """Reads a net part by part; whoever goes on with it may read parts again when something in them has changed."""

    def __init__(self, net: Net, volts: Sequence[Span], pinned: Mapping[int, Level]) -> None:
        self.net = net
        self.volts = volts
        self.pinned = pinned
        self.sayings = Sayings()
        self.levels = [
            SILENT if row.steady_v is None else Level.steady(row.steady_v) for row in net.rows
        ]
        for row, level in pinned.items():
            self.levels[row] = level

    def read_part(self, part: Component) -> None:
        """Read every section of a part once, in order."""
        rows, levels, pinned = self.net.rows, self.levels, self.pinned
        for index in part.sections:
            section = self.net.sections[index]
            found: Sequence[Level] | None = self.sayings.pass_through(section)
            if found is None:
                found = section.kind.level([levels[r] for r in section.ins], section.setting)
            for row, level in zip(section.outs, found, strict=True):
                if row not in pinned and not rows[row].is_midi:
                    span = self.volts[row]
                    is_inside = span.lo <= level.lo_v and level.hi_v <= span.hi
                    levels[row] = level if is_inside else level.clipped(span.lo, span.hi)

    def read_loop(self, part: Component) -> None:
        """Go round a loop from silence until its levels settle."""
        rows = [
            r
            for r in carried_rows(self.net, part)
            if not self.net.rows[r].is_midi and r not in self.pinned
        ]
        held = [[SILENT for _ in rows]]
        for number in range(1, LOOP_ROUNDS + 1):
            for row, level in zip(rows, held[-1], strict=True):
                self.levels[row] = level
            self.read_part(part)
            found = [self.levels[r] for r in rows]
            if all(_is_settled(a, b) for a, b in zip(held[-1], found, strict=True)):
                return
            held.append(found)
            if number % 3 == 0:
                held.append(
                    [
                        _jumped(*last).clipped(self.volts[row].lo, self.volts[row].hi)
                        for row, last in zip(
                            rows, zip(held[-3], held[-2], held[-1], strict=True), strict=True
                        )
                    ]
                )


def _is_settled(a: Level, b: Level) -> bool:
    close_v = SETTLED_RATIO * max(a.peak_v, b.peak_v)
    return (
        abs(a.lo_v - b.lo_v) <= close_v
        and abs(a.hi_v - b.hi_v) <= close_v
        and abs(a.dc_v - b.dc_v) <= close_v
        and abs(a.rms_v - b.rms_v) <= close_v
        and abs(a.hit_v - b.hit_v) <= close_v
        and abs(a.under_v - b.under_v) <= close_v
    )


def _jumped(first: Level, second: Level, third: Level) -> Level:
    """Return where three rounds seem to head for, part by part; powers and not RMS values approach evenly."""
    lo = _limit(first.lo_v, second.lo_v, third.lo_v)
    hi = _limit(first.hi_v, second.hi_v, third.hi_v)
    dc = _limit(first.dc_v, second.dc_v, third.dc_v)
    power = _limit(first.rms_v**2, second.rms_v**2, third.rms_v**2)
    under = _limit(first.under_v**2, second.under_v**2, third.under_v**2)
    hit = _limit(first.hit_v, second.hit_v, third.hit_v)
    lo, hi = min(lo, hi), max(lo, hi)
    rms, under = math.sqrt(max(0.0, power)), math.sqrt(max(0.0, under))
    return Level(lo, hi, min(max(dc, lo), hi), rms, max(0.0, hit), under)


def _limit(first: float, second: float, third: float) -> float:
    one, two = second - first, third - second
    if abs(two) >= 0.999 * abs(one) or one == two:
        return third
    return third + two * two / (one - two)


@dataclass(frozen=True, slots=True)
class Headroom:
    """What arrives at one input of an ear, against its full scale."""

    section: str
    port: str
    row: int
    level: Level
    full_scale_dbu: float | None
    """The level of a sine that just fits; None where the ear states none. [dBu]"""
    typical_dbu: float
    """RMS about the mean, while it sounds. [dBu]"""
    typical_dbfs: float | None
    """The same against the RMS of a sine at full scale. [dBFS]"""
    peak_dbfs: float | None
    """The typical peak against full scale. [dBFS]"""
    headroom_db: float | None
    """From the typical peak to full scale; below 0 it clips. [dB]"""
    proved_headroom_db: float | None
    """From the highest voltage that is possible at all to full scale. [dB]"""


def full_scale_peak_v(full_scale_dbu: float) -> float:
    """Return the peak of a sine at full scale. [V]"""
    return math.sqrt(2.0) * v_rms_from_dbu(full_scale_dbu)


def read_headroom(net: Net, volts: Sequence[Span], levels: Sequence[Level]) -> tuple[Headroom, ...]:
    """Return what arrives at every input of every ear, in the order of the net."""
    found = []
    for section in net.ears:
        full_dbu = section.setting.values.get(FULL_SCALE)
        names = input_names(section.kind, section.setting.ways)
        for port, row in zip(names, section.ins, strict=True):
            level, dbu = levels[row], dbu_from_v_rms(levels[row].rms_v)
            if full_dbu is None:
                found.append(
                    Headroom(section.name, port, row, level, None, dbu, None, None, None, None)
                )
                continue
            peak_dbfs = db_from_ratio(level.peak_v / full_scale_peak_v(full_dbu))
            proved_dbfs = db_from_ratio(volts[row].peak / full_scale_peak_v(full_dbu))
            found.append(
                Headroom(
                    section.name,
                    port,
                    row,
                    level,
                    full_dbu,
                    dbu,
                    dbu - full_dbu,
                    peak_dbfs,
                    -peak_dbfs,
                    -proved_dbfs,
                )
            )
    return tuple(found)
