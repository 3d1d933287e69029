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
    BLOCK,
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
from rigproof.kinds.prewarp import write_gains_at
from rigproof.kinds.two_pole import HIGHEST_Q, LOWEST_Q, STATE_LIMIT_V, two_pole, two_pole_spans

Q, MOVE_DEPTH, FREQUENCY_HZ = 1, 2, 3
SIGNAL_IN, MOVE_IN, PEAK_IN = 0, 1, 2

EACH = 5
FIRST_V, SECOND_V, LAST_HZ, LAST_OCTAVES, GAIN = 0, 1, 2, 3, 4
"""State of a peak: its integrators, then what `write_gains_at` keeps."""
ROWS = 5
"""Rows of a block behind the peaks' state, for what does not wait for the sample before; zero between calls."""
LN_2 = math.log(2.0)


def multi_peak_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Add up the band passes, one peak after another."""
    rate_hz = params[RATE_HZ, 0]
    ways = ins.shape[0] - PEAK_IN
    count = stop - start
    in_v, move_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[MOVE_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    rows = EACH * ways
    x_v, damping = state[rows : rows + count], state[rows + BLOCK : rows + BLOCK + count]
    rows += 2 * BLOCK
    band_v = state[rows + 2 * BLOCK : rows + 2 * BLOCK + count]
    gains, solving = state[rows : rows + count], state[rows + BLOCK : rows + BLOCK + count]
    q_step, depth_step = params[Q, 1], params[MOVE_DEPTH, 1]
    q_0 = params[Q, 0] + start * q_step
    depth_0 = params[MOVE_DEPTH, 0] + start * depth_step
    for n in range(count):
        x_v[n] = clamp(in_v[n], -RAIL_V, RAIL_V)
        damping[n] = 1.0 / (q_0 + n * q_step)
        out_v[n] = 0.0
    for i in range(ways):
        peak_v = bus_v[ins[PEAK_IN + i], start:stop]
        hz_step, level_step = params[FREQUENCY_HZ + i, 1], params[FREQUENCY_HZ + ways + i, 1]
        hz_0 = params[FREQUENCY_HZ + i, 0] + start * hz_step
        level_0 = params[FREQUENCY_HZ + ways + i, 0] + start * level_step
        here = EACH * i
        for n in range(count):
            octaves = (depth_0 + n * depth_step) * clamp(move_v[n], -RAIL_V, RAIL_V)
            gains[n] = octaves + clamp(peak_v[n], -RAIL_V, RAIL_V)
        write_gains_at(gains, hz_0, hz_step, rate_hz, state[here + LAST_HZ : here + EACH])
        for n in range(count):
            solving[n] = 1.0 / (1.0 + gains[n] * (gains[n] + damping[n]))
        first_v, second_v = state[here + FIRST_V], state[here + SECOND_V]
        most_v = 0.0
        for n in range(count):
            g, k, r, x = gains[n], damping[n], solving[n], x_v[n]
            moved = 2.0 * g * r
            band_v[n] = r * (first_v + g * (x - second_v))
            # Both integrators come two products and sums after the last.
            next_first_v = (1.0 - moved * (g + k)) * first_v + (moved * x - moved * second_v)
            second_v = (1.0 - moved * g) * second_v + (moved * first_v + moved * g * x)
            first_v = next_first_v
            most_v = max(most_v, abs(first_v), abs(second_v))
        if most_v > STATE_LIMIT_V:  # seldom: once more, with limits
            first_v, second_v = state[here + FIRST_V], state[here + SECOND_V]
            for n in range(count):
                _, band_v[n], _, first_v, second_v = two_pole(
                    x_v[n], first_v, second_v, gains[n], damping[n]
                )
        for n in range(count):
            out_v[n] += (level_0 + n * level_step) * damping[n] * band_v[n]
        state[here + FIRST_V] = settle(first_v)
        state[here + SECOND_V] = settle(second_v)
    for n in range(count):
        out_v[n] = clamp(out_v[n], -RAIL_V, RAIL_V)
        x_v[n], damping[n], gains[n], solving[n], band_v[n] = 0.0, 0.0, 0.0, 0.0, 0.0


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the gains are worked out at the first sample, as no frequency is 0."""
    return [0.0] * (EACH * setting.ways + ROWS * BLOCK)


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
