"""Rectifier: the whole wave turned upwards, its upper half alone, and its lower half alone.

`full` is the input without its sign, `upper` what of it lies above 0 V, `lower` what lies below, still negative; upper
less lower is full, upper plus lower is the input. Left out: the drop of a diode (a precision rectifier has none), and
rounding of the corners, so harmonics of a high tone fold: its corners at 0 V have harmonics that fall by 12 dB an
octave.

Source: definition of the absolute value; the mean of a rectified sine is 2/pi of its peak (any calculus text).
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
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp

MEAN_RATIO = 2.0 * math.sqrt(2.0) / math.pi
"""Mean over RMS of a rectified sine."""


def rectifier(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Split at 0 V."""
    in_v = bus_v[ins[0], start:stop]
    full_v = bus_v[outs[0], start:stop]
    upper_v = bus_v[outs[1], start:stop]
    lower_v = bus_v[outs[2], start:stop]
    for n in range(stop - start):
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        up = max(0.0, x)
        down = min(0.0, x)
        full_v[n] = up - down
        upper_v[n] = up
        lower_v[n] = down


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The image of the input under each law."""
    x = ins[0].clipped(-RAIL_V, RAIL_V)
    full = Span(0.0 if x.lo <= 0.0 <= x.hi else min(abs(x.lo), abs(x.hi)), x.peak)
    return [full, x.clipped(0.0, RAIL_V), x.clipped(-RAIL_V, 0.0)]


def _bounded(lo_v: float, hi_v: float, dc_v: float, power: float) -> Level:
    """Return the level with this mean square, as far as the ends allow."""
    dc_v = min(max(dc_v, lo_v), hi_v)
    most = (hi_v - dc_v) * (dc_v - lo_v)
    return Level(lo_v, hi_v, dc_v, math.sqrt(min(max(power - dc_v**2, 0.0), max(most, 0.0))))


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The power stays; the mean is that of a sine where the wave goes through 0 V."""
    x = ins[0].clipped(-RAIL_V, RAIL_V)
    power = x.dc_v**2 + x.rms_v**2
    if x.lo_v >= 0.0:
        return [x, x, Level()]
    if x.hi_v <= 0.0:
        return [x.scaled(-1.0), Level(), x]
    full_mean_v = max(abs(x.dc_v), MEAN_RATIO * math.sqrt(power))
    upper_mean_v, lower_mean_v = (full_mean_v + x.dc_v) / 2.0, (full_mean_v - x.dc_v) / 2.0
    share = upper_mean_v / full_mean_v if full_mean_v > 0.0 else 0.5
    return [
        _bounded(0.0, x.peak_v, full_mean_v, power),
        _bounded(0.0, x.hi_v, upper_mean_v, power * share),
        _bounded(x.lo_v, 0.0, -lower_mean_v, power * (1.0 - share)),
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass above; whether a pulse has a lower half that is turned up nobody can say."""
    is_none = ins[0].beat is Beat.NONE
    return [NO_PULSE if is_none else IRREGULAR, ins[0], NO_PULSE]


KIND = Kind(
    name="rectifier",
    doc=__doc__,
    inputs=(Port("in", "the wave"),),
    outputs=(
        Port("full", "the input without its sign"),
        Port("upper", "its upper half, 0 V for the rest"),
        Port("lower", "its lower half, still negative, 0 V for the rest"),
    ),
    kernel=rectifier,
    interval=interval,
    level=level,
    rate=rate,
)
