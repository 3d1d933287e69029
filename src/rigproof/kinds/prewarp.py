"""The prewarped gain of a trapezoidal integrator, faster than by a tangent. Plain functions; see `base`.

Source: g = tan(pi cutoff / rate), the bilinear transform's frequency law; the fraction is Lambert's continued fraction
of the tangent cut after seven terms (textbook mathematics), within 1e-7 of it over the range used.
"""

from __future__ import annotations

import math
from typing import Any

from rigproof.kinds.clipping import limit
from rigproof.kinds.elementary import tangent, two_to

HIGHEST_RATIO = 0.45
"""Highest cutoff over the sample rate."""


def quick_gain(ratio: float) -> float:
    """Return tan(pi ratio) for a cutoff over the sample rate, held between 0 and 0.45."""
    x = math.pi * min(max(ratio, 0.0), HIGHEST_RATIO)
    s = x * x
    top = 135135.0 - s * (17325.0 - s * (378.0 - s))
    return x * top / (135135.0 - s * (62370.0 - s * (3150.0 - 28.0 * s)))


def write_gains_at(row: Any, hz_0: float, hz_step: float, rate_hz: float, kept: Any) -> None:
    """Replace octaves in `row` by the gains of a cutoff that lies so many octaves above `hz_0` + n `hz_step`.

    `kept` is float64[3]: cutoff, octaves and gain of the last sample, so that a cutoff at rest costs next to nothing.
    """
    count = row.shape[0]
    sample_s = 1.0 / rate_hz
    moved = int(hz_step != 0.0 or hz_0 != kept[0])
    for n in range(count):
        moved |= int(row[n] != kept[1])
    if moved == 0:
        for n in range(count):
            row[n] = kept[2]
    else:
        kept[0] = hz_0 + (count - 1) * hz_step
        kept[1] = row[count - 1]
        for n in range(count):
            ratio = (hz_0 + n * hz_step) * two_to(row[n]) * sample_s
            row[n] = tangent(math.pi * limit(ratio, 0.0, HIGHEST_RATIO))
        kept[2] = row[count - 1]
