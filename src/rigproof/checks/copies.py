"""Copies: one sound that comes to the mix by several ways, or by one too few: polarity, dry and wet, stereo."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.checks.fixes import controls_for
from rigproof.kinds.base import ZERO, Span
from rigproof.model.edits import AddCable, SetControl
from rigproof.model.patch import Cable
from rigproof.model.sheet import Signal, Way
from rigproof.net.graph import Contact, NetSection
from rigproof.readings.paths import Along, Hop
from rigproof.units import db_from_ratio

CANCELLED_RATIO = 10.0 ** (-10.0 / 20.0)
"""A sum that keeps less than this of its largest part has lost 10 dB, half the loudness to most ears (Stevens,
1955: from memory)."""
TEST_V = 0.125
"""The voltage that is tried on a section to see what it makes of it: exact in binary, far from every clamp. [V]"""
SMALLEST_GAIN = 1e-6
MOST_ROWS = 400
"""Rows that a copy is followed over from where it parts; larger mixes are cut off there."""


# --- what linear sections do -----------------------------------------------------------------------------------------


class Gains:
    """The gain of every way through a section that passes a voltage on at once and in proportion."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._found: dict[tuple[int, int], dict[int, float]] = {}

    def of(self, hop: Hop) -> float | None:
        """Return the gain of a way, or None where the section does more than scale. Its own interval law is asked."""
        if not hop.is_signal or hop.hi_s > 0.0:
            return None
        key = (hop.section, hop.input)
        if key not in self._found:
            self._found[key] = self._tried(hop)
        return self._found[key].get(hop.target_row)

    def _tried(self, hop: Hop) -> dict[int, float]:
        section = self.bench.net.sections[hop.section]
        if any(not span.is_point for span in section.setting.spans.values()):
            return {}
        signal = {h.input for h in self.bench.readings.paths.hops(hop.section) if h.is_signal}
        found: dict[float, list[Span]] = {}
        for test_v in (-TEST_V, 0.0, TEST_V):
            ins = [
                Span.point(test_v)
                if place == hop.input
                else ZERO
                if place in signal
                else self.bench.volts(row)
                for place, row in enumerate(section.ins)
            ]
            found[test_v] = list(section.kind.interval(ins, section.setting))
        gains = {}
        for place, row in enumerate(section.outs):
            low, rest, high = (found[v][place] for v in (-TEST_V, 0.0, TEST_V))
            if not (low.is_point and rest.is_point and high.is_point):
                continue
            up, down = (high.lo - rest.lo) / TEST_V, (rest.lo - low.lo) / TEST_V
            if math.isclose(up, down, rel_tol=1e-6, abs_tol=1e-9):
                gains[row] = up
        return gains


@dataclass(frozen=True, slots=True)
class Copy:
    """What arrives of a signal: how much, and through which sections."""

    gain: float
    through: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Meeting:
    """Where copies of one signal are added."""

    source_row: int
    section: int
    parts: tuple[tuple[int, Copy], ...]
    """By place among the section's inputs."""

    @property
    def left_ratio(self) -> float:
        """What the sum keeps of its largest part."""
        gains = [copy.gain for _, copy in self.parts]
        return abs(sum(gains)) / max(abs(g) for g in gains)


def meetings(bench: Bench) -> Iterator[Meeting]:
    """Yield where copies of a signal that parts are added, followed through sections that only scale and add."""
    paths, gains = bench.readings.paths, Gains(bench)
    for row in bench.net.rows:
        if row.is_midi or row.writer is None or len(bench.net.readers.get(row.index, ())) < 2:
            continue
        # In running order, so that all parts of a sum are there before it is made; loops are not gone round.
        arrived: dict[int, Copy] = {row.index: Copy(1.0)}
        todo = {s for s, _ in bench.net.readers.get(row.index, ())}
        done = {row.writer}
        while todo and len(arrived) < MOST_ROWS:
            section = min(todo, key=lambda s: paths.place[s])
            todo.discard(section)
            if section in done:
                continue
            done.add(section)
            by_out: dict[int, list[tuple[int, Copy]]] = {}
            for hop in paths.hops(section):
                before = arrived.get(hop.source_row)
                gain = gains.of(hop) if before is not None else None
                if before is None or gain is None or abs(gain * before.gain) < SMALLEST_GAIN:
                    continue
                copy = Copy(before.gain * gain, (*before.through, section))
                by_out.setdefault(hop.target_row, []).append((hop.input, copy))
            for out, parts in by_out.items():
                if len(parts) > 1:
                    yield Meeting(row.index, section, tuple(parts))
                through = tuple(dict.fromkeys(s for _, copy in parts for s in copy.through))
                total = sum(copy.gain for _, copy in parts)
                if abs(total) >= SMALLEST_GAIN and out not in arrived:
                    arrived[out] = Copy(total, through)
                    todo |= {s for s, _ in bench.net.readers.get(out, ())} - done


