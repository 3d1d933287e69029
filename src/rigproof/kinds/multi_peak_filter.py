"""Multi-peak filter: several band passes side by side whose peaks move together and each by its own voltage.

Every peak has gain `level` at its frequency and the same `q`, so its bandwidth is its frequency over Q. `move` shifts
all of them, `move-depth` octaves a volt; `peak-1` and on shift one each, an octave a volt. Where peaks overlap they add
with their phases, as parallel filters do. A negative level turns a peak over.

Linear until the output reaches its rail. Left out: distortion below the rails. A peak stops at 0.45 of the rate.

Source: H(s) = (s / Q) / (s^2 + s / Q + 1), by the bilinear transform: bandwidth f0 / Q, gain 1 at f0 (textbook).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
    RATE_HZ,
    ZERO,
    Kind,
    Level,
    Param,
    Port,
    Setting,
    Span,
    mixed,
)
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.prewarp import quick_gain
from rigproof.kinds.two_pole import HIGHEST_Q, LOWEST_Q, two_pole, two_pole_spans

Q, MOVE_DEPTH, FREQUENCY_HZ = 1, 2, 3
SIGNAL_IN, MOVE_IN, PEAK_IN = 0, 1, 2

EACH = 2
FIRST_V, SECOND_V = 0, 1
"""State of a peak."""
LN_2 = math.log(2.0)


def multi_peak_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Add up the band passes, one peak after another."""
    rate_hz = params[RATE_HZ, 0]
    ways = ins.shape[0] - PEAK_IN
    in_v, move_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[MOVE_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    q_step, depth_step = params[Q, 1], params[MOVE_DEPTH, 1]
    q_0 = params[Q, 0] + start * q_step
    depth_0 = params[MOVE_DEPTH, 0] + start * depth_step
    for i in range(ways):
        peak_v = bus_v[ins[PEAK_IN + i], start:stop]
        hz_step, level_step = params[FREQUENCY_HZ + i, 1], params[FREQUENCY_HZ + ways + i, 1]
        hz_0 = params[FREQUENCY_HZ + i, 0] + start * hz_step
        level_0 = params[FREQUENCY_HZ + ways + i, 0] + start * level_step
        here = EACH * i
        first_v, second_v = state[here + FIRST_V], state[here + SECOND_V]
        for n in range(stop - start):
            octaves = (depth_0 + n * depth_step) * clamp(move_v[n], -RAIL_V, RAIL_V)
            octaves += clamp(peak_v[n], -RAIL_V, RAIL_V)
            g = quick_gain((hz_0 + n * hz_step) / rate_hz * exp(LN_2 * octaves))
            k = 1.0 / (q_0 + n * q_step)
            x = clamp(in_v[n], -RAIL_V, RAIL_V)
            _, band_v, _, first_v, second_v = two_pole(x, first_v, second_v, g, k)
            passed_v = (level_0 + n * level_step) * k * band_v
            out_v[n] = passed_v if i == 0 else out_v[n] + passed_v
        state[here + FIRST_V] = settle(first_v)
        state[here + SECOND_V] = settle(second_v)
    for n in range(stop - start):
        out_v[n] = clamp(out_v[n], -RAIL_V, RAIL_V)


def prepare(setting: Setting) -> list[float]:
    """Start at rest."""
    return [0.0] * (EACH * setting.ways)


def _peak(source: Span, octaves: Span, i: int, setting: Setting) -> Span | None:
    """Return what one peak can reach at gain 1; None where it cannot be said."""
    hz = setting.span(f"frequency-{i}")
    if not (octaves.is_point and hz.is_point and setting.span("q").is_point):
        return None
    q = setting["q"]
    spans = two_pole_spans(source, hz.lo * exp(LN_2 * octaves.lo), q, setting.rate_hz)
    return None if spans is None else spans[1].scaled(1.0 / q)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing; with all at rest the sum of what each peak's impulse response allows; else the rails."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    if source == ZERO:
        return [ZERO]
    moves = ins[MOVE_IN].clipped(-RAIL_V, RAIL_V) * setting.span("move-depth")
    total = ZERO
    for i, level in enumerate(setting.all_spans("level")):
        if level == ZERO:
            continue
        octaves = moves + ins[PEAK_IN + i].clipped(-RAIL_V, RAIL_V)
        peak = _peak(source, octaves, i + 1, setting)
        if peak is None:
            return [Span(-RAIL_V, RAIL_V)]
        total = total + peak * level
    return [total.clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if an equal share of the sound's power lay at each peak; nothing of the steady part passes."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    moving = source.scaled(1.0 / math.sqrt(setting.ways), -source.dc_v / math.sqrt(setting.ways))
    [span] = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    passed = mixed([moving.scaled(gain) for gain in setting.all_values("level")])
    return [passed.clipped(span.lo, span.hi)]


KIND = Kind(
    name="multi-peak-filter",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("move", "`move-depth` octaves a volt, all peaks", is_control=True),
        Port("peak", "an octave a volt, one peak", is_control=True, many=True),
    ),
    outputs=(Port("out", "the sum of the peaks"),),
    params=(
        Param("q", "ratio", LOWEST_Q, HIGHEST_Q, 5.0, "frequency over bandwidth, all peaks"),
        Param("move-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `move`"),
        Param("frequency", "Hz", 20.0, 15_000.0, 800.0, "of one peak, at 0 V", many=True),
        Param("level", "ratio", -2.0, 2.0, 1.0, "gain of one peak", many=True),
    ),
    kernel=multi_peak_filter,
    prepare=prepare,
    interval=interval,
    level=level,
    ways=(1, 8, 3),
)
