"""Following a clock from outside: the time between its pulses, what counts as missed, what as stopped. Plain functions.

The period is the last gap between two rises. `patience` is how many missed pulses are bridged: with it a gap of two or
more periods is taken for one with missed pulses and divided by their number; without it every gap is the new period. A
gap over four periods, or over what patience allows, is a stop: the period is then unknown until the next pulse but one.

Source: definition; the limits are our choice. Threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

import math
from typing import Any

from rigproof.kinds.edges import schmitt

HIGH, HAS_CLOCK, SINCE, PERIOD, GAP = 0, 1, 2, 3, 4
"""Places in the state: whether it is high, one has come, samples since, the period (0 unknown), the last gap."""
SIZE = 5
LONGEST = 1e9
"""Samples after which nobody counts any more."""
STOP_RATIO = 4.0
"""A gap of more periods than this is a stop. Our choice."""
LATE_RATIO = 1.5
"""Periods past the last pulse that patience allows. Our choice."""
THRESHOLD_V = 1.0
"""A clock is high from here up. Common practice, no source. [V]"""


def follow_clock(state: Any, clock_v: float, patience: float) -> bool:
    """Take one sample of the clock; return whether a pulse begins at it."""
    high = schmitt(clock_v, state[HIGH], THRESHOLD_V)
    is_rise: bool = high > state[HIGH]
    state[HIGH] = high
    if state[SINCE] < LONGEST:
        state[SINCE] += 1.0
    if is_rise:
        gap = state[SINCE]
        period = state[PERIOD]
        state[GAP] = gap
        if state[HAS_CLOCK] > 0.0:
            if gap >= LONGEST or (
                period > 0.0 and gap > max(STOP_RATIO, patience + LATE_RATIO) * period
            ):
                state[PERIOD] = 0.0
            elif period > 0.0 and patience > 0.5:
                pulses = max(1.0, math.floor(gap / period + 0.5))
                state[PERIOD] = gap / min(pulses, patience + 1.0)
            else:
                state[PERIOD] = gap
        state[HAS_CLOCK] = 1.0
        state[SINCE] = 0.0
    return is_rise


def pass_time(state: Any, samples: int) -> None:
    """Let samples go by in which the clock does not change."""
    state[SINCE] = min(state[SINCE] + samples, LONGEST)
