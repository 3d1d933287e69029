"""MIDI: which control speaks to whom, under which number, and whether the line can carry it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.errors import NOWHERE, RigError, Where
from rigproof.model.edits import RemoveCable, RemoveMap, SetMap, SetMoveLength
from rigproof.model.patch import Map
from rigproof.model.sheet import RawValue
from rigproof.net.references import Names
from rigproof.net.values import control_value
from rigproof.readings.messages import Message, is_sender, message_of, senders
from rigproof.readings.reach import backward, forward
from rigproof.units import quarter_s

LINE_BYTES_S = 31_250 / 10
"""Bits a second over start, eight data and stop bits. MIDI 1.0 (IEC 63035:2017, 4.1). [bytes/s]"""
FULL_BYTES, RUNNING_BYTES = 3, 2
"""Bytes of a control change, alone and with running status. MIDI 1.0."""
STEPS = 127
"""Steps from one end of a seven-bit controller to the other."""
RESERVED = range(120, 128)
"""Channel mode messages: 122 to 127 from the MIDI Association's table 3, 120 and 121 from memory."""
ORDINARY = (*range(102, 120), *range(20, 32), *range(85, 91), *range(70, 80), *range(12, 20))
"""Numbers to offer: first 102 to 119 (undefined, from an older copy of table 3), then 20 to 31 and 85 to 90 (undefined,
from memory), then sound controllers and general ones. Bank, data entry, pedals and parameter numbers are left out."""
SERIAL = "midi-serial-link"


def map_nth(bench: Bench, link: Map) -> int:
    """Return how many mappings of the same control stand before this one."""
    maps = bench.project.patch.maps
    return sum(m.control == link.control for m in maps[: _place(maps, link)])


def _place(maps: tuple[Map, ...], link: Map) -> int:
    return next(i for i, m in enumerate(maps) if m is link)


def free_number(bench: Bench, channel: int) -> int | None:
    """Return a controller number that nothing in the patch sends or hears on a channel, or None."""
    taken = bench.numbers_in_use.get(channel, frozenset())
    return next((n for n in ORDINARY if n not in taken), None)


def renumbered(bench: Bench, link: Map) -> Fix | None:
    """Return the fix that gives a mapping a free number on its channel; its listeners follow, since they are mapped.

    A mapping to nothing has no listeners that could follow, and is taken away.
    """
    nth = map_nth(bench, link)
    if not link.to:
        return fix_of(RemoveMap(link.control, nth))
    number = free_number(bench, link.channel)
    return None if number is None else fix_of(SetMap(link.control, number, link.channel, nth))


@check("cc-sent-twice", severity=Severity.HURTS)
def cc_sent_twice(bench: Bench) -> Iterator[Finding]:
    """Two controls send the same controller number on the same channel.

    On stage: whoever moves last wins, and what it steers jumps.
    Fix: a free number for the later one; what it is mapped to follows. A mapping to nothing is taken away.
    Blind to: controls on lines that never meet, and doubles that are wanted; decline the finding there.
    Source: MIDI 1.0: a control change is told apart by channel and number alone.
    """
    first: dict[tuple[int, int], str] = {}
    for link in bench.project.patch.maps:
        key = (link.cc, link.channel)
        other = first.setdefault(key, link.control)
        if other != link.control:
            yield Finding(
                link.control,
                f"{other} and {link.control} both send controller {link.cc} on channel "
                f"{link.channel}.",
                {"cc": link.cc, "channel": link.channel},
                renumbered(bench, link),
                link.where,
            )


@check("map-overruled", severity=Severity.HURTS)
def map_overruled(bench: Bench) -> Iterator[Finding]:
    """A later mapping gives a control or a listener another number than an earlier one has given it.

    On stage: the earlier mapping is dead: its fader moves and nothing happens.
    Fix: none is computed: which of the two is meant is the performer's to say.
    Blind to: hardware that can send or hear several numbers at once.
    Source: definition: a control sends one number and a listener hears one.
    """
    last: dict[str, Map] = {}
    for link in bench.project.patch.maps:
        for name in (link.control, *link.to):
            before = last.get(name)
            if before is not None and (before.cc, before.channel) != (link.cc, link.channel):
                yield Finding(
                    name,
                    f"{name} is mapped to controller {before.cc} on channel {before.channel} and "
                    f"again to {link.cc} on {link.channel}; only the last holds.",
                    {"cc": link.cc, "channel": link.channel, "earlier_cc": before.cc},
                    None,
                    link.where,
                )
            last[name] = link


