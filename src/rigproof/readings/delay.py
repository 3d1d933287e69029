"""Delay: how long from a row, a jack or a control to any other along the paths; paths that differ, and what they comb.

All arrivals are worked out in running order, each section once. A loop is entered, gone through once and not gone round
again: a row keeps the arrival of the first time round, except that the shortest time is the shortest over all paths.

What goes by a clock is told by the clock that arrives, once it has been measured; by the tempo of the patch where no
clock comes or nobody can say how fast it is.

Source: shortest paths by Dijkstra, "A note on two problems in connexion with graphs", Numer. Math. 1 (1959); first
notch of two equal paths at 1/(2 dt) (sum of a signal and its delayed copy, by definition).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rigproof.net.graph import Net
from rigproof.readings.messages import SCAN, Message, is_sender, message_of, senders
from rigproof.readings.paths import Along, Paths
from rigproof.readings.walk import input_names


@dataclass(frozen=True, slots=True)
class Arrival:
    """How long after it has left its source something arrives at a row. [s]"""

    lo_s: float = 0.0
    hi_s: float = 0.0
    turns: int = 0
    """How often it had to come back through the cut of a loop on the way."""


def arrivals(
    paths: Paths,
    starts: Mapping[int, Arrival] | Iterable[int],
    *,
    along: Along = Along.SIGNAL,
    message: Message | None = None,
) -> dict[int, Arrival]:
    """Return the shortest and longest delay to every row that the start rows feed. [s]"""
    begun = starts if isinstance(starts, Mapping) else dict.fromkeys(starts, Arrival())
    found = _spread(paths, begun, along, message)
    if any(a.turns for a in found.values()):
        _shorten(paths, begun, found, along, message)
    return found


def _spread(
    paths: Paths,
    begun: Mapping[int, Arrival],
    along: Along,
    message: Message | None,
    *,
    is_until_met: bool = False,
) -> dict[int, Arrival]:
    """Let arrivals spread in running order, each section once.

    `is_until_met` ends where all paths have met again in one row, and passes no cut of a loop.
    """
    found = dict(begun)
    queue: list[tuple[int, int]] = []
    queued: set[tuple[int, int]] = set()

    def go_on(row: int, turns: int, place: int) -> None:
        for section, _ in paths.net.readers.get(row, ()):
            if not paths.is_followed(section, row, message):
                continue
            if all(out in found for out in paths.net.sections[section].outs):
                continue
            there = paths.place[section]
            entry = (turns if there > place else turns + 1, there)
            if entry not in queued and not (is_until_met and entry[0] > 0):
                queued.add(entry)
                heapq.heappush(queue, entry)

    for row, arrival in begun.items():
        go_on(row, arrival.turns, -1)
    while queue:
        turns, place = heapq.heappop(queue)
        section = paths.order[place]
        new: dict[int, Arrival] = {}
        for hop in paths.hops(section):
            before = found.get(hop.source_row)
            if (
                before is None
                or hop.target_row in found
                or not (hop.is_signal or along is Along.ANYTHING)
                or not paths.is_followed(section, hop.source_row, message)
            ):
                continue
            lo, hi = before.lo_s + hop.lo_s, before.hi_s + hop.hi_s
            here = new.get(hop.target_row)
            if here is not None:
                lo, hi = min(lo, here.lo_s), max(hi, here.hi_s)
            new[hop.target_row] = Arrival(lo, hi, turns)
        found.update(new)
        if is_until_met and not queue and len(new) == 1:
            break
        for row in new:
            go_on(row, turns, place)
    return found


def _shorten(
    paths: Paths,
    begun: Mapping[int, Arrival],
    found: dict[int, Arrival],
    along: Along,
    message: Message | None,
) -> None:
    """Where loops were entered, take the shortest time over all paths, back through a loop's cut too."""
    queue = [(a.lo_s, row) for row, a in begun.items()]
    heapq.heapify(queue)
    best = {row: a.lo_s for row, a in begun.items()}
    done: set[int] = set()
    while queue:
        lo, row = heapq.heappop(queue)
        if row in done:
            continue
        done.add(row)
        for hop in paths.onward(row, along=along, message=message):
            reached = lo + hop.lo_s
            if reached < best.get(hop.target_row, float("inf")):
                best[hop.target_row] = reached
                heapq.heappush(queue, (reached, hop.target_row))
    for row, lo in best.items():
        old = found.get(row)
        if old is not None and lo < old.lo_s:
            found[row] = Arrival(lo, old.hi_s, old.turns)


