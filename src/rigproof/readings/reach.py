"""Reach: what feeds what. Forward and backward over rows, sections, jacks and modules; dead ends; what is heard."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rigproof.model.sheet import Signal, Way
from rigproof.net.graph import GROUND_ROW, Contact, Net
from rigproof.readings.messages import Message
from rigproof.readings.paths import Along, Paths


@dataclass(frozen=True, slots=True)
class Reach:
    """What was reached: the rows, and the sections on the way."""

    rows: frozenset[int]
    sections: frozenset[int]


def forward(
    paths: Paths,
    rows: Iterable[int],
    *,
    along: Along = Along.ANYTHING,
    message: Message | None = None,
) -> Reach:
    """Return all that the rows feed. With a `message`, MIDI is followed only to those that listen to it."""
    seen = set(rows)
    sections = set()
    todo = list(seen)
    while todo:
        row = todo.pop()
        for section, _ in paths.net.readers.get(row, ()):
            if paths.is_followed(section, row, message):
                sections.add(section)
        for hop in paths.onward(row, along=along, message=message):
            if hop.target_row not in seen:
                seen.add(hop.target_row)
                todo.append(hop.target_row)
    return Reach(frozenset(seen), frozenset(sections))


def backward(paths: Paths, rows: Iterable[int], *, along: Along = Along.ANYTHING) -> Reach:
    """Return all that feeds the rows."""
    seen = set(rows)
    sections = set()
    todo = list(seen)
    while todo:
        for hop in paths.back(todo.pop(), along=along):
            sections.add(hop.section)
            if hop.source_row not in seen:
                seen.add(hop.source_row)
                todo.append(hop.source_row)
    for row in seen:
        writer = paths.net.rows[row].writer
        if writer is not None:
            sections.add(writer)
    return Reach(frozenset(seen), frozenset(sections))


def heard(paths: Paths) -> Reach:
    """Return all that has a part in what the room hears, the ears included."""
    ears = [s.index for s in paths.net.ears]
    found = backward(paths, paths.ear_rows())
    return Reach(found.rows, found.sections | frozenset(ears))


def modules_of(net: Net, reach: Reach) -> tuple[str, ...]:
    """Return the modules that a reach touches, in the order of the net."""
    return tuple(
        dict.fromkeys(
            net.sections[i].module for i in sorted(reach.sections) if net.sections[i].module
        )
    )


def contacts_of(net: Net, reach: Reach) -> tuple[str, ...]:
    """Return the names of the contacts at which something of a reach can be met."""
    return tuple(
        c.name
        for c in net.contacts.values()
        if c.row != GROUND_ROW
        and (c.row in reach.rows if c.source_row is None else c.source_row in reach.rows)
    )


@dataclass(frozen=True, slots=True)
class DeadEnd:
    """An output with a cable in it from which nothing gets to any ear."""

    contact: Contact
    last: tuple[str, ...]
    """The sections where it ends, in running order."""


def dead_ends(paths: Paths, heard_: Reach | None = None) -> tuple[DeadEnd, ...]:
    """Return every plugged output that has no part in what the room hears, in the order of the net.

    A jack of several lanes is a dead end only when all of them are: who has broken out six tracks need not use all. A
    second jack that gives the same as one that is heard is a dead end all the same when its own cable leads nowhere.
    """
    alive = heard_ if heard_ is not None else heard(paths)
    net = paths.net
    living = {
        (c.module, c.jack.id)
        for c in net.contacts.values()
        if (c.row if c.row != GROUND_ROW or c.source_row is None else c.source_row) in alive.rows
    }
    found = []
    for contact in net.contacts.values():
        if contact.jack.way is not Way.OUT or not contact.is_plugged:
            continue
        row = contact.row if contact.row != GROUND_ROW else contact.source_row
        if row is None or (contact.module, contact.jack.id) in living:
            continue
        reached = forward(paths, [row])
        ends = [
            i
            for i in reached.sections
            if not any(net.readers.get(out, ()) for out in net.sections[i].outs)
        ]
        ends.sort(key=lambda i: paths.place[i])
        found.append(DeadEnd(contact, tuple(net.sections[i].name for i in ends)))
    return tuple(found)


def mute_voices(paths: Paths, heard_: Reach | None = None) -> tuple[str, ...]:
    """Return the modules with a plugged audio output of which nothing is heard, in the order of the net."""
    alive = heard_ if heard_ is not None else heard(paths)
    audible = set(modules_of(paths.net, alive))
    return tuple(
        dict.fromkeys(
            c.module
            for c in paths.net.contacts.values()
            if c.jack.way is Way.OUT
            and c.jack.signal is Signal.AUDIO
            and c.is_plugged
            and c.module not in audible
        )
    )
