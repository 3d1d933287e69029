"""Volts, levels and delays in a few words, and the same as data."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rigproof.kinds.base import Level

SMALLEST_V = 5e-4
"""Less is shown as nothing. [V]"""


def level_data(level: Level) -> dict[str, float]:
    """Return a level for programs; `rms_v` is about the mean `dc_v`."""
    return {"lo_v": level.lo_v, "hi_v": level.hi_v, "dc_v": level.dc_v, "rms_v": level.rms_v}


def range_text(lo_v: float, hi_v: float) -> str:
    """Return a range of volts, or the one voltage that it is.

    >>> range_text(-5.0, 5.0), range_text(0.0, 0.0)
    ('-5.00 to +5.00', '0.00')
    """
    if lo_v == hi_v:
        return f"{lo_v:.2f}"
    return f"{lo_v:+.2f} to {hi_v:+.2f}"


def swing_text(level: Level) -> str:
    """Return the RMS about the mean, and the mean where there is one.

    >>> from rigproof.kinds.base import Level
    >>> swing_text(Level.steady(2.5)), swing_text(Level.swing(5.0, crest_ratio=2.0))
    ('+2.50 V', '2.50 V rms')
    """
    if level.rms_v < SMALLEST_V:
        return "" if abs(level.dc_v) < SMALLEST_V else f"{level.dc_v:+.2f} V"
    offset = f" about {level.dc_v:+.2f}" if abs(level.dc_v) >= 0.05 else ""
    return f"{level.rms_v:.2f} V rms{offset}"


def delay_text(after_s: tuple[float, float] | None) -> str:
    """Return how long something takes, first and last, in milliseconds.

    >>> delay_text((0.001, 0.001)), delay_text((0.0, 0.35)), delay_text(None)
    ('1 ms', '0 to 350 ms', '')
    """
    if after_s is None:
        return ""
    lo, hi = (f"{s * 1e3:.3g}" for s in after_s)
    return f"{hi} ms" if lo == hi else f"{lo} to {hi} ms"
