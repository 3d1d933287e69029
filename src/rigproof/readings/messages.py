"""Messages: which controller a control sends, with what value, which sections listen, and what they make of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from rigproof.kinds.base import Level, Setting, Span
from rigproof.kinds.cc_pair_to_cv import pair_v
from rigproof.kinds.channel_filter import is_passed
from rigproof.kinds.midi_router import is_routed
from rigproof.net.graph import Net, NetSection

NUMBER = "number"
"""The parameter of every section that sends or hears one controller number. Its partner is `channel`."""
CHANNEL = "channel"
POSITION = "position"
"""The parameter that says where the control of a sender stands."""
SCAN = "scan"
"""The parameter that says how often a sender looks at its control. [Hz]"""
TOP_OF_7_BITS = 127.0
"""The highest value of a 7-bit message. Source: MIDI 1.0 Detailed Specification."""


def sent_value(position: float) -> float:
    """Return the 7-bit value that a `cc-sender` sends for a position of 0 to 1: to the nearest."""
    return float(int(min(max(position, 0.0), 1.0) * TOP_OF_7_BITS + 0.5))


def heard_v(setting: Setting, value: float) -> float:
    """Return the voltage that a `cc-to-cv` gives for a 7-bit value, once it has settled. [V]"""
    share = value / TOP_OF_7_BITS
    return setting["lo"] * (1.0 - share) + setting["hi"] * share


def heard_pair_v(setting: Setting, value: float) -> float:
    """Return the voltage that a `cc-pair-to-cv` gives for a 7-bit value, which is the upper half alone. [V]"""
    if setting["update"] >= 0.5:
        return setting["initial"]  # it waits for a lower half that never comes
    return pair_v(setting["lo"], setting["hi"], 128.0 * value)


SENT: Mapping[str, Callable[[float], float]] = {"cc-sender": sent_value}
"""How each kind that turns a control into messages makes their value."""
HEARD: Mapping[str, Callable[[Setting, float], float]] = {
    "cc-to-cv": heard_v,
    "cc-pair-to-cv": heard_pair_v,
}
"""How each kind that turns messages into volts makes its voltage."""


@dataclass(frozen=True, slots=True)
class Message:
    """One controller on one MIDI channel."""

    number: int
    channel: int


def filter_passes(setting: Setting, _output: int, message: Message) -> bool:
    """Whether a `channel-filter` lets a controller through."""
    is_other = setting["mode"] >= 0.5
    return is_passed(message.channel, round(setting["channel"]), is_other, False)


def router_passes(setting: Setting, output: int, message: Message) -> bool:
    """Whether a `midi-router` sends a controller to an output, counted from 0."""
    return is_routed(message.channel, round(setting[f"channel-{output + 1}"]), False)


PASSES: Mapping[str, Callable[[Setting, int, Message], bool]] = {
    "channel-filter": filter_passes,
    "midi-router": router_passes,
}
"""Which of a section's outputs a controller gets to, for each kind that does not pass on all of them."""


def passes(section: NetSection, row: int, message: Message | None) -> bool:
    """Whether a message that a section reads gets to a row that it writes; None stands for any message."""
    law = PASSES.get(section.kind.name)
    if law is None or message is None:
        return True
    return law(section.setting, section.outs.index(row), message)


def message_of(section: NetSection) -> Message | None:
    """Return the controller that a section sends or hears, or None when it is no such section."""
    values = section.setting.values
    if NUMBER not in values or CHANNEL not in values:
        return None
    return Message(round(values[NUMBER]), round(values[CHANNEL]))


def is_sender(section: NetSection) -> bool:
    """Whether a section turns a control into messages of one controller."""
    return message_of(section) is not None and any(p.is_midi for p in section.kind.outputs)


def hears(section: NetSection, message: Message | None) -> bool:
    """Whether a section that reads a MIDI row takes notice of a message; None stands for any message."""
    if message is None or is_sender(section):
        return True
    own = message_of(section)
    return own is None or own == message


def senders(net: Net, control: str) -> tuple[NetSection, ...]:
    """Return the sections through which a control sends messages."""
    sections = dict.fromkeys(ref.section for ref in net.controls.get(control, ()))
    return tuple(net.sections[i] for i in sections if is_sender(net.sections[i]))


def listeners_reached(
    net: Net, sending: Iterable[NetSection], message: Message
) -> tuple[NetSection, ...]:
    """Return every section that turns a message into something else and is sent it, in the order of the net."""
    todo = [row for section in sending for row in section.outs]
    seen = set(todo)
    found = set()
    while todo:
        for index, _ in net.readers.get(todo.pop(), ()):
            section = net.sections[index]
            if message_of(section) == message and not is_sender(section):
                found.add(index)
            onward = [
                row
                for row in section.outs
                if net.rows[row].is_midi and row not in seen and passes(section, row, message)
            ]
            seen.update(onward)
            todo += onward
    return tuple(net.sections[index] for index in sorted(found))


@dataclass(frozen=True, slots=True)
class Sent:
    """What a sender says where its control stands, and over all the places where it may stand."""

    value: float
    span: Span


class Sayings:
    """What is said on each MIDI row, carried along as the sections of a net are gone through in running order."""

    def __init__(self) -> None:
        self.said: dict[int, dict[Message, Sent]] = {}

    def pass_through(self, section: NetSection) -> list[Level] | None:
        """Carry messages through a section; return its levels where it makes volts of a message that it is sent."""
        kind, setting = section.kind.name, section.setting
        if kind not in SENT and self.said.keys().isdisjoint(section.ins):
            return None  # most sections of most nets: nothing is said to them
        message = message_of(section)
        if message is not None and kind in SENT:
            law, span = SENT[kind], setting.span(POSITION)
            sent = Sent(law(setting[POSITION]), Span(law(span.lo), law(span.hi)))
            self.said.update({row: {message: sent} for row in section.outs})
            return None
        heard = [said for row in section.ins if (said := self.said.get(row)) is not None]
        if not heard:
            return None
        if message is not None and kind in HEARD:
            found = next((said[message] for said in heard if message in said), None)
            if found is None:
                return None
            ends = sorted(HEARD[kind](setting, v) for v in (found.span.lo, found.span.hi))
            level = Level(ends[0], ends[1], HEARD[kind](setting, found.value), 0.0)
            return [level] * len(section.outs)
        joined: dict[Message, Sent] = {}
        for said in heard:
            joined.update(said)
        ports = section.kind.expand_outputs(setting.ways)
        for port, row in zip(ports, section.outs, strict=True):
            if port.is_midi:
                self.said[row] = {m: s for m, s in joined.items() if passes(section, row, m)}
        return None
