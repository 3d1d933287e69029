"""Reading a gate by threshold, with hysteresis so that noise does not fire it twice. Plain functions; see `base`."""

from __future__ import annotations

HYSTERESIS_V = 0.3
"""A gate input lets go this far below its threshold. Common practice, no source. [V]"""


def schmitt(voltage_v: float, was_high: float, threshold_v: float) -> float:
    """Return 1.0 while the gate is high and 0.0 while it is low, given what it was a sample ago."""
    if voltage_v >= threshold_v:
        return 1.0
    if voltage_v < threshold_v - HYSTERESIS_V:
        return 0.0
    return was_high
