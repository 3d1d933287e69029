"""Softer: which move of the set makes something too loud, and how far it may go instead."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from rigproof.checks.base import Bench, Fix, fix_of
from rigproof.checks.fixes import SMALLEST_RATIO, rounded
from rigproof.kinds.base import Level
from rigproof.model.edits import Edit, apply_edits
from rigproof.model.set_edits import SetMove, SetPassageControl
from rigproof.model.setlist import Move
from rigproof.model.sheet import Control
from rigproof.net.timeline import TEMPO, Event, timeline
from rigproof.net.values import control_value
from rigproof.readings.level import read_level
from rigproof.readings.over_set import SAME_S, Moment, levels_over, moments, net_at, start_values

MOST_TRIED = 4
"""So many moves are tried, the last one first. Our choice."""

Judge = Callable[[Level], bool]


def softer_move(
    bench: Bench, row: int, worst: Moment, *, wanted: Judge, allowed: Judge
) -> Fix | None:
    """Return the fix that takes a control of the set less far, so that a row is nowhere too loud.

    The last move up before the worst moment is tried first, and goes no lower than where it came from. `wanted`
    is asked at that moment, `allowed` at every one.
    """
    for event, came_from in _raised(bench, worst)[:MOST_TRIED]:
        control = _control(bench, event.control)
        if control.choices:
            continue
        value = _furthest(bench, row, worst, event, came_from, wanted)
        if value is None or value <= SMALLEST_RATIO * max(control.lo, control.hi):
            continue
        edits = _capped(bench, row, event.control, value, allowed)
        if edits and not _too_loud(bench, row, allowed, edits):
            return fix_of(*edits)
    return None


def _control(bench: Bench, name: str) -> Control:
    module, _, control = name.partition(".")
    return bench.sheet(module).controls[control]


def _raised(bench: Bench, worst: Moment) -> list[tuple[Event, float]]:
    """Return what has brought a control up and still holds at a moment, and where it came from, by however many moves;
    the last one first.
    """
    before = start_values(bench.net, list(worst.controls))
    held: dict[str, tuple[Event, float]] = {}
    for event in bench.readings.timeline.events:
        if event.at_s > worst.at_s + SAME_S or event.control == TEMPO:
            continue
        if event.control in before:
            here, last = before[event.control], held.get(event.control)
            is_going_up = last is not None and last[1] < here <= event.value
            held[event.control] = (event, last[1] if last is not None and is_going_up else here)
            before[event.control] = event.value
    up = [pair for pair in held.values() if worst.controls[pair[0].control] > pair[1]]
    return sorted(up, key=lambda pair: -pair[0].at_s)


def _furthest(
    bench: Bench, row: int, worst: Moment, event: Event, came_from: float, wanted: Judge
) -> float | None:
    """Return how far the control may go at the worst moment, at most; None where that is no further than it came."""

    def does(value: float) -> bool:
        net = net_at(bench.net, {**worst.controls, event.control: value})
        return wanted(read_level(net, volts=bench.readings.volts)[row])

    if not does(came_from):
        return None
    good, bad = came_from, worst.controls[event.control]
    while bad - good > 1e-4 * abs(bad):
        middle = 0.5 * (good + bad)
        good, bad = (middle, bad) if does(middle) else (good, middle)
    value = rounded(good, up=False)
    return value if value > came_from and does(value) else None


def _too_loud(bench: Bench, row: int, allowed: Judge, edits: tuple[Edit, ...] = ()) -> list[Moment]:
    """Return the moments of the set at which a row is too loud, once these edits are made."""
    net = replace(bench.net, project=apply_edits(bench.project, edits))
    when = moments(net, timeline(net))
    return [
        m for m, levels in levels_over(net, bench.readings.volts, when) if not allowed(levels[row])
    ]


def _capped(bench: Bench, row: int, control: str, value: float, allowed: Judge) -> tuple[Edit, ...]:
    """Return the edits that let whatever holds a control where a row is too loud take it no further than a value."""
    events = [e for e in bench.readings.timeline.events if e.control == control]
    holding: dict[tuple[str, int | None], None] = {}
    for moment in _too_loud(bench, row, allowed):
        before = [e for e in events if e.at_s <= moment.at_s + SAME_S]
        if before and before[-1].value > value:
            holding[before[-1].passage, before[-1].move] = None
    return tuple(_cap(bench, passage, move, control, value) for passage, move in holding)


def _cap(bench: Bench, passage: str, move: int | None, control: str, value: float) -> Edit:
    if move is None:
        return SetPassageControl(passage, control, value)
    assert bench.project.setlist is not None  # there are events
    old: Move = next(p for p in bench.project.setlist.sections if p.id == passage).moves[move]
    start = old.start
    if start is not None:
        first = control_value(start, _control(bench, control), old.where)
        start = value if isinstance(first, float) and first > value else start
    return SetMove(
        passage, move, control, value, old.bar, old.beat, old.beats, start, old.hand, old.note
    )
