"""Crossfader: from one input to the other, by hand and by voltage. DC-coupled, stops at the rails.

`position` runs from 0, only `a`, to 1, only `b`; a volt at `position-cv` adds `position-cv-depth`. Equal power keeps
the level of two unlike signals: both at -3.010300 dB in the middle. Linear keeps a voltage or two alike signals: both
at -6.020600 dB. Left out: feed-through of the input that is faded out, noise.

Source: sine and cosine of a quarter turn, sin^2 + cos^2 = 1 (see `pan_laws`); the laws are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RAIL_V,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
    mixed,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.pan_laws import (
    EQUAL_POWER,
    LAWS,
    LINEAR,
    averaged,
    places,
    quarter_sine,
    share_gain,
)

POSITION, DEPTH, LAW = 1, 2, 3


def crossfader(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Work out the place for every sample; add both inputs, each times its gain."""
    a_v, b_v, cv_v = bus_v[ins[0], start:stop], bus_v[ins[1], start:stop], bus_v[ins[2], start:stop]
    out_v = bus_v[outs[0], start:stop]
    place_step, depth_step = params[POSITION, 1], params[DEPTH, 1]
    place, depth = params[POSITION, 0] + start * place_step, params[DEPTH, 0] + start * depth_step
    if params[LAW, 0] >= 0.5:
        for n in range(stop - start):
            steered = place + n * place_step
            steered += (depth + n * depth_step) * clamp(cv_v[n], -RAIL_V, RAIL_V)
            share = clamp(steered, 0.0, 1.0)
            faded_v = (1.0 - share) * clamp(a_v[n], -RAIL_V, RAIL_V)
            faded_v += share * clamp(b_v[n], -RAIL_V, RAIL_V)
            out_v[n] = clamp(faded_v, -RAIL_V, RAIL_V)
    else:
        for n in range(stop - start):
            steered = place + n * place_step
            steered += (depth + n * depth_step) * clamp(cv_v[n], -RAIL_V, RAIL_V)
            share = clamp(steered, 0.0, 1.0)
            faded_v = quarter_sine(1.0 - share) * clamp(a_v[n], -RAIL_V, RAIL_V)
            faded_v += quarter_sine(share) * clamp(b_v[n], -RAIL_V, RAIL_V)
            out_v[n] = clamp(faded_v, -RAIL_V, RAIL_V)


def _highest(a_v: float, b_v: float, shares: Span, law: int) -> float:
    """Return the most that two steady voltages can give; an equal power fade may peak on its way."""
    tried = [shares.lo, shares.hi]
    if law == EQUAL_POWER:
        top = math.atan2(b_v, a_v) / (math.pi / 2.0)
        tried.append(min(max(top, shares.lo), shares.hi))
    is_linear = law == LINEAR
    return max(share_gain(1.0 - s, is_linear) * a_v + share_gain(s, is_linear) * b_v for s in tried)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Exact: the gains are never negative, so that the highest comes of the highest inputs at some place."""
    a, b, cv = (span.clipped(-RAIL_V, RAIL_V) for span in ins)
    steered = setting.span("position") + cv * setting.span("position-cv-depth")
    shares, laws = steered.clipped(0.0, 1.0), setting.span("law")
    can_be = [law for law in (EQUAL_POWER, LINEAR) if laws.lo - 0.5 <= law <= laws.hi + 0.5]
    hi = max(_highest(a.hi, b.hi, shares, law) for law in can_be)
    lo = -max(_highest(-a.lo, -b.lo, shares, law) for law in can_be)
    return [Span(lo, hi).widened(1e-9).clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Unlike signals add by power, at every place that the voltage steers to equally often."""
    a, b, cv = (x.clipped(-RAIL_V, RAIL_V) for x in ins)
    is_linear = setting["law"] >= 0.5
    found = [
        mixed([a.scaled(share_gain(1.0 - s, is_linear)), b.scaled(share_gain(s, is_linear))])
        for s in places(cv, setting["position"], setting["position-cv-depth"], 0.0, 1.0)
    ]
    return [averaged(found).clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One input's pulses pass while the other has none; what two make together nobody can say."""
    beating = [pulse for pulse in ins[:2] if pulse.beat is not Beat.NONE]
    if not beating:
        return [NO_PULSE]
    return [beating[0] if len(beating) == 1 else IRREGULAR]


KIND = Kind(
    name="crossfader",
    doc=__doc__,
    inputs=(
        Port("a", "what is heard at position 0"),
        Port("b", "what is heard at position 1"),
        Port("position-cv", "adds to the position", is_control=True),
    ),
    outputs=(Port("out", "the blend"),),
    params=(
        Param("position", "ratio", 0.0, 1.0, 0.5, "0 is only a, 1 is only b"),
        Param("position-cv-depth", "ratio", -1.0, 1.0, 0.2, "added to the position for each volt"),
        Param("law", "ratio", 0.0, 1.0, 0.0, "what stays the same while it moves", LAWS),
    ),
    kernel=crossfader,
    interval=interval,
    level=level,
    rate=rate,
)
