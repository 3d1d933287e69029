"""The prewarped gain of a trapezoidal integrator, faster than by a tangent. Plain functions; see `base`.

Source: g = tan(pi cutoff / rate), the bilinear transform's frequency law; the fraction is Lambert's continued fraction
of the tangent cut after seven terms (textbook mathematics), within 1e-7 of it over the range used.
"""

from __future__ import annotations

import math

HIGHEST_RATIO = 0.45
"""Highest cutoff over the sample rate."""


def quick_gain(ratio: float) -> float:
    """Return tan(pi ratio) for a cutoff over the sample rate, held between 0 and 0.45."""
    x = math.pi * min(max(ratio, 0.0), HIGHEST_RATIO)
    s = x * x
    top = 135135.0 - s * (17325.0 - s * (378.0 - s))
    return x * top / (135135.0 - s * (62370.0 - s * (3150.0 - 28.0 * s)))
