"""Channel filter: lets the messages of one MIDI channel through, or of all but one.

Messages without a channel (clock, start, stop, song position and other system messages) pass or stop by a switch of
their own. Left out: filters by sort of message, changing the channel.

Source: channel is the low half of the status byte, 0 to 15 for channels 1 to 16, below F0: MIDI 1.0 Detailed
Specification.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    MIDI_CODES,
    NO_PULSE,
    SILENT,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.midi_messages import channel_of, is_quiet, message_bytes

CHANNEL, MODE, SYSTEM = 1, 2, 3


def is_passed(message_channel: int, channel: int, is_other: bool, has_system: bool) -> bool:
    """Return whether a message of a channel (0: none) comes through."""
    if message_channel == 0:
        return has_system
    return (message_channel != channel) if is_other else (message_channel == channel)


def channel_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Copy what may pass."""
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    quiet = is_quiet(in_v)
    for n in range(stop - start):
        out_v[n] = 0.0
    if quiet:
        return
    channel = int(params[CHANNEL, 0] + 0.5)
    is_other = params[MODE, 0] >= 0.5
    has_system = params[SYSTEM, 0] >= 0.5
    for n in range(stop - start):
        message = in_v[n]
        if message_bytes(message) > 0 and is_passed(
            channel_of(message), channel, is_other, has_system
        ):
            out_v[n] = message


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Clock messages pass or stop."""
    return [ins[0] if setting["system"] >= 0.5 else NO_PULSE]


KIND = Kind(
    name="channel-filter",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "those that pass", is_midi=True),),
    params=(
        Param("channel", "steps", 1.0, 16.0, 1.0, "MIDI channel"),
        Param("mode", "ratio", 0.0, 1.0, 0.0, "this channel or all others", ("only", "all-but")),
        Param("system", "ratio", 0.0, 1.0, 1.0, "messages without a channel", ("stop", "pass")),
    ),
    kernel=channel_filter,
    interval=interval,
    level=level,
    rate=rate,
)
