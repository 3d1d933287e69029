"""Over the set: where every control stands when, and what is typical on each row at every such moment.

Moments are where sections begin and moves end: each control by itself is at its highest or lowest at one of them. Only
what a moved control feeds is read again, so a long set costs little more than a short one.

Left out: what two moves that cross make in between, when one goes up while the other comes down.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rigproof.kinds.base import Level, Span
from rigproof.net.graph import Net, NetSection
from rigproof.net.timeline import TEMPO, Event, Timeline, bar_s
from rigproof.readings.level import Headroom, LevelReader, full_scale_peak_v
from rigproof.readings.messages import Message, Sent, hears
from rigproof.units import db_from_ratio

SAME_S = 1e-9
"""Moments nearer to each other than this are one. [s]"""


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment of the set and where the controls stand then."""

    at_s: float
    passage: str
    bar: int
    """Counted from 1 in its section."""
    controls: Mapping[str, float]
    """Every control that the set has touched so far, in its own unit."""


def start_values(net: Net, controls: Sequence[str]) -> dict[str, float]:
    """Return where controls stand as the patch starts; those that set nothing are left out."""
    found = {}
    for control in controls:
        refs = net.controls.get(control, ())
        if refs:
            found[control] = net.sections[refs[0].section].setting[refs[0].name]
    return found


@dataclass(frozen=True, slots=True)
class Leg:
    """A control on its way from one value to another; a jump takes no time."""

    control: str
    begin_s: float
    end_s: float
    begin: float
    end: float

    def value_at(self, at_s: float) -> float:
        """Return where the control stands at a time."""
        if at_s >= self.end_s:
            return self.end
        if at_s <= self.begin_s:
            return self.begin
        return self.begin + (self.end - self.begin) * (at_s - self.begin_s) / (
            self.end_s - self.begin_s
        )


def legs(net: Net, events: Sequence[Event]) -> list[Leg]:
    """Return every move as a leg, in order of time; a move that another overtakes ends there."""
    touched = list(dict.fromkeys(e.control for e in events if e.control != TEMPO))
    stands = start_values(net, touched)
    found: list[Leg] = []
    last: dict[str, int] = {}
    for event in events:
        if event.control not in stands:
            continue
        before = last.get(event.control)
        here = stands[event.control]
        if before is not None:
            old = found[before]
            here = old.value_at(event.at_s)
            if event.at_s < old.end_s:
                found[before] = replace(old, end_s=event.at_s, end=here)
        begin = here if event.start is None else event.start
        last[event.control] = len(found)
        found.append(Leg(event.control, event.at_s, event.at_s + event.glide_s, begin, event.value))
        stands[event.control] = event.value
    return found


def moments(net: Net, whole: Timeline) -> list[Moment]:
    """Return every moment at which a section begins or a move ends, in order of time."""
    setlist = net.project.setlist
    if setlist is None or not whole.passages:
        return []
    moves = legs(net, whole.events)
    times = sorted(
        {p.start_s for p in whole.passages}
        | {leg.end_s for leg in moves if leg.end_s < whole.length_s}
    )
    found: list[Moment] = []
    stands = start_values(net, list(dict.fromkeys(leg.control for leg in moves)))
    under_way: dict[str, Leg] = {}
    todo = list(reversed(moves))
    place = 0
    for at_s in times:
        if found and at_s - found[-1].at_s < SAME_S:
            continue
        while todo and todo[-1].begin_s <= at_s + SAME_S:
            leg = todo.pop()
            under_way[leg.control] = leg
        for control, leg in list(under_way.items()):
            stands[control] = leg.value_at(max(at_s, leg.begin_s))
            if leg.end_s <= at_s:
                del under_way[control]
        while (
            place + 1 < len(whole.passages) and whole.passages[place + 1].start_s <= at_s + SAME_S
        ):
            place += 1
        here = whole.passages[place]
        one_bar_s = bar_s(here.tempo_bpm, setlist.beats_per_bar)
        bar = int((at_s - here.start_s) / one_bar_s + 1e-6) + 1
        found.append(Moment(at_s, here.id, bar, dict(stands)))
    return found


def net_at(net: Net, controls: Mapping[str, float]) -> Net:
    """Return the net with these controls standing still at these values."""
    sections = list(net.sections)
    _set(net, sections, controls)
    return replace(net, sections=tuple(sections))


def levels_over(
    net: Net, volts: Sequence[Span], when: Sequence[Moment]
) -> Iterator[tuple[Moment, Sequence[Level]]]:
    """Yield what is typical on each row at every moment; see `nets_over`. [V]"""
    return ((moment, levels) for moment, _, levels in nets_over(net, volts, when))


