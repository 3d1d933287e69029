"""Pulse: for every row of the net, the pulses on it as exact fractions of a quarter note; and the patch's own cycle.

A loop is read from silence; pulses that keep changing each time round are called irregular.

Source: exact arithmetic of fractions; lcm(a/b, c/d) = lcm(a, c)/gcd(b, d) in lowest terms (definition).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Pulse
from rigproof.net.graph import Component, Net
from rigproof.readings.walk import carried_rows

LOOP_ROUNDS = 4
"""Times round a loop before what still changes is called irregular."""


def read_pulses(net: Net) -> tuple[Pulse, ...]:
    """Return the pulses on each row."""
    pulses = [NO_PULSE] * len(net.rows)
    for part in net.components:
        if part.is_loop:
            _read_loop(net, pulses, part)
        else:
            _read_part(net, pulses, part)
    return tuple(pulses)


def _read_part(net: Net, pulses: list[Pulse], part: Component) -> None:
    for index in part.sections:
        section = net.sections[index]
        found = section.kind.rate([pulses[r] for r in section.ins], section.setting)
        if found is None:
            found = [NO_PULSE] * len(section.outs)
        for row, pulse in zip(section.outs, found, strict=True):
            pulses[row] = pulse


def _read_loop(net: Net, pulses: list[Pulse], part: Component) -> None:
    held = dict.fromkeys(carried_rows(net, part), NO_PULSE)
    number = 0
    while True:
        pulses_before = dict(held)
        for row, pulse in held.items():
            pulses[row] = pulse
        _read_part(net, pulses, part)
        number += 1
        for row, before in pulses_before.items():
            if pulses[row] == before or before == IRREGULAR:
                continue
            # Each row is called irregular once at most, so this ends.
            held[row] = pulses[row] if number <= LOOP_ROUNDS else IRREGULAR
        if held == pulses_before:
            return


def lcm_of(a: Fraction, b: Fraction) -> Fraction:
    """Return the least common multiple of two positive fractions.

    >>> lcm_of(Fraction(3, 4), Fraction(1, 2))
    Fraction(3, 2)
    """
    return Fraction(math.lcm(a.numerator, b.numerator), math.gcd(a.denominator, b.denominator))


@dataclass(frozen=True, slots=True)
class Track:
    """Pulses that a section makes, and how long until they come again."""

    name: str
    row: int
    pulse: Pulse


@dataclass(frozen=True, slots=True)
class Cycle:
    """How long until the whole patch repeats."""

    quarters: Fraction | None
    """Quarter notes until every track that is locked to the tempo is back at its start; None without such tracks."""
    bars: Fraction | None
    """The same in bars of the set, or of four quarters without one."""
    locked: tuple[Track, ...]
    """The tracks locked to the tempo."""
    free: tuple[Track, ...]
    """The tracks that run by themselves or irregularly: with these the others never meet for certain."""
    by_chance: tuple[Track, ...]
    """Those of the locked ones where chance leaves pulses out: the pattern repeats, what sounds does not."""

    @property
    def repeats(self) -> bool:
        """Whether the patch comes back exactly to its start at all."""
        return self.quarters is not None and not self.free and not self.by_chance


def tracks(net: Net, pulses: Sequence[Pulse]) -> tuple[Track, ...]:
    """Return every section output that pulses; what the net itself adds only passes pulses on and is left out."""
    return tuple(
        Track(net.rows[row].name, row, pulses[row])
        for section in net.sections
        if not section.kind.is_internal
        for row in section.outs
        if pulses[row].beat is not Beat.NONE
    )


def patch_cycle(net: Net, pulses: Sequence[Pulse] | None = None) -> Cycle:
    """Return how long the patch takes to repeat, exactly."""
    found = tracks(net, pulses if pulses is not None else read_pulses(net))
    locked = tuple(
        t
        for t in found
        if t.pulse.beat in (Beat.STEADY, Beat.PATTERN) and t.pulse.cycle_quarters is not None
    )
    free = tuple(t for t in found if t not in locked)
    quarters: Fraction | None = None
    for track in locked:
        cycle = track.pulse.cycle_quarters
        assert cycle is not None  # locked tracks have one
        quarters = cycle if quarters is None else lcm_of(quarters, cycle)
    setlist = net.project.setlist
    beats = setlist.beats_per_bar if setlist is not None else 4
    return Cycle(
        quarters,
        None if quarters is None else quarters / beats,
        locked,
        free,
        tuple(t for t in locked if t.pulse.chance < 1.0),
    )


def meet_quarters(first: Pulse, second: Pulse) -> Fraction | None:
    """Return after how many quarter notes two tracks start together again; None when nobody can say."""
    if first.cycle_quarters is None or second.cycle_quarters is None:
        return None
    if Beat.FREE in (first.beat, second.beat) or Beat.IRREGULAR in (first.beat, second.beat):
        return None
    return lcm_of(first.cycle_quarters, second.cycle_quarters)
