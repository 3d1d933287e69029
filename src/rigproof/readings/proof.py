"""Proof: all readings of one net together, each made when it is first asked for and then kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from rigproof.kinds.base import Level, Pulse, Span
from rigproof.model.sheet import Signal
from rigproof.net.graph import GROUND_ROW, Contact, Net
from rigproof.net.timeline import Event, Timeline, timeline
from rigproof.readings.delay import (
    Arrival,
    Difference,
    all_controls_to_ears,
    all_differences,
    departures,
)
from rigproof.readings.level import Headroom, read_headroom, read_level
from rigproof.readings.over_set import Leg, Loudest, legs, loudest
from rigproof.readings.paths import Paths
from rigproof.readings.pulse import Cycle, patch_cycle, read_pulses
from rigproof.readings.reach import DeadEnd, Reach, dead_ends, heard
from rigproof.readings.unheard import Listening
from rigproof.readings.volts import read_volts
from rigproof.readings.what_if import at_the_top


@dataclass(frozen=True, slots=True)
class JackReading:
    """What is read at one contact of one jack."""

    contact: Contact
    span: Span
    """What no sample can leave. [V]"""
    level: Level
    """What is typical. [V]"""
    pulse: Pulse


@dataclass(frozen=True)
class Readings:
    """All readings of one net. `volts`, `level` and `pulses` have one entry for each row."""

    net: Net

    @cached_property
    def volts(self) -> tuple[Span, ...]:
        """What no sample can leave, by row. [V]"""
        return read_volts(self.net)

    @cached_property
    def level(self) -> tuple[Level, ...]:
        """What is typical, by row. [V]"""
        return read_level(self.net, volts=self.volts)

    @cached_property
    def level_at_the_top(self) -> tuple[Level, ...]:
        """What is typical, by row, with every played control at the top of where it may go. [V]"""
        return read_level(at_the_top(self.net), volts=self.volts)

    @cached_property
    def pulses(self) -> tuple[Pulse, ...]:
        """The pulses, by row."""
        return read_pulses(self.net)

    @cached_property
    def cycle(self) -> Cycle:
        """How long the patch takes to repeat."""
        return patch_cycle(self.net, self.pulses)

    @cached_property
    def headroom(self) -> tuple[Headroom, ...]:
        """What arrives at every ear, against its full scale."""
        return read_headroom(self.net, self.volts, self.level)

    @cached_property
    def headroom_at_the_top(self) -> tuple[Headroom, ...]:
        """The same with every played control at the top of where it may go."""
        return read_headroom(at_the_top(self.net), self.volts, self.level_at_the_top)

    @cached_property
    def timeline(self) -> Timeline:
        """The set on the clock; empty without one."""
        return timeline(self.net)

    @cached_property
    def legs(self) -> tuple[Leg, ...]:
        """Every move of the set from where the control stands, in order of time."""
        return tuple(legs(self.net, self.timeline.events))

    @cached_property
    def _whole_set(self) -> tuple[dict[int, Loudest], tuple[Event, ...]]:
        """What there is to tell of the whole set, from going through it once."""
        rows = {
            c.source_row
            for c in self.net.contacts.values()
            if c.is_plugged and c.jack.signal is Signal.AUDIO and c.source_row is not None
        }
        rows |= {row for ear in self.net.ears for row in ear.ins}
        whole = self.timeline
        listening = Listening(self.paths, whole)
        most = loudest(self.net, self.volts, sorted(rows), whole, listening.look)
        return most, listening.unheard

    @property
    def loudest(self) -> dict[int, Loudest]:
        """When in the set each plugged sound output and each ear is loudest, by row; empty without a set."""
        return self._whole_set[0]

    @property
    def unheard(self) -> tuple[Event, ...]:
        """The moves of the set of which nothing is heard, in order of time."""
        return self._whole_set[1]

    @cached_property
    def paths(self) -> Paths:
        """Every way through every section."""
        return Paths(self.net, lambda: self.pulses)

    @cached_property
    def heard(self) -> Reach:
        """All that has a part in what the room hears."""
        return heard(self.paths)

    @cached_property
    def dead_ends(self) -> tuple[DeadEnd, ...]:
        """Plugged outputs from which nothing gets to any ear."""
        return dead_ends(self.paths, self.heard)

    @cached_property
    def differences(self) -> tuple[Difference, ...]:
        """Parallel paths that differ in delay."""
        return all_differences(self.paths)

    @cached_property
    def heard_after(self) -> dict[str, Arrival | None]:
        """For every control, when a move of it is heard. [s]"""
        return all_controls_to_ears(self.paths)

    @cached_property
    def to_ears(self) -> dict[int, Arrival]:
        """How long what is at a row takes until it is heard, first and last, by row; only rows that are heard.

        Whichever message a receiver listens to, so a MIDI line counts as heard when any of its receivers is. [s]
        """
        found = departures(self.paths, self.paths.ear_rows())
        found.pop(GROUND_ROW, None)  # open inputs share it, and nothing comes from there
        return found

    def at(self, contact: str) -> JackReading:
        """Return what is read at a jack (`module.jack`, or `module.jack:lane`); `KeyError` when there is none."""
        found = self.net.contact(contact)
        row = found.row
        return JackReading(found, self.volts[row], self.level[row], self.pulses[row])

    def jacks(self) -> dict[str, JackReading]:
        """Return what is read at every contact, in the order of the net."""
        return {name: self.at(name) for name in self.net.contacts}


def read(net: Net) -> Readings:
    """Return the readings of a net; each is made when it is first asked for."""
    return Readings(net)
