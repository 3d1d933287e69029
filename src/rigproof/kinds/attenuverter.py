"""Attenuverter: turns a voltage down or upside down, and shifts it. DC-coupled, stops at the rails.

The gain runs from -1 through 0 to 1. A voltage at `gain-cv` adds `gain-cv-depth` to it for each volt, and the sum stays
between -1 and 1. The offset is added after the gain. Left out: the dead zone of a real knob's middle, noise.

Source: inverting and non-inverting amplifier around one knob, summing amplifier (Horowitz & Hill, The Art of
Electronics, 3rd ed., ch. 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp

GAIN, OFFSET_V, DEPTH = 1, 2, 3


def attenuverter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Multiply and add; everything glides."""
    in_v, cv_v, out_v = (
        bus_v[ins[0], start:stop],
        bus_v[ins[1], start:stop],
        bus_v[outs[0], start:stop],
    )
    gain_step, offset_step, depth_step = params[GAIN, 1], params[OFFSET_V, 1], params[DEPTH, 1]
    gain = params[GAIN, 0] + start * gain_step
    offset_v = params[OFFSET_V, 0] + start * offset_step
    depth = params[DEPTH, 0] + start * depth_step
    for n in range(stop - start):
        steered = gain + n * gain_step + (depth + n * depth_step) * clamp(cv_v[n], -RAIL_V, RAIL_V)
        passed_v = clamp(steered, -1.0, 1.0) * clamp(in_v[n], -RAIL_V, RAIL_V)
        out_v[n] = clamp(passed_v + offset_v + n * offset_step, -RAIL_V, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval product and sum, then the rails."""
    gain = setting.span("gain") + ins[1].clipped(-RAIL_V, RAIL_V) * setting.span("gain-cv-depth")
    shifted = ins[0].clipped(-RAIL_V, RAIL_V) * gain.clipped(-1.0, 1.0) + setting.span("offset")
    return [shifted.clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Gain at the mean of `gain-cv`, then the offset; the ends hold what the gain can become."""
    steer = ins[1].clipped(-RAIL_V, RAIL_V)
    source = ins[0].clipped(-RAIL_V, RAIL_V)
    depth, offset_v = setting["gain-cv-depth"], setting["offset"]
    least, middle, most = (
        min(max(setting["gain"] + depth * v, -1.0), 1.0)
        for v in (steer.lo_v, steer.dc_v, steer.hi_v)
    )
    moved = source.scaled(middle, offset_v)
    ends = [g * v + offset_v for g in (least, most) for v in (source.lo_v, source.hi_v)]
    passed = Level(min(ends), max(ends), moved.dc_v, moved.rms_v).hit_like(source, middle)
    return [passed.clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, smaller or upside down."""
    return [ins[0]]


KIND = Kind(
    name="attenuverter",
    doc=__doc__,
    inputs=(
        Port("in", "what is turned down"),
        Port("gain-cv", "adds to the gain", is_control=True),
    ),
    outputs=(Port("out", "the input times the gain, plus the offset"),),
    params=(
        Param("gain", "ratio", -1.0, 1.0, 1.0, "minus one upside down, 0 nothing, one as it is"),
        Param("offset", "V", -10.0, 10.0, 0.0, "added after the gain"),
        Param(
            "gain-cv-depth", "ratio", -1.0, 1.0, 0.2, "added to the gain for each volt at `gain-cv`"
        ),
    ),
    kernel=attenuverter,
    interval=interval,
    level=level,
    rate=rate,
)
