"""Panner: one signal between left and right, by hand and by voltage. Stops at the rails.

`pan` runs from -1, all left, to 1, all right; a volt at `pan-cv` adds `pan-cv-depth`. Equal power keeps the sum of the
powers: -3.010300 dB on both sides in the middle. Linear keeps the sum of the voltages: -6.020600 dB, for what is added
to one channel again. Left out: what leaks to the other side, the odd law of two resistors and one knob.

Source: sine and cosine of a quarter turn, sin^2 + cos^2 = 1 (see `pan_laws`); the laws are common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.pan_laws import LAWS, averaged, gain_span, places, quarter_sine, share_gain

PAN, DEPTH, LAW = 1, 2, 3


def panner(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Work out the place for every sample, and both gains."""
    in_v, cv_v = bus_v[ins[0], start:stop], bus_v[ins[1], start:stop]
    left_v, right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    pan_step, depth_step = params[PAN, 1], params[DEPTH, 1]
    pan, depth = params[PAN, 0] + start * pan_step, params[DEPTH, 0] + start * depth_step
    if params[LAW, 0] >= 0.5:
        for n in range(stop - start):
            steered = pan + n * pan_step
            steered += (depth + n * depth_step) * clamp(cv_v[n], -RAIL_V, RAIL_V)
            share = 0.5 + 0.5 * clamp(steered, -1.0, 1.0)
            passed_v = clamp(in_v[n], -RAIL_V, RAIL_V)
            left_v[n] = (1.0 - share) * passed_v
            right_v[n] = share * passed_v
    else:
        for n in range(stop - start):
            steered = pan + n * pan_step
            steered += (depth + n * depth_step) * clamp(cv_v[n], -RAIL_V, RAIL_V)
            share = 0.5 + 0.5 * clamp(steered, -1.0, 1.0)
            passed_v = clamp(in_v[n], -RAIL_V, RAIL_V)
            left_v[n] = quarter_sine(1.0 - share) * passed_v
            right_v[n] = quarter_sine(share) * passed_v


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval product of the input and the gain of each side."""
    pan = setting.span("pan") + ins[1].clipped(-RAIL_V, RAIL_V) * setting.span("pan-cv-depth")
    right = pan.clipped(-1.0, 1.0).scaled(0.5) + Span.point(0.5)
    source, law = ins[0].clipped(-RAIL_V, RAIL_V), setting.span("law")
    left = Span.point(1.0) - right
    return [source * gain_span(left, law), source * gain_span(right, law)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Each side as if every place that the voltage steers to came equally often."""
    source, steer = ins[0].clipped(-RAIL_V, RAIL_V), ins[1].clipped(-RAIL_V, RAIL_V)
    pans = places(steer, setting["pan"], setting["pan-cv-depth"], -1.0, 1.0)
    is_linear = setting["law"] >= 0.5
    return [
        averaged([source.scaled(share_gain(0.5 + side * 0.5 * pan, is_linear)) for pan in pans])
        for side in (-1.0, 1.0)
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, smaller."""
    return [ins[0], ins[0]]


KIND = Kind(
    name="panner",
    doc=__doc__,
    inputs=(
        Port("in", "what is placed"),
        Port("pan-cv", "adds to the place", is_control=True),
    ),
    outputs=(Port("left", "the share of the left"), Port("right", "the share of the right")),
    params=(
        Param("pan", "ratio", -1.0, 1.0, 0.0, "minus one is left, one is right"),
        Param("pan-cv-depth", "ratio", -1.0, 1.0, 0.2, "added to the place for each volt"),
        Param("law", "ratio", 0.0, 1.0, 0.0, "what stays the same while it moves", LAWS),
    ),
    kernel=panner,
    interval=interval,
    level=level,
    rate=rate,
)