def contact_at(bench: Bench, row: int) -> str:
    """Return the output jack at which a row can be met, else the name of the row."""
    outs = (c for c in bench.net.contacts.values() if c.jack.way is Way.OUT)
    found = next((c.name for c in outs if row in (c.row, c.source_row)), None)
    return found if found is not None else bench.net.rows[row].name


@check("copies-cancel", severity=Severity.HURTS)
def copies_cancel(bench: Bench) -> Iterator[Finding]:
    """A signal and its inverted copy are added, and less than a third is left of either.

    On stage: the voice is plugged twice and hardly there; each cable by itself sounds right.
    Fix: the control that turns the smaller copy over, to the same amount the right way round.
    Blind to: copies that go through filters, delays, amplifiers under a control voltage or controls that the set moves;
    a difference that is wanted: decline the finding there.
    Source: superposition: the parts of a linear sum add with their signs (Horowitz & Hill, The Art of Electronics, 3rd
    ed., ch. 1).
    """
    said = set()
    for meeting in meetings(bench):
        signs = {copy.gain > 0.0 for _, copy in meeting.parts}
        if len(signs) < 2 or meeting.left_ratio >= CANCELLED_RATIO or meeting.section in said:
            continue
        said.add(meeting.section)
        section = bench.net.sections[meeting.section]
        source = contact_at(bench, meeting.source_row)
        gains = [copy.gain for _, copy in meeting.parts]
        lost_db = -db_from_ratio(max(meeting.left_ratio, 1e-6))
        at = section.name.removeprefix("node ")
        yield Finding(
            at,
            f"{source} comes to {at} as {listed([f'{g:+.3g}' for g in gains])} times itself: "
            f"{sum(gains):+.3g} is left.",
            {
                "left_ratio": meeting.left_ratio,
                "lost_db": lost_db,
                "largest_ratio": max(abs(g) for g in gains),
            },
            _turned_over(bench, meeting),
            section.where,
        )


def _turned_over(bench: Bench, meeting: Meeting) -> Fix | None:
    """Return the fix that makes one negative gain on the way of one copy positive."""
    ways = [set(copy.through) for _, copy in meeting.parts]
    shared = set.intersection(*ways)
    for _, copy in meeting.parts:
        if copy.gain > 0.0:
            continue
        for index in (*(s for s in copy.through if s not in shared), meeting.section):
            section = bench.net.sections[index]
            negative = [name for name, v in section.setting.values.items() if v < 0.0]
            for name, param, control in controls_for(bench, section, negative):
                value = -section.setting.values[param]
                if not control.choices and value <= max(control.lo, control.hi):
                    return fix_of(SetControl(name, value))
    return None


# --- dry and wet -----------------------------------------------------------------------------------------------------

MIX = "mix"
"""The parameter by which an effect lets through what goes in: 0 only that, 1 none of it."""
WET = 0.99
"""From here on an effect gives its own sound alone."""
ECHO = "stereo-delay"


@dataclass(frozen=True, slots=True)
class Effect:
    """An effect that is fed and heard, and where its dry sound goes besides."""

    section: NetSection
    mix: float
    meets: int | None
    """The first section in which the dry sound, come by another way, is added to what the effect gives."""
    is_dry_heard: bool
    """Something that feeds it is heard by another way too."""


def effects(bench: Bench) -> Iterator[Effect]:
    """Yield the effects with a mix of dry and wet that no hand moves in the set."""
    paths = bench.readings.paths
    ears = set(paths.ear_rows())
    for section in bench.net.sections:
        span = section.setting.spans.get(MIX)
        if MIX not in section.setting.values or (span is not None and not span.is_point):
            continue
        inner = [h for h in paths.hops(section.index) if h.is_signal]
        fed = {h.source_row for h in inner if bench.net.rows[h.source_row].writer is not None}
        wet = _onward(bench, {h.target_row for h in inner}, but=section.index)
        if not fed or not wet & ears:
            continue
        dry = _onward(bench, _upstream(bench, fed, but=section.index), but=section.index)
        yield Effect(
            section, section.setting.values[MIX], _meeting(bench, wet, dry), bool(dry & ears)
        )