@check("cc-unheard", severity=Severity.HURTS)
def cc_unheard(bench: Bench) -> Iterator[Finding]:
    """A mapped control sends a controller number that reaches nothing that listens to it.

    On stage: the fader moves and nothing happens.
    Fix: none is computed: a cable, a slot or a number is missing, and which is the performer's to say.
    Blind to: things outside the rig that listen.
    Source: reach in the net along MIDI lines, by number and channel (MIDI 1.0).
    """
    for link in bench.project.patch.maps:
        message = Message(link.cc, link.channel)
        sending = [s for s in senders(bench.net, link.control) if message_of(s) == message]
        if not sending:
            continue  # overruled by a later mapping
        hearing = {s.index for s in bench.listeners.get(message, ())}
        rows = [row for section in sending for row in section.outs]
        reached = forward(bench.readings.paths, rows, message=message)
        if hearing & reached.sections:
            continue
        if misheard(bench, link, rows):
            continue  # said by its own check
        names = [bench.net.sections[i].name for i in sorted(hearing)]
        why = f": {listed(names)} would, but no line leads there" if names else ""
        yield Finding(
            link.control,
            f"{link.control} sends controller {link.cc} on channel {link.channel} and nothing "
            f"hears it{why}.",
            {"cc": link.cc, "channel": link.channel, "listeners": len(hearing)},
            None,
            link.where,
        )


def misheard(bench: Bench, link: Map, rows: Sequence[int]) -> list[tuple[int, str]]:
    """Return who on a mapping's line listens to its number on another channel: channel and name of the section."""
    reached = forward(bench.readings.paths, rows)
    found = []
    for index in sorted(reached.sections):
        section = bench.net.sections[index]
        message = message_of(section)
        if message is None or is_sender(section):
            continue
        if message.number == link.cc and message.channel != link.channel:
            found.append((message.channel, section.name))
    return found


@check("midi-channels-differ", severity=Severity.HURTS)
def midi_channels_differ(bench: Bench) -> Iterator[Finding]:
    """A mapped control sends a number that something on its line listens to, but on another channel.

    On stage: the fader moves and nothing happens, though cable and number are right.
    Fix: the channel of the one that listens, if there is one only.
    Blind to: receivers that hear all channels.
    Source: MIDI 1.0: a channel message is heard by those that are set to its channel.
    """
    for link in bench.project.patch.maps:
        message = Message(link.cc, link.channel)
        sending = [s for s in senders(bench.net, link.control) if message_of(s) == message]
        rows = [row for section in sending for row in section.outs]
        hearing = {s.index for s in bench.listeners.get(message, ())}
        if not rows or hearing & forward(bench.readings.paths, rows, message=message).sections:
            continue
        others = misheard(bench, link, rows)
        if not others:
            continue
        channels = {channel for channel, _ in others}
        fix = SetMap(link.control, link.cc, min(channels), map_nth(bench, link))
        yield Finding(
            link.control,
            f"{link.control} sends controller {link.cc} on channel {link.channel}, and "
            + listed([f"{name} listens on {channel}" for channel, name in others])
            + ".",
            {"cc": link.cc, "channel": link.channel, "listeners": len(others)},
            fix_of(fix) if len(channels) == 1 else None,
            link.where,
        )


@check("midi-loop", severity=Severity.STOPS_THE_SHOW)
def midi_loop(bench: Bench) -> Iterator[Finding]:
    """A MIDI line comes back to where it started, through mergers or things that pass on what they hear.

    On stage: the first touch goes round for ever: the line fills up, and clock and faders stall.
    Fix: pull out the last cable of the patch that closes the loop.
    Blind to: things that are set to drop their own messages, and loops through the outside of the rig.
    Source: strongly connected parts of the net (Tarjan, SIAM J. Comput. 1(2), 1972).
    """
    net = bench.net
    for part in net.components:
        lines = _lines_in(bench, set(part.sections)) if part.is_loop else {}
        if not lines:
            continue
        inside = set(part.sections)
        closing = _closing(bench, inside, lines)
        cables = bench.project.patch.cables
        last = cables[max(closing or lines.values())]
        yield Finding(
            f"{last.source} to {last.target}",
            f"MIDI goes round and round through {listed(_modules(bench, inside))}; "
            f"{last.source} to {last.target} closes the loop.",
            {"cables": len(lines)},
            _unplugged(bench, closing) if closing else None,
            last.where,
        )


