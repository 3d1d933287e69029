"""What synthesised drums share: how accents and decays are told, how loud a hit is while it sounds. Plain functions.

Source: -60 dB is a thousandth, 6.907755 time constants (definition); accents as a share of the level and 5 V for all of
it are common practice, no source.
"""

from __future__ import annotations

import math
from math import exp

from rigproof.kinds.clipping import clamp

THRESHOLD_V = 1.0
"""A trigger counts from here up. Common practice, no source. [V]"""
FULL_V = 5.0
"""An accent of this much is the whole. Common practice, no source. [V]"""
TAU_60_DB = math.log(1000.0)
"""Time constants until -60 dB."""
SILENT_RATIO = 1e-6
"""Below -120 dB a hit is over. Our choice."""
FADE_S = 0.001
"""Fade of a hit that the next one ends, so that nothing clicks. Our choice. [s]"""


def hit_gain(accent_v: float, amount: float) -> float:
    """Return how loud a hit is: 1 with the full accent, less by `amount` without."""
    return 1.0 - amount * (1.0 - clamp(accent_v, 0.0, FULL_V) / FULL_V)


def fall_a_sample(decay_s: float, rate_hz: float) -> float:
    """Return by what a hit that falls 60 dB in `decay_s` is multiplied every sample."""
    return exp(-TAU_60_DB / max(decay_s * rate_hz, 1.0))


def until_silent(loud: float) -> float:
    """Return the loudness of a hit, or exact zero when it is over."""
    return loud if loud >= SILENT_RATIO else 0.0


def decay_power(decay_s: float, over_s: float) -> float:
    """Return the mean square of a decay from 1 over a time of at least its 60 dB.

    >>> round(decay_power(0.5, 0.5), 6)
    0.072382
    """
    return decay_s / over_s / (2.0 * TAU_60_DB)
