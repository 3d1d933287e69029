"""Which of several ways a voltage chooses. Plain functions; see `base`.

`full-scale` volts hold all the ways, one after the other, each as wide as the next; below them is the first, above the
last. A way is left only when the voltage is a tenth of a way past its edge, so that noise does not chatter.

Source: definition; the tenth is our choice.
"""

from __future__ import annotations

import math

from rigproof.kinds.base import RAIL_V, Level, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.pan_laws import places

MARGIN_RATIO = 0.1
"""Share of a way by which an edge must be passed."""


def way_of(voltage_v: float, full_v: float, ways: int, last: float) -> float:
    """Return the way, from 0, that a voltage chooses when the last one was `last`, -1 for none yet."""
    spot = clamp(voltage_v, -2.0 * RAIL_V, 2.0 * RAIL_V) * ways / full_v
    if last - MARGIN_RATIO <= spot < last + 1.0 + MARGIN_RATIO and last >= 0.0:
        return last
    return clamp(math.floor(spot), 0.0, ways - 1.0)


def ways_of_span(voltage: Span, full: Span, ways: int) -> range:
    """Return all the ways that a voltage of this span can choose."""
    spots = voltage.clipped(-2.0 * RAIL_V, 2.0 * RAIL_V).widened(1e-9)
    spots = spots * Span(ways / full.hi, ways / full.lo)
    first, last = (int(clamp(math.floor(v), 0.0, ways - 1.0)) for v in (spots.lo, spots.hi))
    return range(first, last + 1)


def ways_of_level(steer: Level, setting: Setting, full_v: float) -> list[int]:
    """Return the ways chosen by every voltage that is typical, as often as they are."""
    voltages = places(steer.clipped(-RAIL_V, RAIL_V), 0.0, 1.0, -RAIL_V, RAIL_V)
    return [int(way_of(v, full_v, setting.ways, -1.0)) for v in voltages]
