"""Reading a gate by threshold, with hysteresis so that noise does not fire it twice. Plain functions; see `base`."""

from __future__ import annotations

from typing import Any

HYSTERESIS_V = 0.3
"""A gate input lets go this far below its threshold. Common practice, no source. [V]"""


def schmitt(voltage_v: float, was_high: float, threshold_v: float) -> float:
    """Return 1.0 while the gate is high and 0.0 while it is low, given what it was a sample ago."""
    if voltage_v >= threshold_v:
        return 1.0
    if voltage_v < threshold_v - HYSTERESIS_V:
        return 0.0
    return was_high


def is_steady(gate_v: Any, was_high: float, threshold_v: float) -> bool:
    """Return whether a gate stays as it was over all of `gate_v`, float64[n], read as by `schmitt`.

    Most blocks hold no edge, and a kernel that knows so beforehand can take a shorter way.
    """
    moved = 0
    if was_high > 0.0:
        for n in range(gate_v.shape[0]):
            moved |= int(not gate_v[n] >= threshold_v - HYSTERESIS_V)  # so that NaN is no rest
    else:
        for n in range(gate_v.shape[0]):
            moved |= int(gate_v[n] >= threshold_v)
    return moved == 0


def steady_samples(gate_v: Any, was_high: float, threshold_v: float) -> int:
    """Return for how many of its samples a gate stays as it was, read as by `schmitt`: all of them, if it does."""
    count = gate_v.shape[0]
    if not is_steady(gate_v, was_high, threshold_v):
        for n in range(count):
            if schmitt(gate_v[n], was_high, threshold_v) != was_high:
                return n
    return int(count)


def hold_gate(out_v: Any, left: float, level_v: float, level_step: float) -> None:
    """Write a gate that stays high for `left` more samples, which may be none or more than `out_v` holds. [V]

    `level_v` is its voltage at the first sample, `level_step` the change a sample.
    """
    for n in range(out_v.shape[0]):
        out_v[n] = level_v + n * level_step if n < left else 0.0
