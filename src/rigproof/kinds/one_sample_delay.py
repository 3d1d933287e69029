"""One-sample delay: where a loop of real cables is cut, so that feedback comes back one sample later.

The hardware's loop has no such delay; at 48 kHz it is 20.833333 us, and the net cuts each loop exactly once.

Source: definition; 1/48000 s.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import Kind, Lag, Level, Port, Pulse, Setting, Span


def one_sample_delay(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Copy the column before; the engine keeps the last column of the block before in place."""
    in_v = bus_v[ins[0], start - 1 : stop - 1]
    out_v = bus_v[outs[0], start:stop]
    for n in range(stop - start):
        out_v[n] = in_v[n]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """What came in, or the 0 V of the first sample."""
    return [ins[0].including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The same level, later."""
    return [ins[0]]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The same pulses, later."""
    return [ins[0]]


def delay(setting: Setting) -> list[Lag]:
    """One sample."""
    return [Lag("in", "out", 1.0 / setting.rate_hz, 1.0 / setting.rate_hz)]


KIND = Kind(
    name="one-sample-delay",
    doc=__doc__,
    inputs=(Port("in", "what goes round"),),
    outputs=(Port("out", "the same, one sample later"),),
    kernel=one_sample_delay,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
    is_internal=True,
)