def departures(
    paths: Paths, targets: Iterable[int], *, along: Along = Along.ANYTHING
) -> dict[int, Arrival]:
    """Return the shortest and longest delay from every row that feeds the target rows. [s]

    The mirror image of `arrivals`, in one pass for all sources at once; it takes no notice of who listens to which
    message.
    """
    net = paths.net
    reached = {row: Arrival() for row in targets}
    starts = list(reached)
    settled: set[int] = set()
    queue: list[tuple[int, int]] = []
    queued: set[tuple[int, int]] = set()

    def go_back(row: int, turns: int) -> None:
        writer = net.rows[row].writer
        if writer is not None:
            entry = (turns, -paths.place[writer])
            if entry not in queued:
                queued.add(entry)
                heapq.heappush(queue, entry)

    for row in starts:
        go_back(row, 0)
    while queue:
        turns, place = heapq.heappop(queue)
        section = paths.order[-place]
        fresh = {
            row
            for row in net.sections[section].outs
            if row in reached and row not in settled and reached[row].turns <= turns
        }
        settled |= fresh
        for hop in paths.hops(section):
            row = hop.source_row
            writer = net.rows[row].writer
            if (
                hop.target_row not in fresh
                or row in settled
                or not (hop.is_signal or along is Along.ANYTHING)
            ):
                continue
            after = reached[hop.target_row]
            back = turns + (writer is not None and paths.place[writer] >= -place)
            new = Arrival(after.lo_s + hop.lo_s, after.hi_s + hop.hi_s, back)
            old = reached.get(row)
            if old is not None and old.turns < new.turns:
                continue
            if old is not None and old.turns == new.turns:
                new = Arrival(min(old.lo_s, new.lo_s), max(old.hi_s, new.hi_s), back)
            reached[row] = new
            go_back(row, back)
    if any(a.turns for a in reached.values()):
        _shorten_back(paths, starts, reached, along)
    return reached


def _shorten_back(
    paths: Paths, starts: Iterable[int], reached: dict[int, Arrival], along: Along
) -> None:
    """Where loops were entered, take the shortest time over all paths."""
    queue = [(0.0, row) for row in starts]
    best = dict.fromkeys(starts, 0.0)
    done: set[int] = set()
    while queue:
        lo, row = heapq.heappop(queue)
        if row in done:
            continue
        done.add(row)
        for hop in paths.back(row, along=along):
            before = lo + hop.lo_s
            if before < best.get(hop.source_row, float("inf")):
                best[hop.source_row] = before
                heapq.heappush(queue, (before, hop.source_row))
    for row, lo in best.items():
        old = reached.get(row)
        if old is not None and lo < old.lo_s:
            reached[row] = Arrival(lo, old.hi_s, old.turns)


def between(
    paths: Paths, source_row: int, target_row: int, *, along: Along = Along.SIGNAL
) -> Arrival | None:
    """Return the delay from one row to another, or None when no such path leads there. [s]"""
    return arrivals(paths, [source_row], along=along).get(target_row)


def first_notch_hz(difference_s: float) -> float:
    """Return the first frequency at which two equal paths cancel. [Hz]

    >>> first_notch_hz(0.001)
    500.0
    """
    return 1.0 / (2.0 * difference_s)


@dataclass(frozen=True, slots=True)
class Difference:
    """Two paths of one signal that meet again in one section, one later than the other."""

    source_row: int
    """Where they part."""
    section: int
    early_port: str
    late_port: str
    lo_s: float
    """The smallest difference that is possible. [s]"""
    hi_s: float
    """The largest one. [s]"""

    @property
    def first_notch_hz(self) -> float:
        """The first notch of the comb, at the largest difference. [Hz]"""
        return first_notch_hz(self.hi_s)


