"""MIDI router: each output gets the messages of one channel, or of all of them.

`channel` 0 stands for every channel. Messages without a channel (clock, start, stop, song position and other system
messages) go to every output, or to none. Left out: changing the channel, splits by note.

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

SYSTEM, CHANNEL = 1, 2


def is_routed(message_channel: int, channel: int, has_system: bool) -> bool:
    """Return whether a message of a channel (0: none) goes to an output set to a channel (0: every one)."""
    if message_channel == 0:
        return has_system
    return channel in (0, message_channel)


def midi_router(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Copy each message to the outputs it is meant for."""
    in_v = bus_v[ins[0], start:stop]
    quiet = is_quiet(in_v)
    has_system = params[SYSTEM, 0] >= 0.5
    for o in range(outs.shape[0]):
        out_v = bus_v[outs[o], start:stop]
        for n in range(stop - start):
            out_v[n] = 0.0
        if not quiet:
            channel = int(params[CHANNEL + o, 0] + 0.5)
            for n in range(stop - start):
                message = in_v[n]
                if message_bytes(message) > 0 and is_routed(
                    channel_of(message), channel, has_system
                ):
                    out_v[n] = message


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES] * setting.ways


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT] * setting.ways


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Clock messages go everywhere or nowhere."""
    return [ins[0] if setting["system"] >= 0.5 else NO_PULSE] * setting.ways


KIND = Kind(
    name="midi-router",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "those of its channel", is_midi=True, many=True),),
    params=(
        Param("system", "ratio", 0.0, 1.0, 1.0, "messages without a channel", ("stop", "pass")),
        Param("channel", "steps", 0.0, 16.0, 0.0, "channel of an output; 0 is all", many=True),
    ),
    kernel=midi_router,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 8, 4),
)