def nets_over(
    net: Net, volts: Sequence[Span], when: Sequence[Moment]
) -> Iterator[tuple[Moment, Net, Sequence[Level]]]:
    """Yield every moment with the net as it is set then and what is typical on each of its rows. [V]

    The sequence is the same one each time, gone on with: take out of it what is wanted before the next.
    """
    if not when:
        return
    sections = list(net.sections)
    stands: dict[str, float] = {}
    _set(net, sections, when[0].controls)
    reader = LevelReader(replace(net, sections=tuple(sections)), volts, {})
    for part in net.components:
        (reader.read_loop if part.is_loop else reader.read_part)(part)
    stands.update(when[0].controls)
    part_of = {s: i for i, part in enumerate(net.components) for s in part.sections}
    yield when[0], reader.net, reader.levels
    for moment in when[1:]:
        moved = {c: v for c, v in moment.controls.items() if stands.get(c) != v}
        stands.update(moved)
        touched = _set(net, sections, moved)
        if touched:
            reader.net = replace(net, sections=tuple(sections))
            _read_again(reader, part_of, touched)
        yield moment, reader.net, reader.levels


def _set(net: Net, sections: list[NetSection], values: Mapping[str, float]) -> set[int]:
    """Put controls somewhere; return the sections that they set."""
    touched: dict[int, dict[str, float]] = {}
    for control, value in values.items():
        for ref in net.controls.get(control, ()):
            touched.setdefault(ref.section, {})[ref.name] = value
    for index, new in touched.items():
        old = sections[index]
        setting = replace(
            old.setting,
            values={**old.setting.values, **new},
            spans={**old.setting.spans, **{name: Span.point(v) for name, v in new.items()}},
        )
        sections[index] = replace(old, setting=setting)
    return set(touched)


def _read_again(reader: LevelReader, part_of: Mapping[int, int], touched: set[int]) -> None:
    """Read the parts that hold the touched sections, and whatever they change, in running order."""
    net = reader.net
    queue = sorted({part_of[s] for s in touched})
    queued = set(queue)
    while queue:
        place = heapq.heappop(queue)
        part = net.components[place]
        outs = [row for s in part.sections for row in net.sections[s].outs]
        said = reader.sayings.said
        before = [(reader.levels[row], said.get(row)) for row in outs]
        (reader.read_loop if part.is_loop else reader.read_part)(part)
        for row, (old, old_said) in zip(outs, before, strict=True):
            if not net.rows[row].is_midi:
                if reader.levels[row] == old:
                    continue
                moved = None
            else:
                moved = _changed(old_said or {}, said.get(row) or {})
                if not moved:
                    continue
            for section, _ in net.readers.get(row, ()):
                other = part_of[section]
                if other <= place or other in queued:
                    continue
                if moved is None or any(hears(net.sections[section], m) for m in moved):
                    queued.add(other)
                    heapq.heappush(queue, other)


def _changed(old: Mapping[Message, Sent], new: Mapping[Message, Sent]) -> list[Message]:
    """Return the messages that say something else than before."""
    return [m for m in {**old, **new} if old.get(m) != new.get(m)]


@dataclass(frozen=True, slots=True)
class Loudest:
    """The moment of the set at which a row is at its loudest, and what is typical there then."""

    moment: Moment
    level: Level


Look = Callable[[Net, Moment, Sequence[Level]], None]
"""Takes one moment of the set: the net as it is set then, and what is typical on each of its rows."""


def loudest(
    net: Net, volts: Sequence[Span], rows: Sequence[int], whole: Timeline, look: Look | None = None
) -> dict[int, Loudest]:
    """Return the loudest moment of the whole set for each of the rows, the first of equals; empty without a set.

    `look` is shown every moment on the way, so that the set is gone through once for all who ask.
    """
    found: dict[int, Loudest] = {}
    reach_v: dict[int, float] = {}
    last: dict[int, Level] = {}
    for moment, here, levels in nets_over(net, volts, moments(net, whole)):
        if look is not None:
            look(here, moment, levels)
        for row in rows:
            level = levels[row]
            if last.get(row) is level:
                continue
            last[row] = level
            here_v = usual_peak_v(level)
            if row not in found or here_v > reach_v[row]:
                found[row], reach_v[row] = Loudest(moment, level), here_v
    return found


@dataclass(frozen=True, slots=True)
class LoudestBar:
    """The bar of the set in which most arrives at one input of an ear, against its full scale."""

    section: str
    port: str
    passage: str
    """The section of the set."""
    bar: int
    """Counted from 1 in it."""
    at_s: float
    peak_dbfs: float
    """The usual peak: four times the RMS, or the top of a hit, where all peaks together could make more. [dBFS]"""
    headroom_db: float
    """From there to full scale; below 0 it clips. [dB]"""


def loudest_bars(heads: Sequence[Headroom], found: Mapping[int, Loudest]) -> tuple[LoudestBar, ...]:
    """Return the loudest bar at each input of an ear that states its full scale and gets something in the set."""
    bars = []
    for head in heads:
        most = found.get(head.row)
        if most is None or head.full_scale_dbu is None or most.level.is_silent:
            continue
        peak_v = usual_peak_v(most.level)
        peak_dbfs = db_from_ratio(peak_v / full_scale_peak_v(head.full_scale_dbu))
        moment = most.moment
        bars.append(
            LoudestBar(
                head.section,
                head.port,
                moment.passage,
                moment.bar,
                moment.at_s,
                peak_dbfs,
                -peak_dbfs,
            )
        )
    return tuple(bars)


def usual_peak_v(level: Level) -> float:
    """Return how far a level usually goes from 0 V: four times its RMS about its mean, or to the top of a hit. [V]"""
    return min(level.peak_v, abs(level.dc_v) + level.reach_v)