def _upstream(bench: Bench, rows: set[int], *, but: int) -> set[int]:
    """Return the rows from which a signal comes to these, back to where it is made, but not through one section."""
    seen, todo = set(rows), list(rows)
    while todo:
        for hop in bench.readings.paths.back(todo.pop(), along=Along.SIGNAL):
            if hop.section != but and hop.source_row not in seen:
                seen.add(hop.source_row)
                todo.append(hop.source_row)
    return seen


def _onward(bench: Bench, rows: set[int], *, but: int) -> set[int]:
    """Return the rows that a signal reaches without going through one section."""
    seen, todo = set(rows), list(rows)
    while todo:
        for hop in bench.readings.paths.onward(todo.pop(), along=Along.SIGNAL):
            if hop.section != but and hop.target_row not in seen:
                seen.add(hop.target_row)
                todo.append(hop.target_row)
    return seen


def _meeting(bench: Bench, wet: set[int], dry: set[int]) -> int | None:
    """Return the first section that adds a row that only the dry sound reaches to one that the wet sound reaches."""
    found = []
    for section in {s for row in wet for s, _ in bench.net.readers.get(row, ())}:
        by_out: dict[int, set[int]] = {}
        for hop in bench.readings.paths.hops(section):
            if hop.is_signal:
                by_out.setdefault(hop.target_row, set()).add(hop.source_row)
        if any(rows & wet and rows & dry - wet for rows in by_out.values()):
            found.append(section)
    return min(found, key=lambda s: bench.readings.paths.place[s], default=None)


def _set_mix(bench: Bench, section: NetSection, value: float) -> Fix | None:
    """Return the fix that sets an effect's mix, or None when no control does."""
    for name, _, control in controls_for(bench, section, (MIX,)):
        if not control.choices and control.lo <= value <= control.hi:
            return fix_of(SetControl(name, value))
    return None


@check("dry-comes-twice", severity=Severity.WORTH_KNOWING)
def dry_comes_twice(bench: Bench) -> Iterator[Finding]:
    """An effect lets dry sound through, and the same dry sound comes to the mix by a way of its own.

    On stage: the send makes the voice louder and hardly wetter, and the return's fader turns up the voice.
    Fix: the effect's mix all the way to its own sound.
    Blind to: how loud each way is; a split before a filter whose bands are added again; mixes that the set moves.
    Source: definition of a send: the dry sound has its own way (common practice, no source).
    """
    for effect in effects(bench):
        if effect.mix < WET and effect.meets is not None:
            section = effect.section
            meets = bench.net.sections[effect.meets].name.removeprefix("node ")
            yield Finding(
                section.name,
                f"{section.name} gives {100 * (1 - effect.mix):.0f} % dry sound, which comes to "
                f"{meets} by another way too.",
                {"dry_ratio": 1.0 - effect.mix},
                _set_mix(bench, section, 1.0),
                section.where,
            )


@check("echo-without-its-sound", severity=Severity.WORTH_KNOWING)
def echo_without_its_sound(bench: Bench) -> Iterator[Finding]:
    """An echo gives only its repeats, and what feeds it is not heard by any other way.

    On stage: every hit comes late by the echo's time: the voice drags behind the beat.
    Fix: the echo's mix at one half.
    Blind to: echoes that are meant to stand alone; decline the finding there. Mixes that the set moves.
    Source: definition: at a mix of 1 an echo passes nothing at once.
    """
    for effect in effects(bench):
        section = effect.section
        if section.kind.name == ECHO and effect.mix >= WET and not effect.is_dry_heard:
            late = [h.lo_s for h in bench.readings.paths.hops(section.index) if h.is_signal]
            yield Finding(
                section.name,
                f"{section.name} gives only repeats, {1e3 * min(late):.0f} ms and more late, and "
                "nothing that feeds it is heard by another way.",
                {"dry_ratio": 1.0 - effect.mix, "late_s": min(late)},
                _set_mix(bench, section, 0.5),
                section.where,
            )


# --- stereo ----------------------------------------------------------------------------------------------------------

LEFT, RIGHT = "left", "right"


def other_side(name: str) -> str | None:
    """Return the name of the jack on the right for one on the left, or None for any other.

    >>> other_side("out-left"), other_side("leftover"), other_side("left-2")
    ('out-right', None, 'right-2')
    """
    words = name.split("-")
    return "-".join(RIGHT if w == LEFT else w for w in words) if words.count(LEFT) == 1 else None


