"""Line input: where an interface or a desk takes the sound. What comes out is in full-scale units, 1.0 the largest.

Full scale is the level in dBu of a sine whose peaks just reach the largest number. Above it the converter clips hard.
One section is one channel. Left out: the converter's noise, filters and latency, the input's own gain knob.

Source: 0 dBu = sqrt(0.6) V RMS (line-level practice); a sine's peak is sqrt 2 times its RMS. Full scale at +18 dBu is
EBU R68, at +24 dBu SMPTE RP155; line inputs range from about +8 to +24 dBu (data sheets).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.units import DBU_REFERENCE_V

FULL_SCALE_DBU = 1
ZERO_DBU_PEAK_V = math.sqrt(2.0) * DBU_REFERENCE_V
NEPER_PER_DB = math.log(10.0) / 20.0
HIGHEST_V = 1e6
"""No voltage is taken for more, so that infinities do no harm."""


def full_scale_peak_v(full_scale_dbu: float) -> float:
    """Return the peak of a sine at full scale. [V]"""
    return ZERO_DBU_PEAK_V * exp(NEPER_PER_DB * full_scale_dbu)


def line_input(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Divide by full scale, clip."""
    gain = 1.0 / full_scale_peak_v(params[FULL_SCALE_DBU, 0])
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    for n in range(stop - start):
        out_v[n] = clamp(gain * clamp(in_v[n], -HIGHEST_V, HIGHEST_V), -1.0, 1.0)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Scaled and clipped; the highest full scale gives the smallest numbers."""
    full = setting.span("full-scale")
    gains = Span(1.0 / full_scale_peak_v(full.hi), 1.0 / full_scale_peak_v(full.lo))
    return [(ins[0].clipped(-HIGHEST_V, HIGHEST_V) * gains).clipped(-1.0, 1.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Scaled and clipped."""
    return [ins[0].scaled(1.0 / full_scale_peak_v(setting["full-scale"])).clipped(-1.0, 1.0)]


KIND = Kind(
    name="line-input",
    doc=__doc__,
    inputs=(Port("in", "the voltage at the socket"),),
    outputs=(Port("digital", "the same in full-scale units"),),
    params=(
        Param(
            "full-scale", "dBu", -10.0, 30.0, 20.0, "level of a sine that just reaches full scale"
        ),
    ),
    kernel=line_input,
    interval=interval,
    level=level,
    is_ear=True,
)
