"""What if a control stood elsewhere: the same net with one control at one value, and what its messages then say."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rigproof.kinds.base import Level, Span
from rigproof.net.graph import Net
from rigproof.readings.level import read_level
from rigproof.readings.messages import (
    HEARD,
    POSITION,
    SENT,
    Message,
    listeners_reached,
    message_of,
    senders,
)
from rigproof.readings.volts import read_volts


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The net with one control at one value, and its volts and levels there."""

    net: Net
    control: str
    value: float
    message: Message | None
    """What the control sends, if it sends anything."""
    message_value: float | None
    """The value in that message, 0 to 127."""
    volts: tuple[Span, ...]
    level: tuple[Level, ...]


def with_control(net: Net, control: str, value: float) -> Net:
    """Return the net with a control standing still at a value. `KeyError` when there is no such control."""
    sections = list(net.sections)
    for ref in net.controls[control]:
        old = sections[ref.section]
        setting = replace(
            old.setting,
            values={**old.setting.values, ref.name: value},
            spans={**old.setting.spans, ref.name: Span.point(value)},
        )
        sections[ref.section] = replace(old, setting=setting)
    return replace(net, sections=tuple(sections))


def what_if(net: Net, control: str, value: float) -> WhatIf:
    """Return the volts and levels of a net when one control stands at a value and its messages have arrived."""
    there = with_control(net, control, value)
    sending = senders(there, control)
    message = message_of(sending[0]) if sending else None
    message_value = None
    volts: dict[int, Span] = {}
    if sending and message is not None and sending[0].kind.name in SENT:
        message_value = SENT[sending[0].kind.name](sending[0].setting[POSITION])
        for section in listeners_reached(there, sending, message):
            if section.kind.name in HEARD:
                settled_v = HEARD[section.kind.name](section.setting, message_value)
                volts.update(dict.fromkeys(section.outs, Span.point(settled_v)))
    spans = read_volts(there, pinned=volts)
    return WhatIf(
        there,
        control,
        value,
        message,
        message_value,
        spans,
        read_level(there, volts=spans),
    )


def at_the_top(net: Net) -> Net:
    """Return the net with every parameter that a hand plays at the top of where it may go.

    That is the top of its moves in the set, and of its whole travel for a control that is mapped. The top is the
    highest value, which for most controls is the loudest; for one that makes things softer it is not.
    """
    return replace(
        net,
        sections=tuple(
            replace(
                s,
                setting=replace(
                    s.setting,
                    values={
                        **s.setting.values,
                        **{name: span.hi for name, span in s.setting.spans.items()},
                    },
                ),
            )
            if s.setting.spans
            else s
            for s in net.sections
        ),
    )
