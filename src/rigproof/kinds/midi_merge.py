"""MIDI merge: messages from several inputs to one output, whole and in the order of their coming.

One message leaves in each sample; what comes at once waits its turn, the first input first. More than 1024 that wait
are lost. Left out: that a real merge is slower than that, and drops running status.

Source: a message is passed on whole: MIDI 1.0 Detailed Specification (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    MIDI_CODES,
    NO_PULSE,
    SILENT,
    Beat,
    Kind,
    Lag,
    Level,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.message_queue import COUNT, SIZE, put_message, take_message
from rigproof.kinds.midi_messages import is_quiet, message_bytes


def midi_merge(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Queue what comes in, let one message out."""
    out = bus_v[outs[0], start:stop]
    if state[COUNT] <= 0.0:
        is_idle = True
        for i in range(ins.shape[0]):
            is_idle = is_idle and is_quiet(bus_v[ins[i], start:stop])
        if is_idle:
            for n in range(stop - start):
                out[n] = 0.0
            return
    for n in range(start, stop):
        for i in range(ins.shape[0]):
            message = bus_v[ins[i], n]
            if message != 0.0 and message_bytes(message) > 0:
                put_message(state, 0, message)
        out[n - start] = take_message(state, 0)


def prepare(setting: Setting) -> list[float]:
    """An empty queue."""
    return [0.0] * SIZE


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Clock messages of one input pass; what two clocks make together nobody can say."""
    beating = [pulse for pulse in ins if pulse.beat is not Beat.NONE]
    if not beating:
        return [NO_PULSE]
    return [beating[0] if len(beating) == 1 else IRREGULAR]


def delay(setting: Setting) -> list[Lag]:
    """At once when it comes alone; behind one of every other input at worst, when each sends one at the same time."""
    worst = (setting.ways - 1) / setting.rate_hz
    return [Lag(f"in-{i}", "out", 0.0, worst) for i in range(1, setting.ways + 1)]


KIND = Kind(
    name="midi-merge",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True, many=True),),
    outputs=(Port("out", "all of them", is_midi=True),),
    kernel=midi_merge,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
    ways=(1, 32, 2),
)
