"""MIDI over USB: messages wait for the next frame of 1 ms, at most 16 travel in one, and come out one a sample.

A message that comes on the very sample of a frame's start travels in the next frame. More than 1024 messages that wait
are lost and counted in the state.

Left out: a host that polls less often, retries, hubs, high-speed microframes of 125 us.

Source: USB Device Class Definition for MIDI Devices 1.0: 4 bytes an event; a full-speed bulk packet of at most 64 bytes
holds 16 of them; frame of 1 ms from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    MIDI_CODES,
    RATE_HZ,
    SILENT,
    Kind,
    Lag,
    Level,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.message_queue import COUNT, SIZE, put_message, take_message
from rigproof.kinds.midi_messages import message_bytes

FRAMES_HZ = 1000.0
EVENTS_A_FRAME = 16.0
PHASE, ALLOWED, QUEUE = 0, 1, 2


def midi_usb_link(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """At each frame let out what waits, at most a packet's worth."""
    rate_hz = params[RATE_HZ, 0]
    for n in range(start, stop):
        state[PHASE] += FRAMES_HZ
        if state[PHASE] >= rate_hz:
            state[PHASE] -= rate_hz
            state[ALLOWED] = min(state[QUEUE + COUNT], EVENTS_A_FRAME)
        if state[ALLOWED] > 0.0:
            state[ALLOWED] -= 1.0
            bus_v[outs[0], n] = take_message(state, QUEUE)
        else:
            bus_v[outs[0], n] = 0.0
        message = bus_v[ins[0], n]
        if message != 0.0 and message_bytes(message) > 0:
            put_message(state, QUEUE, message)


def prepare(setting: Setting) -> list[float]:
    """An empty queue; a frame begins at the first sample."""
    return [setting.rate_hz - FRAMES_HZ, 0.0, *[0.0] * SIZE]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Clock messages keep their mean rate; how far off each one is, the traffic says."""
    return [ins[0]]


def delay(setting: Setting) -> list[Lag]:
    """Up to a frame, for a message that comes alone."""
    return [Lag("in", "out", 1.0 / setting.rate_hz, 1.0 / FRAMES_HZ)]


KIND = Kind(
    name="midi-usb-link",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "the same, a frame later", is_midi=True),),
    kernel=midi_usb_link,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
    is_internal=True,
)
