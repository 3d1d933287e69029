"""Clamps shared by kernels: a voltage that stops at a limit, and NaN made harmless. Plain functions; see `base`."""

from __future__ import annotations

TINY = 1e-18
"""Below this a decaying state is set to zero, far above where denormal numbers begin. [V]"""


def clamp(value: float, lo: float, hi: float) -> float:
    """Return the value held between two limits; NaN counts as 0.

    Written as selections without branches, so that the compiler turns a loop of it into vector code.
    """
    value = value if value == value else 0.0  # NaN alone differs from itself
    value = value if value >= lo else lo  # noqa: FURB136
    return value if value <= hi else hi  # noqa: FURB136


def limit(value: float, lo: float, hi: float) -> float:
    """Return a value that is known to be finite, held between two limits: half the work of `clamp`."""
    value = value if value >= lo else lo  # noqa: FURB136
    return value if value <= hi else hi  # noqa: FURB136


def settle(value: float) -> float:
    """Return the value, or exact zero when it has decayed to nothing."""
    if -TINY < value < TINY:
        return 0.0
    return value
