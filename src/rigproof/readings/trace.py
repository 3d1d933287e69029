"""Trace: follow a control, a jack or a section to all that it ends in, hop by hop, with the numbers at every hop.

A trace is a tree written down in order: each hop names the one it comes from. A place that has been gone through is
not gone through again: the hop says so and ends there. Where the trace starts from a control, the volts and levels are
those with the control standing still at its value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial

from rigproof.errors import NOWHERE, UnknownName, of_its_module
from rigproof.kinds.base import Level, Pulse, Span
from rigproof.model.sheet import Control, Signal, Way
from rigproof.net.graph import GROUND_ROW, Contact, Net
from rigproof.readings.delay import Arrival, arrivals, control_arrivals
from rigproof.readings.messages import TOP_OF_7_BITS, Message, senders
from rigproof.readings.paths import Along
from rigproof.readings.proof import Readings
from rigproof.readings.walk import input_names, output_names
from rigproof.readings.what_if import WhatIf, what_if
from rigproof.units import db_from_ratio, dbu_from_v_rms

TRANSPARENT = ("one-sample-delay", "ac-coupling")
"""Sections that the net adds on the way into an input; a trace passes through them without a word."""


class Place(StrEnum):
    """What sort of place a hop names."""

    CONTROL = "control"
    SECTION = "section"
    OUTPUT = "output"
    INPUT = "input"
    EAR = "ear"


@dataclass(frozen=True, slots=True)
class Hop:
    """One place on the way. Numbers that mean nothing there are None."""

    index: int
    parent: int | None
    depth: int
    place: Place
    name: str
    """`module.control`, `module.jack` or `module.section`."""
    through: str
    """What was gone through to get here: the parameter of a section, the port of a section, a cable or a normal."""
    kind: str
    """The section kind, or empty."""
    output: str
    """The section's output that is followed, or empty."""
    signal: Signal | None
    row: int | None
    span: Span | None
    """What no sample can leave. [V]"""
    level: Level | None
    """What is typical. [V]"""
    dbu: float | None
    """Typical RMS where audio passes. [dBu]"""
    change_db: float | None
    """Against the same control at the top of its travel. [dB]"""
    pulse: Pulse | None
    arrival: Arrival | None
    """How long after the start. [s]"""
    is_again: bool = False
    """The trace has been here; it is not followed further."""


@dataclass(frozen=True, slots=True)
class Trace:
    """A start and all that it leads to."""

    start: str
    at: float | None
    """Where the control stands, in its own unit."""
    message: Message | None
    """What the control sends."""
    message_value: float | None
    """The value that is sent, 0 to 127."""
    hops: tuple[Hop, ...]
    heard: Arrival | None
    """When it is heard, first and last; None when it never is. [s]"""

    @property
    def ends(self) -> tuple[Hop, ...]:
        """The hops that lead no further."""
        parents = {hop.parent for hop in self.hops}
        return tuple(h for h in self.hops if h.index not in parents and not h.is_again)


def trace(readings: Readings, start: str, *, at: float | None = None) -> Trace:
    """Follow `start` (`module.control`, `module.jack` or `module.section`) to all that it ends in.

    `at` puts a control somewhere, in its own unit; for a control that sends messages a number above its range, up to
    127, is the value of the message. Raises `UnknownName` when there is no such start, `ValueError` with the range in
    words when the control cannot stand there.
    """
    net = readings.net
    if start in net.controls:
        return _from_control(readings, start, at)
    walker = _Walker(readings, readings.volts, readings.level)
    if start in net.by_name:
        section = net.section(start)
        walker.arrivals = arrivals(readings.paths, section.outs, along=Along.ANYTHING)
        walker.run(partial(walker.section, section.index, None, "", None))
    else:
        contacts = [c for key, c in net.contacts.items() if start in (key, key.partition(":")[0])]
        if not contacts:
            known = (*net.controls, *net.contacts, *net.by_name)
            names = of_its_module(start, known)
            raise UnknownName(NOWHERE, "control, jack or section", start, names)
        for contact in contacts:
            _from_contact(walker, contact)
    return walker.done(start, None, None)


def _from_contact(walker: _Walker, contact: Contact) -> None:
    if contact.source_row is not None:
        row = contact.source_row
    elif contact.row == GROUND_ROW:
        walker.run(partial(walker.contact, contact, None, ""))
        return
    else:
        row = contact.row
    walker.arrivals |= arrivals(walker.readings.paths, [row], along=Along.ANYTHING)
    walker.run(partial(walker.contact, contact, None, ""))


