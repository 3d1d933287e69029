"""Mixer: several inputs, each times its gain, added, times a master gain. DC-coupled, stops at the rails.

Left out: crosstalk, noise, the bend just below the rails.

Source: inverting summing amplifier (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Setting, Span, mixed
from rigproof.kinds.clipping import clamp

MASTER, GAIN = 1, 2


def mixer(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Add up the inputs; every gain glides."""
    out_v = bus_v[outs[0], start:stop]
    for i in range(ins.shape[0]):
        in_v = bus_v[ins[i], start:stop]
        step = params[GAIN + i, 1]
        gain = params[GAIN + i, 0] + start * step
        if i == 0:
            for n in range(stop - start):
                out_v[n] = (gain + n * step) * in_v[n]
        else:
            for n in range(stop - start):
                out_v[n] += (gain + n * step) * in_v[n]
    step = params[MASTER, 1]
    master = params[MASTER, 0] + start * step
    for n in range(stop - start):
        out_v[n] = clamp((master + n * step) * out_v[n], -RAIL_V, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval sum and product, then the rails."""
    total = Span.point(0.0)
    for span, gain in zip(ins, setting.all_spans("gain"), strict=True):
        total = total + span * gain
    return [(total * setting.span("master")).clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Unlike signals add by power."""
    parts = [x.scaled(g) for x, g in zip(ins, setting.all_values("gain"), strict=True)]
    return [mixed(parts).scaled(setting["master"]).clipped(-RAIL_V, RAIL_V)]


KIND = Kind(
    name="mixer",
    doc=__doc__,
    inputs=(Port("in", "what is mixed", many=True),),
    outputs=(Port("out", "the sum"),),
    params=(
        Param("master", "ratio", 0.0, 4.0, 1.0, "gain of the sum"),
        Param("gain", "ratio", -4.0, 4.0, 1.0, "gain of one input", many=True),
    ),
    kernel=mixer,
    interval=interval,
    level=level,
    ways=(1, 32, 4),
)