def _audio_pairs(bench: Bench, way: Way) -> Iterator[tuple[Contact, Contact]]:
    """Yield the left and the right contact of every pair of sound jacks of one module."""
    for name, (contact, *_) in bench.contacts_of.items():
        module, _, jack = name.partition(".")
        right = other_side(jack)
        other = bench.contacts_of.get(f"{module}.{right}") if right is not None else None
        if other is not None and all(
            c.jack.way is way and c.jack.signal is Signal.AUDIO for c in (contact, other[0])
        ):
            yield contact, other[0]


@check("stereo-side-lost", severity=Severity.HURTS)
def stereo_side_lost(bench: Bench) -> Iterator[Finding]:
    """Of a stereo pair only one side is plugged, and half of the sound is lost: it comes to one side of the room only,
    or something that is plugged in comes to the other side alone.

    On stage: half of the room hears a hole, or the half of the stereo sound that was meant for it is nowhere.
    Fix: the other side of the pair into the other side of where the first one goes, if that is free.
    Blind to: pairs whose names do not say left and right, and voices that are panned in a mixer on the way.
    Source: definition: a pair has two sides. Reach in the net.
    """
    ears = [
        (left.row, right.row)
        for left, right in _audio_pairs(bench, Way.IN)
        if left.is_plugged and right.is_plugged
    ]
    ear_rows, heard = set(bench.readings.paths.ear_rows()), bench.readings.heard.rows
    ears = [pair for pair in ears if all(row in ear_rows for row in _ear_side(bench, pair))]
    unheard = {
        row: end.contact.name
        for end in bench.readings.dead_ends
        if end.contact.jack.signal is Signal.AUDIO
        for row in _onward(bench, {end.contact.row}, but=-1)
    }
    for pair in _audio_pairs(bench, Way.OUT):
        plugged = [c for c in pair if c.is_plugged]
        if len(plugged) != 1 or plugged[0].row not in heard:
            continue
        one, lost = plugged[0], pair[0] if plugged[0] is pair[1] else pair[1]
        rows = _onward(bench, {one.row}, but=-1)
        sides = [tuple(row in rows for row in _ear_side(bench, ear)) for ear in ears]
        reached = [side for side in sides if any(side)]
        is_one_sided = bool(reached) and not any(all(side) for side in reached)
        ends_here = None if lost.source_row is None else unheard.get(lost.source_row)
        if ends_here is None and not is_one_sided:
            continue
        why = (
            f"{one.name} is heard on one side of the room and {lost.name} is not plugged."
            if ends_here is None
            else f"{ends_here} comes to {lost.name} only, which is not plugged; {one.name} is."
        )
        yield Finding(
            lost.name,
            why,
            {"outputs": 1, "inputs": len(reached)},
            _other_cable(bench, one, lost),
            one.jack.where,
        )


def _ear_side(bench: Bench, pair: tuple[int, int]) -> tuple[int, ...]:
    """Return what becomes of two jacks' rows behind their coupling: what their ears read."""
    ears = {row for ear in bench.net.ears for row in ear.ins}
    found = []
    for row in pair:
        behind = [
            out for s, _ in bench.net.readers.get(row, ()) for out in bench.net.sections[s].outs
        ]
        found.append(next((r for r in (row, *behind) if r in ears), -1))
    return tuple(found)


def _other_cable(bench: Bench, one: Contact, lost: Contact) -> Fix | None:
    """Return the fix that plugs the lost side in where the other side of the first cable's target is free."""
    name = f"{one.module}.{one.jack.id}"
    for index in bench.cables_at.get(name, ()):
        cable = bench.project.patch.cables[index]
        target = cable.target if cable.source == name else cable.source
        module, _, jack = target.partition(".")
        there = _mirrored(jack)
        if there is None or f"{module}.{there}" in bench.cables_at:
            continue
        if (
            f"{module}.{there}" in bench.contacts_of
            and bench.jack(f"{module}.{there}").way is Way.IN
        ):
            source = f"{lost.module}.{lost.jack.id}"
            return fix_of(AddCable(Cable(source, f"{module}.{there}", cable.colour)))
    return None


def _mirrored(jack: str) -> str | None:
    """Return the jack on the other side, from either side."""
    words = jack.split("-")
    sides = [w for w in words if w in (LEFT, RIGHT)]
    if len(sides) != 1:
        return None
    return "-".join({LEFT: RIGHT, RIGHT: LEFT}.get(w, w) for w in words)
