"""Clamps shared by kernels: a voltage that stops at a limit, and NaN made harmless. Plain functions; see `base`."""

from __future__ import annotations

TINY = 1e-18
"""Below this a decaying state is set to zero, far above where denormal numbers begin. [V]"""


def clamp(value: float, lo: float, hi: float) -> float:
    """Return the value held between two limits; NaN becomes the low one, or 0 when that lies between."""
    if value > hi:
        return hi
    if value >= lo:
        return value
    if value < lo:
        return lo
    return min(max(0.0, lo), hi)


def settle(value: float) -> float:
    """Return the value, or exact zero when it has decayed to nothing."""
    if -TINY < value < TINY:
        return 0.0
    return value
