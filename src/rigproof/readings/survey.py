"""Survey: the whole patch in a few figures. What fills the case, loads the supply, leaves at the end and keeps time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rigproof.kinds.base import Beat, Pulse
from rigproof.model.project import Project
from rigproof.model.rig import RAILS
from rigproof.net.graph import Net, NetSection
from rigproof.net.timeline import Timeline, timeline
from rigproof.readings.level import Headroom
from rigproof.readings.over_set import LoudestBar, loudest_bars
from rigproof.readings.proof import Readings
from rigproof.readings.pulse import Cycle, tracks

LOCKED = (Beat.STEADY, Beat.PATTERN)
"""How pulses come that keep to the tempo."""


@dataclass(frozen=True, slots=True)
class RowUse:
    """How full a row of the case is. [HP]"""

    row: int
    hp: int
    used_hp: int

    @property
    def free_hp(self) -> int:
        """What is left; below zero when the modules are wider than the row."""
        return self.hp - self.used_hp


@dataclass(frozen=True, slots=True)
class RailUse:
    """How loaded a rail of the supply is. [mA]"""

    rail: str
    given_ma: float
    drawn_ma: float

    @property
    def free_ratio(self) -> float:
        """The share that is left; below zero when it is overloaded, zero where nothing is given."""
        return 1.0 - self.drawn_ma / self.given_ma if self.given_ma > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class ClockBranch:
    """Pulses that a section makes, under the pulses that it makes them from."""

    name: str
    """The jack where it comes out, else the section's output."""
    pulse: Pulse
    depth: int
    """0 for what keeps time by itself."""
    parent: str | None


@dataclass(frozen=True, slots=True)
class Survey:
    """The whole patch in a few figures."""

    rig: str
    patch: str
    setlist: str | None
    tempo_bpm: float
    modules: int
    outside: int
    """Controllers, interfaces and desks."""
    cables: int
    maps: int
    rows: tuple[RowUse, ...]
    rails: tuple[RailUse, ...]
    way_out: tuple[Headroom, ...]
    loudest: tuple[LoudestBar, ...]
    """The loudest bar of the set at each way out; empty without a set."""
    clocks: tuple[ClockBranch, ...]
    """In the order of a tree: each branch stands under its parent."""
    cycle: Cycle
    timeline: Timeline


def survey(readings: Readings) -> Survey:
    """Return the survey of a patch."""
    net = readings.net
    project = net.project
    rig, patch, setlist = project.rig, project.patch, project.setlist
    tempo = setlist.tempo_bpm if setlist is not None else None
    return Survey(
        rig=rig.name,
        patch=patch.name,
        setlist=setlist.name if setlist is not None else None,
        tempo_bpm=tempo or patch.tempo_bpm,
        modules=len(rig.modules),
        outside=len(rig.outside),
        cables=len(patch.cables),
        maps=len(patch.maps),
        rows=row_uses(project),
        rails=rail_uses(project),
        way_out=readings.headroom,
        loudest=loudest_bars(readings.headroom, readings.loudest) if setlist is not None else (),
        clocks=clock_tree(net, readings.pulses),
        cycle=readings.cycle,
        timeline=timeline(net),
    )


def row_uses(project: Project) -> tuple[RowUse, ...]:
    """Return how full each row of the case is."""
    rig = project.rig
    return tuple(
        RowUse(
            number,
            row.hp,
            sum(project.sheets[m.sheet].hp for m in rig.modules if m.row == number),
        )
        for number, row in enumerate(rig.rows, start=1)
    )


def rail_uses(project: Project) -> tuple[RailUse, ...]:
    """Return how loaded each rail is, of those that are given or drawn from."""
    rig = project.rig
    given = dict(rig.supply.rails_ma) if rig.supply is not None else {}
    drawn: dict[str, float] = {}
    for module in rig.modules:
        for rail, draw_ma in project.sheets[module.sheet].draw_ma.items():
            if draw_ma > 0.0:
                drawn[rail] = drawn.get(rail, 0.0) + draw_ma
    names = dict.fromkeys((*RAILS, *given, *drawn))
    return tuple(
        RailUse(rail, given.get(rail, 0.0), drawn.get(rail, 0.0))
        for rail in names
        if rail in given or rail in drawn
    )


def clock_tree(net: Net, pulses: Sequence[Pulse]) -> tuple[ClockBranch, ...]:
    """Return all that keeps time, each under the first of its inputs that pulses in turn.

    What pulses keeps time when it comes out at a plugged jack for pulses, or when something that does is made from it:
    so the waves of an oscillator are no clock, and an LFO that steps a sequencer is one.
    """
    found = {t.row: t for t in tracks(net, pulses)}
    jacks = {
        c.source_row: c
        for c in net.contacts.values()
        if c.source_row is not None and c.jack.signal.is_pulses
    }
    names = {row: jacks[row].name if row in jacks else t.name for row, t in found.items()}
    origins: dict[int, int | None] = {}
    for row in found:
        writer = net.rows[row].writer
        assert writer is not None  # tracks are outputs of sections
        origins[row] = _pulsing_source(net, net.sections[writer], set(found) - {row})
    kept: set[int] = set()
    for start in found:
        here = start if start in jacks and jacks[start].is_plugged else None
        while here is not None and here not in kept:
            kept.add(here)
            here = origins[here]
    parents = {row: origin for row, origin in origins.items() if row in kept}
    children: dict[int | None, list[int]] = {}
    for row, parent in parents.items():
        children.setdefault(parent, []).append(row)
    branches: list[ClockBranch] = []
    seen: set[int] = set()

    def walk(row: int, depth: int) -> None:
        todo = [(row, depth)]
        while todo:
            here, level = todo.pop()
            if here in seen:
                continue
            seen.add(here)
            parent = parents[here]
            branches.append(
                ClockBranch(
                    names[here],
                    found[here].pulse,
                    level,
                    None if parent is None else names[parent],
                )
            )
            todo.extend((child, level + 1) for child in reversed(children.get(here, [])))

    for row in children.get(None, []):
        walk(row, 0)
    for row in parents:  # what clocks itself in a ring has no root
        walk(row, 0)
    return tuple(branches)


def _pulsing_source(net: Net, section: NetSection, wanted: set[int]) -> int | None:
    """Return the first row of `wanted` that an input of a section reads, through what the net itself put in between."""
    own = set(section.outs)
    for first in section.ins:
        todo, seen = [first], set()
        while todo:
            row = todo.pop()
            if row in seen:
                continue
            seen.add(row)
            if row in wanted and row not in own:
                return row
            writer = net.rows[row].writer
            if writer is not None and net.sections[writer].kind.is_internal:
                todo.extend(reversed(net.sections[writer].ins))
    return None
