"""MIDI serial line: 31,250 baud, ten bits a byte, one message after the other; with or without running status.

A message begins when the line is free and comes out at the first sample at or after the end of its last byte: 960 us
for a control change, 640 us when the one before had the same status and running status is on. Time is counted in
whole parts of a bit, so that a queue of any length stays exact. More than 1024 messages that wait are lost and counted
in the state.

Left out: clock bytes that slip in between the bytes of another message (here they wait their turn), the receiver's own
time, the 1 % that baud rates may differ.

Source: MIDI 1.0 Detailed Specification, hardware (IEC 63035:2017, 4.1): 31.25 kBd, 1 start, 8 data, 1 stop bit; rules
of running status from memory.
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
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.message_queue import SIZE, put_message, take_message
from rigproof.kinds.midi_messages import REAL_TIME, SYSTEM, is_quiet, message_bytes, status_of

BAUD = 31_250.0
BITS = 10.0
"""Bits a byte takes: start, eight, stop."""
RUNNING = 1
SENDING, LEFT, STATUS, QUEUE = 0, 1, 2, 3
"""The message on the line, how long it still takes (in bits times the sample rate), the running status, the queue."""


def bytes_on_line(state: Any, message: float, is_running: bool) -> int:
    """Return the bytes a message takes now, and remember its status."""
    length = message_bytes(message)
    status = status_of(message)
    if status >= REAL_TIME:
        return length
    if status >= SYSTEM:
        state[STATUS] = 0.0
        return length
    if is_running and state[STATUS] == status:
        return length - 1
    state[STATUS] = float(status)
    return length


def midi_serial_link(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Send bit by bit; take the next message when the line is free."""
    rate_hz = params[RATE_HZ, 0]
    is_running = params[RUNNING, 0] > 0.5
    if state[SENDING] <= 0.0 and is_quiet(bus_v[ins[0], start:stop]):
        out = bus_v[outs[0], start:stop]
        for n in range(stop - start):
            out[n] = 0.0
        return
    for n in range(start, stop):
        bus_v[outs[0], n] = 0.0
        if state[SENDING] > 0.0:
            state[LEFT] -= BAUD
            if state[LEFT] <= 0.0:
                bus_v[outs[0], n] = state[SENDING]
                state[SENDING] = take_message(state, QUEUE)
                if state[SENDING] > 0.0:  # it began when the last one ended, between two samples
                    state[LEFT] += BITS * rate_hz * bytes_on_line(state, state[SENDING], is_running)
        message = bus_v[ins[0], n]
        if message != 0.0 and message_bytes(message) > 0:
            if state[SENDING] > 0.0:
                put_message(state, QUEUE, message)
            else:
                state[SENDING] = message
                state[LEFT] = BITS * rate_hz * bytes_on_line(state, message, is_running)


def prepare(setting: Setting) -> list[float]:
    """A free line, no running status, an empty queue."""
    return [0.0] * (QUEUE + SIZE)


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
    """A three-byte message on a free line, without its status byte at best when running status is on.

    A message that waits behind others takes longer; how much, the traffic says.
    """
    byte_s = BITS / BAUD
    return [Lag("in", "out", (2.0 if setting["running"] > 0.5 else 3.0) * byte_s, 3.0 * byte_s)]


KIND = Kind(
    name="midi-serial-link",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "the same, as late as the line makes them", is_midi=True),),
    params=(Param("running", "ratio", 0.0, 1.0, 0.0, "running status", choices=("off", "on")),),
    kernel=midi_serial_link,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
    is_internal=True,
)
