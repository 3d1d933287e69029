"""What part of the time a voltage is above a threshold, and the level of the gate that says so. Plain functions.

Source: mean and variance of a variable with two values (definition); an even spread between the ends is our guess for
what is neither steady nor two-valued.
"""

from __future__ import annotations

import math

from rigproof.kinds.base import Level

TWO_VALUED_RATIO = 0.99
"""From this share of the most that the RMS can be, a wave is read as one that only knows its two ends."""


def share_above(level: Level, threshold_v: float) -> float:
    """Return the share of the time that a voltage of this level is at the threshold or above.

    >>> share_above(Level(0.0, 5.0, 1.25, 5.0 * (0.25 * 0.75) ** 0.5), 1.0)
    0.25
    >>> share_above(Level(-5.0, 5.0, 0.0, 2.9), 2.5)
    0.25
    """
    if level.lo_v >= threshold_v:
        return 1.0
    if level.hi_v < threshold_v or level.hi_v <= level.lo_v:
        return 0.0
    if level.rms_v == 0.0:
        return 1.0 if level.dc_v >= threshold_v else 0.0
    most_v = math.sqrt(max((level.hi_v - level.dc_v) * (level.dc_v - level.lo_v), 0.0))
    if level.rms_v >= TWO_VALUED_RATIO * most_v:
        return (level.dc_v - level.lo_v) / (level.hi_v - level.lo_v)
    return (level.hi_v - threshold_v) / (level.hi_v - level.lo_v)


def gate_level(share: float, high_v: float) -> Level:
    """Return the level of a gate that is at `high_v` for a share of the time and else at 0 V."""
    lo_v = 0.0 if share < 1.0 else high_v
    hi_v = high_v if share > 0.0 else 0.0
    return Level(lo_v, hi_v, high_v * share, high_v * math.sqrt(share * (1.0 - share)))