def _unplugged(bench: Bench, closing: list[int]) -> Fix:
    """Return the fix that pulls out cables, and those with the same ends, of which the next would take its place."""
    cables = bench.project.patch.cables
    ends = {(cables[i].source, cables[i].target) for i in closing}
    all_ = [i for i, c in enumerate(cables) if (c.source, c.target) in ends]
    return fix_of(
        *(RemoveCable(cables[i].source, cables[i].target, bench.nth(i)) for i in reversed(all_))
    )


def _lines_in(bench: Bench, inside: set[int]) -> dict[int, int]:
    """Return the cables of the patch behind the MIDI lines of a loop, by section, in the order of the patch."""
    cables = bench.project.patch.cables
    taken: set[int] = set()
    found = {}
    for section, cable in sorted(bench.net.links.items()):
        index = next((i for i, c in enumerate(cables) if c == cable and i not in taken), None)
        if index is not None:
            taken.add(index)
            if section in inside:
                found[section] = index
    return dict(sorted(found.items(), key=lambda item: item[1]))


def _closing(bench: Bench, inside: set[int], lines: dict[int, int]) -> list[int]:
    """Return the cables that close loops when all are plugged in one after the other; none if it is closed anyway."""
    net = bench.net
    there = inside - lines.keys()

    def comes_back(start: int) -> bool:
        todo, seen = [start], set[int]()
        while todo:
            for row in net.sections[todo.pop()].outs:
                for reader, _ in net.readers.get(row, ()):
                    if reader == start:
                        return True
                    if reader in there and reader not in seen:
                        seen.add(reader)
                        todo.append(reader)
        return False

    if any(comes_back(section) for section in there):
        return []
    closing = []
    for section, index in lines.items():
        if comes_back(section):
            closing.append(index)
        else:
            there.add(section)
    return closing


def _modules(bench: Bench, sections: set[int]) -> list[str]:
    return list(dict.fromkeys(m for s in sorted(sections) if (m := bench.net.sections[s].module)))


@check("cc-number-reserved", severity=Severity.HURTS)
def cc_number_reserved(bench: Bench) -> Iterator[Finding]:
    """A control sends one of the numbers that are no controllers but orders to the whole channel.

    On stage: a touch of the fader silences or resets everything on the channel.
    Fix: a free number; a mapping to nothing is taken away.
    Blind to: receivers that ignore such orders.
    Source: MIDI Association, control change messages, table 3: 122 to 127 are channel mode messages; 120 and 121 from
    memory.
    """
    for link in bench.project.patch.maps:
        if link.cc in RESERVED:
            yield Finding(
                link.control,
                f"{link.control} sends number {link.cc}, an order to the whole channel.",
                {"cc": link.cc, "channel": link.channel},
                renumbered(bench, link),
                link.where,
            )


# --- the line --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sweep:
    """A move of a mapped control, on the clock of its section of the set."""

    passage: str
    index: int
    control: str
    start_s: float
    length_s: float
    steps: float
    """Seven-bit steps on the way."""
    quarter_s: float
    where: Where

    @property
    def messages_s(self) -> float:
        """Control changes a second while it lasts."""
        return self.steps / self.length_s

    @property
    def end_s(self) -> float:
        """When it ends."""
        return self.start_s + self.length_s