def differences(paths: Paths, source_row: int) -> tuple[Difference, ...]:
    """Return where the paths on which one row's signal parts meet again with different delays, in running order.

    What comes back round a loop is feedback and no parallel path, and is left out. Where all paths have met again in
    one row, the search ends: what parts there anew starts from there.
    """
    net = paths.net
    reached = _spread(paths, {source_row: Arrival()}, Along.SIGNAL, None, is_until_met=True)
    meeting = {section for row in reached for section, _ in net.readers.get(row, ())}
    found = []
    for index in sorted(meeting, key=lambda i: paths.place[i]):
        kind, setting = net.sections[index].kind, net.sections[index].setting
        names = input_names(kind, setting.ways)
        by_output: dict[int, dict[int, Arrival]] = {}
        for hop in paths.hops(index):
            before = reached.get(hop.source_row)
            if before is not None and hop.is_signal:
                by_output.setdefault(hop.target_row, {})[hop.input] = Arrival(
                    before.lo_s + hop.lo_s, before.hi_s + hop.hi_s
                )
        seen = set()
        for parts in by_output.values():
            ordered = sorted(parts.items(), key=lambda p: (p[1].lo_s, p[1].hi_s, p[0]))
            (first, early), (last, late) = ordered[0], ordered[-1]
            if early == late or (first, last) in seen:
                continue
            seen.add((first, last))
            hi = max(abs(late.hi_s - early.lo_s), abs(early.hi_s - late.lo_s))
            lo = max(0.0, late.lo_s - early.hi_s)
            found.append(Difference(source_row, index, names[first], names[last], lo, hi))
    return tuple(found)


def all_differences(paths: Paths) -> tuple[Difference, ...]:
    """Return the differences from every row at which a signal parts, in the order of the rows."""
    found: list[Difference] = []
    for row in paths.net.rows:
        if row.is_midi or row.writer is None:
            continue  # what stays the same has no comb
        if len(paths.onward(row.index, along=Along.SIGNAL)) > 1:
            found.extend(differences(paths, row.index))
    return tuple(found)


def control_arrivals(paths: Paths, control: str) -> dict[int, Arrival]:
    """Return when a move of a control arrives at each row that it has any part in. [s]

    Empty for a control that sets nothing. A control that sends messages waits until it is looked at, and is followed
    to those that listen to it.
    """
    net: Net = paths.net
    sending = senders(net, control)
    message = message_of(sending[0]) if sending else None
    starts = {}
    for index in dict.fromkeys(ref.section for ref in net.controls.get(control, ())):
        section = net.sections[index]
        scan_hz = section.setting.values.get(SCAN, 0.0) if is_sender(section) else 0.0
        seen = Arrival(0.0, 1.0 / scan_hz if scan_hz > 0.0 else 0.0)
        starts.update(dict.fromkeys(section.outs, seen))
    return arrivals(paths, starts, along=Along.ANYTHING, message=message)


def control_to_ears(paths: Paths, control: str) -> Arrival | None:
    """Return when a move of a control is heard, first and last; None when it never is. [s]"""
    found = control_arrivals(paths, control)
    heard = [found[row] for row in paths.ear_rows() if row in found]
    if not heard:
        return None
    return Arrival(min(a.lo_s for a in heard), max(a.hi_s for a in heard))


def all_controls_to_ears(paths: Paths) -> dict[str, Arrival | None]:
    """Return, for every control, when a move of it is heard, first and last; None where it never is. [s]

    One pass back from the ears serves all controls but those that send messages.
    """
    net = paths.net
    to_ears = departures(paths, paths.ear_rows())
    found: dict[str, Arrival | None] = {}
    for control, refs in net.controls.items():
        rows = [row for ref in refs for row in net.sections[ref.section].outs]
        heard = [to_ears[row] for row in rows if row in to_ears]
        if not heard:
            found[control] = None
        elif senders(net, control):
            found[control] = control_to_ears(paths, control)
        else:
            found[control] = Arrival(min(a.lo_s for a in heard), max(a.hi_s for a in heard))
    return found
