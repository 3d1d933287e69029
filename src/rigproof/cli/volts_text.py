"""Volts, levels and delays in a few words, and the same as data."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rigproof.kinds.base import Level

SMALLEST_V = 5e-4
"""Less is shown as nothing. [V]"""
SMALLEST_DC_V = 0.05
"""A swing about less than this is shown as one about nothing. [V]"""


def level_data(level: Level) -> dict[str, float]:
    """Return a level for programs; `rms_v` is about the mean `dc_v`."""
    return {"lo_v": level.lo_v, "hi_v": level.hi_v, "dc_v": level.dc_v, "rms_v": level.rms_v}


def range_text(lo_v: float, hi_v: float) -> str:
    """Return a range of volts, or the one voltage that it is.

    >>> range_text(-5.0, 5.0), range_text(0.0, 0.0), range_text(0.0, 4.95), range_text(-1.0, 2.0)
    ('±5.00', '0', '0 to +4.95', '-1.00 to +2.00')
    """
    lo, hi = _volts(lo_v), _volts(hi_v)
    if lo == hi:
        return lo
    return f"±{hi[1:]}" if lo[1:] == hi[1:] else f"{lo} to {hi}"


def _volts(value_v: float) -> str:
    text = f"{value_v:+.2f}"
    return "0" if text in ("+0.00", "-0.00") else text


def swing_text(level: Level) -> str:
    """Return the RMS about the mean, and the mean where there is one.

    >>> from rigproof.kinds.base import Level
    >>> swing_text(Level.steady(2.5)), swing_text(Level.swing(5.0, crest_ratio=2.0))
    ('+2.50 V', '2.50 V rms')
    >>> swing_text(Level(-1.0, 3.0, 1.0, 0.5))
    '+1.00 ±0.50 rms'
    """
    if level.rms_v < SMALLEST_V:
        return "" if abs(level.dc_v) < SMALLEST_V else f"{level.dc_v:+.2f} V"
    if abs(level.dc_v) < SMALLEST_DC_V:
        return f"{level.rms_v:.2f} V rms"
    return f"{level.dc_v:+.2f} ±{level.rms_v:.2f} rms"


def delay_text(after_s: tuple[float, float] | None) -> str:
    """Return how long something takes, first and last.

    >>> delay_text((0.001, 0.001)), delay_text((0.0, 0.35)), delay_text((0.5621, 1.314))
    ('1 ms', '0 to 350 ms', '0.56 to 1.3 s')
    >>> delay_text(None)
    ''
    """
    if after_s is None:
        return ""
    unit, factor = ("s", 1.0) if after_s[1] >= 1.0 else ("ms", 1e3)
    lo, hi = (f"{s * factor:.3g}" for s in after_s)
    if lo != hi:
        lo, hi = (
            f"{s * factor:.2g}" if s * factor < 100.0 else f"{s * factor:.0f}" for s in after_s
        )
    return f"{hi} {unit}" if lo == hi else f"{lo} to {hi} {unit}"