def _control(net: Net, name: str) -> Control:
    module, _, control = name.partition(".")
    return net.project.sheets[net.project.rig.sheet_names[module]].controls[control]


def _from_control(readings: Readings, start: str, at: float | None) -> Trace:
    net = readings.net
    control = _control(net, start)
    lo, hi = min(control.lo, control.hi), max(control.lo, control.hi)
    if at is None:
        refs = net.controls[start]
        at = net.sections[refs[0].section].setting[refs[0].name] if refs else control.default
    elif hi < at <= TOP_OF_7_BITS and senders(net, start):
        at = lo + (hi - lo) * at / TOP_OF_7_BITS
    if not lo <= at <= hi:
        raise ValueError(f"{lo:g} to {hi:g}")
    here, top = what_if(net, start, at), what_if(net, start, hi)
    walker = _Walker(readings, here.volts, here.level)
    walker.top = top.level
    walker.message = here.message
    walker.arrivals = control_arrivals(readings.paths, start)
    root = walker.add(Place.CONTROL, start, "", None, None, None)
    names: dict[int, list[str]] = {}
    for ref in net.controls[start]:
        names.setdefault(ref.section, []).append(ref.name)
    walker.run(
        *(
            partial(walker.section, section, root, ", ".join(params), None)
            for section, params in names.items()
        )
    )
    return walker.done(start, at, here)


