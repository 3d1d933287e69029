"""Comparator: a gate that is high while the input is at or above a threshold, and its opposite.

The threshold is the knob plus the voltage at its input. The gate goes high at the first sample at or above it and low
again `hysteresis` below, so that noise on a slow voltage does not fire it many times.

Left out: the place between two samples where the input really crosses (edges fall on samples, so a comparator on a
high tone aliases), the comparator's own delay.

Source: definition; a gate of 5 V is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    RAIL_V,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.gate_share import gate_level, share_above

THRESHOLD_V, HYSTERESIS_V, LEVEL_V = 1, 2, 3
IS_HIGH = 0


def comparator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Compare sample by sample; threshold, hysteresis and level glide."""
    in_v, cv_v = bus_v[ins[0], start:stop], bus_v[ins[1], start:stop]
    gate_v, inverse_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    threshold_step, gap_step, level_step = (
        params[THRESHOLD_V, 1],
        params[HYSTERESIS_V, 1],
        params[LEVEL_V, 1],
    )
    threshold_0 = params[THRESHOLD_V, 0] + start * threshold_step
    gap_0 = params[HYSTERESIS_V, 0] + start * gap_step
    level_0 = params[LEVEL_V, 0] + start * level_step
    high = state[IS_HIGH]
    for n in range(stop - start):
        over_v = clamp(in_v[n], -RAIL_V, RAIL_V) - clamp(cv_v[n], -RAIL_V, RAIL_V)
        over_v -= threshold_0 + n * threshold_step
        stays = high if over_v >= -(gap_0 + n * gap_step) else 0.0
        high = 1.0 if over_v >= 0.0 else stays
        level_v = level_0 + n * level_step
        gate_v[n] = high * level_v
        inverse_v[n] = (1.0 - high) * level_v
    state[IS_HIGH] = high


def prepare(setting: Setting) -> list[float]:
    """Start low."""
    return [0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; only one of them where the input cannot cross the threshold."""
    threshold = setting.span("threshold") + ins[1].clipped(-RAIL_V, RAIL_V)
    over = ins[0].clipped(-RAIL_V, RAIL_V) - threshold
    high = setting.span("level")
    # Rounding of sums may tip what lies on the threshold: no certainty within a billionth of a volt.
    if over.hi < -1e-9:
        return [Span.point(0.0), high]
    if over.lo > 1e-9:
        return [high, Span.point(0.0)]
    return [high.including(0.0)] * 2


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle that is high for the share of the time that the input spends above the threshold."""
    threshold_v = setting["threshold"] + ins[1].clipped(-RAIL_V, RAIL_V).dc_v
    share = share_above(ins[0].clipped(-RAIL_V, RAIL_V), threshold_v)
    return [gate_level(share, setting["level"]), gate_level(1.0 - share, setting["level"])]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The input's pulses, of unknown length, if they reach the threshold; else nobody can say."""
    pulse, threshold = ins
    if threshold.beat is not Beat.NONE or pulse.beat in (Beat.NONE, Beat.IRREGULAR):
        return [IRREGULAR] * 2
    return [replace(pulse, length_s=None)] * 2


KIND = Kind(
    name="comparator",
    doc=__doc__,
    inputs=(
        Port("in", "the voltage that is compared", is_control=True),
        Port("threshold", "added to the threshold, volt for volt", is_control=True),
    ),
    outputs=(
        Port("gate", "high while the input is above"),
        Port("inverse", "high while it is below"),
    ),
    params=(
        Param("threshold", "V", -10.0, 10.0, 1.0, "where the gate goes high"),
        Param("hysteresis", "V", 0.0, 2.0, 0.05, "how far below it goes low"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a gate"),
    ),
    kernel=comparator,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
