"""Laws of panning and crossfading: what share of a signal goes where, and levels of what takes turns. Plain functions.

Equal power: the gains are sine and cosine of a quarter turn, so that their squares always add up to one and the middle
is at -3.010300 dB. Linear: the gains themselves add up to one, the middle is at -6.020600 dB.

Source: sin^2 + cos^2 = 1 (definition); 20 log10 of sqrt(1/2) and of 1/2; which law a circuit has is common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rigproof.kinds.base import Level, Span

LAWS = ("equal-power", "linear")
EQUAL_POWER, LINEAR = 0, 1
POINTS = 33
"""Places of a moving control at which a level is looked at."""


def quarter_sine(share: float) -> float:
    """Return sin(pi/2 share) for a share from 0 to 1, within 1e-11, without branches.

    Source: Taylor's series to the 15th power; what it leaves out is below 6.1e-12.
    """
    x = share * 1.5707963267948966
    s = x * x
    tail = 1.0 / 362880.0 + s * (-1.0 / 39916800.0 + s * (1.0 / 6227020800.0 - s / 1307674368000.0))
    return x * (1.0 + s * (-1.0 / 6.0 + s * (1.0 / 120.0 + s * (-1.0 / 5040.0 + s * tail))))


def share_gain(share: float, is_linear: bool) -> float:
    """Return the gain of the side towards which a control stands by `share`, 0 to 1."""
    return share if is_linear else quarter_sine(share)


def gain_span(shares: Span, laws: Span) -> Span:
    """Return the gains for all shares of a span under every law a switch can stand at; both laws rise."""
    ends = [
        share_gain(share, law == LINEAR)
        for law in (EQUAL_POWER, LINEAR)
        if laws.lo - 0.5 <= law <= laws.hi + 0.5
        for share in (shares.lo, shares.hi)
    ]
    return Span.around(*ends)


def places(steer: Level, base: float, depth: float, lo: float, hi: float) -> list[float]:
    """Return where a control steered by a voltage stands, all equally often, held between `lo` and `hi`."""
    if steer.hi_v - steer.lo_v < 1e-9 or steer.rms_v == 0.0:
        voltages = [steer.dc_v]
    else:
        step_v = (steer.hi_v - steer.lo_v) / (POINTS - 1)
        voltages = [steer.lo_v + i * step_v for i in range(POINTS)]
    return [min(max(base + depth * v, lo), hi) for v in voltages]


def averaged(levels: Sequence[Level]) -> Level:
    """Return the level of what is each of these for as long as the next.

    Source: mean and variance of a mixture (definition).

    >>> averaged([Level.steady(1.0), Level.steady(3.0)])
    Level(lo_v=1.0, hi_v=3.0, dc_v=2.0, rms_v=1.0, hit_v=0.0, under_v=0.0)
    """
    dc_v = sum(x.dc_v for x in levels) / len(levels)
    power = sum(x.rms_v**2 + (x.dc_v - dc_v) ** 2 for x in levels) / len(levels)
    lo_v, hi_v = min(x.lo_v for x in levels), max(x.hi_v for x in levels)
    strongest = max(levels, key=lambda x: x.hit_v)
    return Level(lo_v, hi_v, dc_v, math.sqrt(power)).hit_like(strongest, 1.0)
