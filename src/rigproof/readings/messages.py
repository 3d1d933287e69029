"""Messages: which controller number a control sends, and which sections listen to it."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.net.graph import Net, NetSection
from rigproof.readings.walk import input_names

NUMBER = "number"
"""The parameter of every section that sends or hears one controller number. Its partner is `channel`."""
CHANNEL = "channel"


@dataclass(frozen=True, slots=True)
class Message:
    """One controller on one MIDI channel."""

    number: int
    channel: int


def message_of(section: NetSection) -> Message | None:
    """Return the controller that a section sends or hears, or None when it is no such section."""
    values = section.setting.values
    if NUMBER not in values or CHANNEL not in values:
        return None
    return Message(round(values[NUMBER]), round(values[CHANNEL]))


def is_sender(section: NetSection) -> bool:
    """Whether a section turns a control into messages of one controller."""
    ports = section.kind.expand_outputs(section.setting.ways)
    return message_of(section) is not None and any(p.is_midi for p in ports)


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


def listeners(net: Net, message: Message) -> tuple[NetSection, ...]:
    """Return every section of the net that turns a message into something else, plugged or not."""
    return tuple(
        s
        for s in net.sections
        if message_of(s) == message
        and not is_sender(s)
        and len(input_names(s.kind, s.setting.ways)) > 0
    )
