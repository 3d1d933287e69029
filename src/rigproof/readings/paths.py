"""Paths: from which row to which a section leads, and which of its paths carry the signal itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

from rigproof.kinds.base import Pulse
from rigproof.net.graph import Net, NetSection
from rigproof.readings.messages import Message, hears, passes
from rigproof.readings.pulse import read_pulses
from rigproof.readings.walk import input_names, output_names


class Along(Enum):
    """Which paths to follow."""

    SIGNAL = "signal"
    """Only those on which what goes in comes out again: sound through a filter."""
    ANYTHING = "anything"
    """Also those on which it steers what comes out: an envelope through an amplifier."""


@dataclass(frozen=True, slots=True)
class Hop:
    """One way through one section, from one of its inputs to one of its outputs."""

    section: int
    source_row: int
    target_row: int
    input: int
    """Position among the section's inputs."""
    lo_s: float
    hi_s: float
    is_signal: bool


def hops_of(section: NetSection, pulses: Sequence[Pulse] = ()) -> tuple[Hop, ...]:
    """Return every way through a section; `pulses` are those at its inputs, for one that goes by a clock.

    An input that the kind's delay law leaves out steers every output at once.
    """
    ways = section.setting.ways
    ins = {name: i for i, name in enumerate(input_names(section.kind, ways))}
    outs = {name: i for i, name in enumerate(output_names(section.kind, ways))}
    found = []
    named = set()
    for lag in section.kind.lags(section.setting, pulses):
        if lag.source not in ins or lag.target not in outs:
            continue
        named.add(lag.source)
        i, o = ins[lag.source], outs[lag.target]
        found.append(
            Hop(
                section.index,
                section.ins[i],
                section.outs[o],
                i,
                lag.lo_s,
                lag.hi_s,
                lag.is_signal,
            )
        )
    for name, i in ins.items():
        if name not in named:
            found.extend(
                Hop(section.index, section.ins[i], row, i, 0.0, 0.0, False) for row in section.outs
            )
    return tuple(found)


class Paths:
    """Every way through every section of a net, worked out once."""

    def __init__(self, net: Net, pulses: Callable[[], Sequence[Pulse]] | None = None) -> None:
        """`pulses` gives the pulse reading of the net, where it can be shared; it is asked for when it is needed."""
        self.net = net
        self._pulses = pulses if pulses is not None else lambda: read_pulses(net)
        self.order = tuple(s for part in net.components for s in part.sections)
        self.place = {section: i for i, section in enumerate(self.order)}
        """Place of each section in running order."""
        self._hops: dict[int, tuple[Hop, ...]] = {}

    def hops(self, section: int) -> tuple[Hop, ...]:
        """Return the ways through one section."""
        found = self._hops.get(section)
        if found is None:
            here = self.net.sections[section]
            pulses = self._pulses() if here.kind.timed_by else ()
            found = self._hops[section] = hops_of(here, [pulses[r] for r in here.ins if pulses])
        return found

    def onward(
        self, row: int, *, along: Along = Along.ANYTHING, message: Message | None = None
    ) -> list[Hop]:
        """Return the ways on from a row, in the order in which the sections stand."""
        return [
            hop
            for section in dict.fromkeys(s for s, _ in self.net.readers.get(row, ()))
            if self.is_followed(section, row, message)
            for hop in self.hops(section)
            if hop.source_row == row
            and (hop.is_signal or along is Along.ANYTHING)
            and passes(self.net.sections[section], hop.target_row, message)
        ]

    def is_followed(self, section: int, row: int, message: Message | None) -> bool:
        """Whether a section takes notice of what a row carries when it carries this message."""
        return not self.net.rows[row].is_midi or hears(self.net.sections[section], message)

    def back(self, row: int, *, along: Along = Along.ANYTHING) -> list[Hop]:
        """Return the ways that lead to a row."""
        writer = self.net.rows[row].writer
        if writer is None:
            return []
        return [
            hop
            for hop in self.hops(writer)
            if hop.target_row == row and (hop.is_signal or along is Along.ANYTHING)
        ]

    def ear_rows(self) -> Sequence[int]:
        """Return the rows that go into ears."""
        return list(dict.fromkeys(r for s in self.net.ears for r in s.ins))