class _Walker:
    def __init__(self, readings: Readings, volts: Sequence[Span], levels: Sequence[Level]) -> None:
        self.readings = readings
        self.net = readings.net
        self.volts = volts
        self.levels = levels
        self.top: Sequence[Level] | None = None
        self.message: Message | None = None
        self.arrivals: dict[int, Arrival] = {}
        self.hops: list[Hop] = []
        self.todo: list[Callable[[], None]] = []
        """What is still to be gone through, the next one last: a long chain must not exhaust the stack."""
        self.later: list[Callable[[], None]] = []
        self.been: set[tuple[str, str, int | None]] = set()
        self.outputs: dict[int, list[Contact]] = {}
        self.inputs: dict[int, list[Contact]] = {}
        for contact in self.net.contacts.values():
            if contact.source_row is not None:
                self.outputs.setdefault(contact.source_row, []).append(contact)
            elif contact.jack.way is Way.IN and contact.row != GROUND_ROW:
                self.inputs.setdefault(contact.row, []).append(contact)

    def run(self, *first: Callable[[], None]) -> None:
        """Go through everything, each place's own continuations right after it."""
        self.todo = list(reversed(first))
        while self.todo:
            self.later = []
            self.todo.pop()()
            self.todo += reversed(self.later)

    def done(self, start: str, at: float | None, here: WhatIf | None) -> Trace:
        heard = [self.arrivals[r] for r in self.readings.paths.ear_rows() if r in self.arrivals]
        return Trace(
            start,
            at,
            None if here is None else here.message,
            None if here is None else here.message_value,
            tuple(self.hops),
            Arrival(min(a.lo_s for a in heard), max(a.hi_s for a in heard)) if heard else None,
        )

    def add(
        self,
        place: Place,
        name: str,
        through: str,
        signal: Signal | None,
        row: int | None,
        parent: int | None,
        *,
        kind: str = "",
        output: str = "",
    ) -> int:
        """Write a hop down and return its number."""
        is_volts = row is not None and not self.net.rows[row].is_midi and signal is not Signal.MIDI
        level = self.levels[row] if is_volts and row is not None else None
        is_audio = signal is Signal.AUDIO and level is not None
        pulse = self.readings.pulses[row] if is_volts and row is not None else None
        self.hops.append(
            Hop(
                len(self.hops),
                parent,
                0 if parent is None else self.hops[parent].depth + 1,
                place,
                name,
                through,
                kind,
                output,
                signal,
                row,
                self.volts[row] if is_volts and row is not None else None,
                level,
                dbu_from_v_rms(level.rms_v) if is_audio and level is not None else None,
                self._change_db(row) if is_audio else None,
                pulse if pulse is not None and pulse.beat.value != "none" else None,
                self.arrivals.get(row) if row is not None else Arrival(),
            )
        )
        return len(self.hops) - 1

    def _change_db(self, row: int | None) -> float | None:
        if self.top is None or row is None:
            return None
        here_v, top_v = self.levels[row].rms_v, self.top[row].rms_v
        return None if top_v == 0.0 else db_from_ratio(here_v / top_v)

    def is_again(self, hop: int) -> bool:
        """Whether the trace has been at a hop's place; if so the hop says it."""
        found = self.hops[hop]
        key = (found.place.value, found.name, found.row)
        if key in self.been:
            self.hops[hop] = replace(found, is_again=True)
            return True
        self.been.add(key)
        return False

    def section(self, index: int, parent: int | None, through: str, row: int | None) -> None:
        """Go through a section: from one of its inputs, or from a parameter to all of its outputs."""
        section = self.net.sections[index]
        if row is not None and not self.readings.paths.is_followed(index, row, self.message):
            return
        place = Place.EAR if section.kind.is_ear else Place.SECTION
        hops = self.readings.paths.hops(index)
        targets: Iterable[int] = (
            section.outs
            if row is None
            else dict.fromkeys(h.target_row for h in hops if h.source_row == row)
        )
        names = dict(
            zip(section.outs, output_names(section.kind, section.setting.ways), strict=True)
        )
        targets = [t for t in targets if self._leads_on(t)] or list(targets)[:1]
        for target in targets:
            signal = Signal.MIDI if self.net.rows[target].is_midi else self._signal_of(target)
            self.later.append(
                partial(
                    self.output,
                    partial(
                        self.add,
                        place,
                        section.name,
                        through,
                        signal,
                        target,
                        parent,
                        kind=section.kind.name,
                        output=names[target],
                    ),
                    target,
                )
            )

    def output(self, write_down: Callable[[], int], target: int) -> None:
        """Write a section's output down and go on from it."""
        hop = write_down()
        if not self.is_again(hop):
            self.row(target, hop)

    def _leads_on(self, row: int) -> bool:
        """Whether anything follows a section's output."""
        return bool(self._readers(row)) or any(map(self._is_in_use, self.outputs.get(row, ())))

    def _is_in_use(self, contact: Contact) -> bool:
        """Whether an output jack has a cable in it or feeds another jack through a normal."""
        return contact.is_plugged or contact.row in self.inputs

    def _signal_of(self, row: int) -> Signal | None:
        contacts = self.outputs.get(row) or self.inputs.get(row)
        return contacts[0].jack.signal if contacts else None

    def row(self, row: int, parent: int) -> None:
        """Go on from what a section writes: along wires inside, and out of every jack that takes it."""
        for reader, through in self._readers(row):
            self.later.append(partial(self.section, reader, parent, through[0], through[1]))
        for contact in filter(self._is_in_use, self.outputs.get(row, ())):
            self.later.append(partial(self.contact, contact, parent, ""))

    def _readers(self, row: int) -> list[tuple[int, tuple[str, int]]]:
        """Return the sections of modules that read a row itself, with the port; cuts of loops are passed through."""
        found: list[tuple[int, tuple[str, int]]] = []
        for index, position in self.net.readers.get(row, ()):
            section = self.net.sections[index]
            if section.kind.name in TRANSPARENT:
                found += self._readers(section.outs[0])
            elif not section.kind.is_internal:
                port = input_names(section.kind, section.setting.ways)[position]
                found.append((index, (port, row)))
        return found

    def contact(self, contact: Contact, parent: int | None, through: str) -> None:
        """Go through a jack: out of an output to every input it feeds, from an input to what reads it."""
        is_output = contact.jack.way is Way.OUT
        hop = self.add(
            Place.OUTPUT if is_output else Place.INPUT,
            contact.name,
            through,
            contact.jack.signal,
            contact.row,
            parent,
        )
        if self.is_again(hop):
            return
        if not is_output:
            for index, (port, row) in self._readers(contact.row):
                if self._is_fed_by(index, port, contact):
                    self.later.append(partial(self.section, index, hop, port, row))
            return
        for row, line in self._far_rows(contact.row):
            for other in self.inputs.get(row, ()):
                way = line or self._way_to(other)
                self.later.append(partial(self.contact, other, hop, way))

    def _far_rows(self, row: int) -> list[tuple[int, str]]:
        """Return the rows in which a jack's row arrives elsewhere: itself, or behind each line that carries it."""
        lines = [
            (self.net.sections[index].outs[0], self.net.sections[index].name)
            for index, _ in self.net.readers.get(row, ())
            if index in self.net.links
        ]
        return lines or [(row, "")]

    def _is_fed_by(self, section: int, port: str, contact: Contact) -> bool:
        found = self.net.sections[section]
        local = found.name.partition(".")[2]
        return (
            found.module == contact.module and f"{local}.{port}" in contact.jack.lanes[contact.lane]
        )

    @staticmethod
    def _way_to(target: Contact) -> str:
        if target.is_plugged or target.jack.normal is None:
            return "cable"
        return f"normal from {target.jack.normal}"
