"""When each control goes where: the set's bars and beats turned into seconds."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.errors import NOWHERE, RigError
from rigproof.model.setlist import Passage
from rigproof.net.graph import Net
from rigproof.net.references import Names
from rigproof.net.values import control_value
from rigproof.units import quarter_s

TEMPO = "tempo"
"""The name under which the tempo itself moves."""


@dataclass(frozen=True, slots=True)
class Event:
    """A control goes to a value, over `glide_s` seconds, from `at_s` on. `start` sets it first when given."""

    at_s: float
    control: str
    value: float
    glide_s: float = 0.0
    start: float | None = None
    passage: str = ""
    """The section of the set that says so."""
    move: int | None = None
    """Which of the section's moves it is, from 0; None for what the section begins with."""


@dataclass(frozen=True, slots=True)
class Span:
    """A section of the set on the clock."""

    id: str
    title: str
    start_s: float
    length_s: float
    tempo_bpm: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """The whole set on the clock: its length, its sections and every move, in order of time."""

    length_s: float
    passages: tuple[Span, ...]
    events: tuple[Event, ...]


def bar_s(passage_tempo_bpm: float, beats_per_bar: int) -> float:
    """Return the length of a bar. [s]"""
    return beats_per_bar * quarter_s(passage_tempo_bpm)


def timeline(net: Net, *, only: str | None = None) -> Timeline:
    """Return the set of a net on the clock; without a set, an empty one.

    `only` names one section of the set: it then starts at 0 s with every control where the sections before have left
    it. Raises `KeyError` when there is no such section.
    """
    project = net.project
    setlist = project.setlist
    if setlist is None:
        if only is not None:
            raise KeyError(only)
        return Timeline(0.0, (), ())
    names = Names(project)
    events: list[Event] = []
    passages: list[Span] = []
    tempo = setlist.tempo_bpm or project.patch.tempo_bpm
    now = 0.0
    for passage in setlist.sections:
        tempo = passage.tempo_bpm or tempo
        events.append(Event(now, TEMPO, tempo))
        events.extend(_passage_events(names, passage, now, tempo, setlist.beats_per_bar))
        length = passage.bars * bar_s(tempo, setlist.beats_per_bar)
        passages.append(Span(passage.id, passage.title or passage.id, now, length, tempo))
        now += length
    events.sort(key=lambda e: e.at_s)
    whole = Timeline(now, tuple(passages), tuple(events))
    return whole if only is None else _only(whole, only)


def _passage_events(
    names: Names, passage: Passage, start_s: float, tempo_bpm: float, beats_per_bar: int
) -> list[Event]:
    events = []
    quarter = quarter_s(tempo_bpm)
    quiet: list[RigError] = []
    for place in passage.settings:
        control = names.control(place.control, NOWHERE, quiet)
        if control is not None:
            value = control_value(place.value, control, NOWHERE)
            if not isinstance(value, RigError):
                events.append(Event(start_s, place.control, value, passage=passage.id))
    for number, move in enumerate(passage.moves):
        control = names.control(move.control, NOWHERE, quiet)
        if control is None:
            continue
        value = control_value(move.to, control, NOWHERE)
        first = None if move.start is None else control_value(move.start, control, NOWHERE)
        if isinstance(value, RigError) or isinstance(first, RigError):
            continue
        at_s = start_s + ((move.bar - 1) * beats_per_bar + move.beat - 1.0) * quarter
        glide_s = 0.0 if control.is_stepped else move.beats * quarter
        events.append(Event(at_s, move.control, value, glide_s, first, passage.id, number))
    return events


def _only(whole: Timeline, section: str) -> Timeline:
    found = next((p for p in whole.passages if p.id == section), None)
    if found is None:
        raise KeyError(section)
    before: dict[str, Event] = {}
    events: list[Event] = []
    for event in whole.events:
        if event.at_s < found.start_s:
            before[event.control] = Event(0.0, event.control, event.value)
        elif event.at_s < found.start_s + found.length_s:
            events.append(
                Event(
                    event.at_s - found.start_s,
                    event.control,
                    event.value,
                    event.glide_s,
                    event.start,
                )
            )
    return Timeline(
        found.length_s,
        (Span(found.id, found.title, 0.0, found.length_s, found.tempo_bpm),),
        (*before.values(), *events),
    )
