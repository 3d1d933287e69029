"""Buffer: one voltage, copied to several outputs that do not load each other. DC-coupled, stops at the rails.

Left out: offset (about a millivolt) and the error of the gain, which matter on a pitch line.

Source: voltage follower (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp


def buffer(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Copy the input to every output."""
    in_v, first_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    for n in range(stop - start):
        first_v[n] = clamp(in_v[n], -RAIL_V, RAIL_V)
    for i in range(1, outs.shape[0]):
        out_v = bus_v[outs[i], start:stop]
        for n in range(stop - start):
            out_v[n] = first_v[n]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The input, within the rails."""
    return [ins[0].clipped(-RAIL_V, RAIL_V)] * setting.ways


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The input, within the rails."""
    return [ins[0].clipped(-RAIL_V, RAIL_V)] * setting.ways


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass."""
    return [ins[0]] * setting.ways


KIND = Kind(
    name="buffer",
    doc=__doc__,
    inputs=(Port("in", "what is copied"),),
    outputs=(Port("out", "a copy", many=True),),
    kernel=buffer,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 16, 3),
)