def sweeps(bench: Bench) -> list[Sweep]:
    """Return every gliding move of a mapped control, from where the control stands at that moment."""
    project, setlist = bench.project, bench.project.setlist
    if setlist is None:
        return []
    names, quiet = Names(project), list[RigError]()
    mapped = {link.control for link in project.patch.maps}
    stands: dict[str, float] = {}

    def travel(control: str, raw: RawValue) -> float | None:
        found = names.control(control, NOWHERE, quiet)
        if found is None or found.hi == found.lo:
            return None
        value = control_value(raw, found, NOWHERE)
        return (
            None
            if isinstance(value, RigError)
            else abs(value - found.lo) / abs(found.hi - found.lo)
        )

    for control in mapped:
        found = names.control(control, NOWHERE, quiet)
        if found is not None and found.hi != found.lo:
            stands[control] = abs(found.default - found.lo) / abs(found.hi - found.lo)
    for place in project.patch.settings:
        if place.control in mapped and (at := travel(place.control, place.value)) is not None:
            stands[place.control] = at
    out = []
    tempo = setlist.tempo_bpm or project.patch.tempo_bpm
    for passage in setlist.sections:
        tempo = passage.tempo_bpm or tempo
        quarter = quarter_s(tempo)
        for place in passage.settings:
            if place.control in mapped and (at := travel(place.control, place.value)) is not None:
                stands[place.control] = at
        order = sorted(enumerate(passage.moves), key=lambda item: (item[1].bar, item[1].beat))
        for index, move in order:
            if move.control not in mapped:
                continue
            goal = travel(move.control, move.to)
            begin = (
                stands.get(move.control, 0.0)
                if move.start is None
                else travel(move.control, move.start)
            )
            if goal is None or begin is None:
                continue
            stands[move.control] = goal
            if move.beats > 0.0 and goal != begin:
                start = ((move.bar - 1) * setlist.beats_per_bar + move.beat - 1.0) * quarter
                out.append(
                    Sweep(
                        passage.id,
                        index,
                        move.control,
                        start,
                        move.beats * quarter,
                        STEPS * abs(goal - begin),
                        quarter,
                        move.where,
                    )
                )
    return out


@check("midi-line-overrun", severity=Severity.HURTS)
def midi_line_overrun(bench: Bench) -> Iterator[Finding]:
    """Moves of the set ask more of a serial MIDI line than its 3125 bytes a second.

    On stage: messages queue up, and the last of them arrive when the move is long over; a clock on the line stumbles.
    Fix: the moves take just as many more beats as the line needs.
    Blind to: what hands do beyond the set, notes and clock on the same line, and jumps, which send one message.
    Source: MIDI 1.0 (IEC 63035:2017, 4.1): 31,250 baud, ten bits a byte; a control change has three bytes, two with
    running status.
    """
    moves = sweeps(bench)
    for index, cable in bench.net.links.items():
        line = bench.net.sections[index]
        if line.kind.name != SERIAL or not moves:
            continue
        size = RUNNING_BYTES if line.setting.values.get("running", 0.0) >= 0.5 else FULL_BYTES
        feeding = backward(bench.readings.paths, line.ins).sections
        on_line = {
            control
            for control in {m.control for m in moves}
            if any(s.index in feeding and is_sender(s) for s in senders(bench.net, control))
        }
        worst = _busiest([m for m in moves if m.control in on_line], size)
        if worst is None:
            continue
        demand, together = worst
        if demand <= LINE_BYTES_S:
            continue
        length_s = min(m.length_s for m in together)
        yield Finding(
            f"{cable.source} to {cable.target}",
            f"{listed([m.control for m in together])} in section {together[0].passage} ask "
            f"{demand:.0f} bytes a second of {cable.source} to {cable.target}, which carries "
            f"{LINE_BYTES_S:.0f}.",
            {
                "demand_bytes_s": demand,
                "limit_bytes_s": LINE_BYTES_S,
                "late_s": length_s * (demand / LINE_BYTES_S - 1.0),
            },
            fix_of(
                *(
                    SetMoveLength(m.passage, m.index, _beats_up(m, demand / LINE_BYTES_S))
                    for m in together
                )
            ),
            together[0].where,
        )


def _busiest(moves: list[Sweep], size: int) -> tuple[float, list[Sweep]] | None:
    """Return the highest demand on a line and the moves that make it. [bytes/s]"""
    best: tuple[float, list[Sweep]] | None = None
    for now in moves:
        together = [
            m
            for m in moves
            if m.passage == now.passage and m.start_s <= now.start_s < m.end_s - 1e-12
        ]
        demand = size * sum(m.messages_s for m in together)
        if best is None or demand > best[0]:
            best = (demand, together)
    return best


def _beats_up(move: Sweep, ratio: float) -> float:
    """Return the length that takes so many times as long, in eighths of a beat upwards. [beats]"""
    return math.ceil(move.length_s * ratio / move.quarter_s * 8.0 - 1e-9) / 8.0
