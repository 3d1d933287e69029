"""Unheard: which moves of the set reach nothing that is heard, from their section on until the control moves again.

At every moment of the set a move is followed from what its control sets, along the ways of the net, as far as there is
a voltage. A way through a section is shut where the section's level law gives the same without it: a channel whose gain
is 0, a capacitor in the way of a steady voltage. What remembers sound is taken to pass on something always.

Left out: what a level law does not ask for, such as the cutoff of a filter: it counts as heard where the filter is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rigproof.kinds.base import SILENT, Level, Setting
from rigproof.net.graph import Net, NetSection
from rigproof.net.timeline import Event, Timeline
from rigproof.readings.messages import Message, message_of, senders
from rigproof.readings.over_set import Moment
from rigproof.readings.paths import Hop, Paths

REMEMBERS = frozenset(
    ("granular", "looper", "multi-tap-echo", "reverb", "sample-and-hold", "stereo-delay")
)
"""Kinds that sound on when nothing comes in any more."""
SAME_S = 1e-9
"""Moments nearer to each other than this are one. [s]"""


@dataclass(frozen=True, slots=True)
class Watched:
    """One move, and from when to when it may be heard. [s]"""

    event: Event
    from_s: float
    to_s: float


def watched(whole: Timeline) -> list[Watched]:
    """Return every move of the set, in order of time, with its time: from its section to the control's next move."""
    starts = {p.id: p.start_s for p in whole.passages}
    found: list[Watched] = []
    next_s: dict[str, float] = {}
    for event in reversed(whole.events):
        if event.move is not None:
            to_s = next_s.get(event.control, whole.length_s)
            found.append(Watched(event, starts[event.passage], to_s))
        next_s[event.control] = event.at_s
    return found[::-1]


class Listening:
    """Follows the moves of a set through its moments; `unheard` are those of which nothing has been heard so far."""

    def __init__(self, paths: Paths, whole: Timeline) -> None:
        self.paths = paths
        self.ears = frozenset(paths.ear_rows())
        self._open = [w for w in watched(whole) if paths.net.controls.get(w.event.control)]
        self._messages: dict[str, Message | None] = {}
        self._onward: dict[tuple[int, Message | None], list[Hop]] = {}
        self._tried: dict[tuple[int, int], tuple[Setting, list[Level], bool]] = {}
        """Whether a way was shut, and for what setting and levels that was found."""
        self.has_sound = False
        """Whether anything is heard at any moment at all."""

    @property
    def unheard(self) -> tuple[Event, ...]:
        """The moves of which nothing is heard, in order of time; none where the whole set is silent."""
        return tuple(w.event for w in self._open) if self.has_sound else ()

    def look(self, net: Net, moment: Moment, levels: Sequence[Level]) -> None:
        """Take what is typical at one moment, with the controls of the net where they stand then."""
        self.has_sound = self.has_sound or any(not levels[row].is_silent for row in self.ears)
        at_s = moment.at_s
        now = {w.event.control for w in self._open if w.from_s - SAME_S <= at_s <= w.to_s + SAME_S}
        heard = {control for control in now if self._is_heard(net, control, levels)}
        if heard:
            self._open = [
                w
                for w in self._open
                if w.event.control not in heard or not w.from_s - SAME_S <= at_s <= w.to_s + SAME_S
            ]

    def _message(self, control: str) -> Message | None:
        if control not in self._messages:
            sending = senders(self.paths.net, control)
            self._messages[control] = message_of(sending[0]) if sending else None
        return self._messages[control]

    def _is_heard(self, net: Net, control: str, levels: Sequence[Level]) -> bool:
        message = self._message(control)
        todo: list[tuple[int, bool]] = []
        for ref in net.controls[control]:
            section = net.sections[ref.section]
            if section.kind.is_ear:
                return True
            if _has_part(section, ref.name, levels):
                is_kept = section.kind.name in REMEMBERS
                todo += [(row, is_kept) for row in section.outs]
        seen = set(todo)
        while todo:
            row, is_kept = todo.pop()
            level = levels[row]
            if row in self.ears and (is_kept or not level.is_silent):
                return True
            if not is_kept and not net.rows[row].is_midi and level.peak_v == 0.0:
                continue
            for hop in self._hops_on(row, message):
                section = net.sections[hop.section]
                keeps = is_kept or section.kind.name in REMEMBERS
                step = (hop.target_row, keeps)
                if step not in seen and (keeps or not self._is_shut(section, hop, levels)):
                    seen.add(step)
                    todo.append(step)
        return False

    def _hops_on(self, row: int, message: Message | None) -> list[Hop]:
        found = self._onward.get((row, message))
        if found is None:
            found = self._onward[row, message] = self.paths.onward(row, message=message)
        return found

    def _is_shut(self, section: NetSection, hop: Hop, levels: Sequence[Level]) -> bool:
        if not hop.is_signal or levels[hop.source_row].peak_v == 0.0:
            return False
        ins = [levels[row] for row in section.ins]
        tried = self._tried.get((hop.source_row, hop.target_row))
        if tried is not None and tried[0] is section.setting and tried[1] == ins:
            return tried[2]
        found = _is_shut(section, hop, levels)
        self._tried[hop.source_row, hop.target_row] = section.setting, ins, found
        return found


def _has_part(section: NetSection, param: str, levels: Sequence[Level]) -> bool:
    """Whether a parameter of one channel of a mixer has something to work on: whether anything is at its input."""
    base, _, number = param.rpartition("-")
    if section.kind.ways is None or not any(p.many and p.name == base for p in section.kind.params):
        return True
    inputs = section.kind.expand_inputs(section.setting.ways)
    own = [
        levels[row].peak_v
        for port, row in zip(inputs, section.ins, strict=True)
        if port.name.rpartition("-")[2] == number and not port.is_control and not port.is_midi
    ]
    return not own or max(own) > 0.0


def _is_shut(section: NetSection, hop: Hop, levels: Sequence[Level]) -> bool:
    """Whether a section gives the same without what a way brings; one way alone is shut where nothing comes out."""
    without = [SILENT if row == hop.source_row else levels[row] for row in section.ins]
    if all(level.peak_v == 0.0 for level in without):
        return levels[hop.target_row].peak_v == 0.0
    place = section.outs.index(hop.target_row)
    return section.kind.level(without, section.setting)[place] == levels[hop.target_row]
