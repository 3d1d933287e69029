"""A limit for loops in which one sample waits for the one before: as short as can be. Plain functions; see `base`."""

from __future__ import annotations


def within(value: float, limit: float) -> float:
    """Return the value held within plus and minus `limit`; it must not be NaN."""
    value = value if value >= -limit else -limit  # noqa: FURB136
    return value if value <= limit else limit  # noqa: FURB136
