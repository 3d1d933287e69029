"""Parametric equaliser: up to eight bands in a row, each a peak, a low shelf or a high shelf.

A peak has its `gain` at its `frequency` and half of it (in dB) at the edges of a band whose width is frequency over
`q`, as the cookbook means Q. A shelf has half its gain at its frequency and all of it beyond; at Q 0.707 it is as steep
as it can be without a bump. A band at 0 dB does nothing at all. Knobs that move are followed once a block of 64
samples.

Linear until the output reaches its rail; between the bands there is room for 1000 V, as in a program. The frequency
stops at 0.45 of the sample rate.

Source: R. Bristow-Johnson, Audio EQ Cookbook, W3C Working Group Note (2021): peakingEQ, lowShelf, highShelf.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from math import cos, pow, sin, sqrt  # noqa: A004
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
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.limits import within
from rigproof.kinds.linear_bounds import output_span, reach
from rigproof.units import ratio_from_db

SHAPES = ("peak", "low-shelf", "high-shelf")
PEAK, LOW_SHELF, HIGH_SHELF = 0, 1, 2
KNOBS = 4
"""Parameters of a band: shape, frequency, gain, Q; all bands' shapes come first, then all frequencies, and so on."""
COEFFICIENTS = 4
"""State of a band: its knobs, then b0 b1 b2 a1 a2 over a0, then two delayed sums."""
SUMS = 9
EACH = 11
"""Behind the bands' state stands a row of a block, zero between calls."""

HIGHEST_RATIO = 0.45
"""Highest frequency over the sample rate."""
LIMIT_V = 1000.0


def design(shape: int, ratio: float, gain_db: float, q: float) -> tuple[float, ...]:
    """Return b0, b1, b2, a1, a2 over a0 for a frequency over the sample rate."""
    turn = 2.0 * math.pi * min(ratio, HIGHEST_RATIO)
    c = cos(turn)
    alpha = sin(turn) / (2.0 * q)
    a = pow(10.0, gain_db / 40.0)
    if shape == PEAK:
        over = 1.0 + alpha / a
        b0, b1, b2 = 1.0 + alpha * a, -2.0 * c, 1.0 - alpha * a
        a1, a2 = -2.0 * c, 1.0 - alpha / a
    else:
        sign = 1.0 if shape == LOW_SHELF else -1.0
        bend = 2.0 * sqrt(a) * alpha
        more, less = a + 1.0, a - 1.0
        over = more + sign * less * c + bend
        b0 = a * (more - sign * less * c + bend)
        b1 = sign * 2.0 * a * (less - sign * more * c)
        b2 = a * (more - sign * less * c - bend)
        a1 = -sign * 2.0 * (less + sign * more * c)
        a2 = more + sign * less * c - bend
    return b0 / over, b1 / over, b2 / over, a1 / over, a2 / over


def parametric_eq(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Send the sound through the bands, one after another."""
    rate_hz = params[RATE_HZ, 0]
    ways = (params.shape[0] - 1) // KNOBS
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    count = stop - start
    passed_v = state[EACH * ways : EACH * ways + count]
    for n in range(count):
        out_v[n] = clamp(in_v[n], -RAIL_V, RAIL_V)
    for i in range(ways):
        here = EACH * i
        moved = False
        for knob in range(KNOBS):
            value = params[1 + knob * ways + i, 0]
            moved = moved or state[here + knob] != value
            state[here + knob] = value
        if moved:
            shape = int(clamp(state[here], 0.0, 2.0) + 0.5)
            made = design(shape, state[here + 1] / rate_hz, state[here + 2], state[here + 3])
            for c in range(5):
                state[here + COEFFICIENTS + c] = made[c]
        b0, b1, b2 = state[here + 4], state[here + 5], state[here + 6]
        a1, a2 = state[here + 7], state[here + 8]
        first_v, second_v = state[here + SUMS], state[here + SUMS + 1]
        most_v = 0.0
        # The sums without the output in between, so that each waits for one product and sum only.
        first_share, second_share = b1 - a1 * b0, b2 - a2 * b0
        for n in range(count):
            x = out_v[n]
            passed_v[n] = b0 * x + first_v
            next_first_v = first_share * x + second_v - a1 * first_v
            second_v = second_share * x - a2 * first_v
            first_v = next_first_v
            most_v = max(most_v, abs(first_v))
        if most_v > LIMIT_V:  # seldom: once more, with limits
            first_v, second_v = state[here + SUMS], state[here + SUMS + 1]
            for n in range(count):
                x = out_v[n]
                v = b0 * x + first_v
                first_v = within(b1 * x - a1 * v + second_v, LIMIT_V)
                second_v = b2 * x - a2 * v
                passed_v[n] = v
        for n in range(count):
            out_v[n] = passed_v[n]
        state[here + SUMS] = settle(first_v)
        state[here + SUMS + 1] = settle(clamp(second_v, -LIMIT_V, LIMIT_V))
    for n in range(count):
        out_v[n] = clamp(out_v[n], -RAIL_V, RAIL_V)
        passed_v[n] = 0.0


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the coefficients are worked out at the first block, as no Q is 0."""
    return [0.0] * (EACH * setting.ways + BLOCK)


Band = tuple[int, float, float, float]


def _bands(setting: Setting) -> tuple[Band, ...]:
    """Return shape, frequency, gain and Q of every band that does something."""
    names = ("shape", "frequency", "gain", "q")
    rows = zip(*(setting.all_values(name) for name in names), strict=True)
    return tuple((round(s), hz, gain_db, q) for s, hz, gain_db, q in rows if gain_db != 0.0)


@cache
def _sums(bands: tuple[Band, ...], rate_hz: float) -> tuple[tuple[float, float], ...] | None:
    """Return the sums over the impulse responses of the output and of all that must stay below the limit."""
    made = [design(shape, hz / rate_hz, gain_db, q) for shape, hz, gain_db, q in bands]
    held = [0.0] * (2 * len(bands))

    def step(x: float) -> tuple[float, ...]:
        for i, (b0, b1, b2, a1, a2) in enumerate(made):
            v = b0 * x + held[2 * i]
            held[2 * i] = b1 * x - a1 * v + held[2 * i + 1]
            held[2 * i + 1] = b2 * x - a2 * v
            x = v
        return (x, *held)

    # What is left is a thousand times what is held, so that it can still ring on for a while.
    found = reach(step, lambda: 1e3 * sum(map(abs, held)), 1 + len(held))
    return None if found is None else tuple(found)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing; with all at rest what the impulse response allows; else the rails."""
    source = ins[0].clipped(-RAIL_V, RAIL_V)
    if source == ZERO:
        return [ZERO]
    names = ("shape", "frequency", "gain", "q")
    if not all(span.is_point for name in names for span in setting.all_spans(name)):
        return [Span(-RAIL_V, RAIL_V)]
    bands = _bands(setting)
    if not bands:
        return [source]
    sums = _sums(bands, setting.rate_hz)
    if sums is None:
        return [Span(-RAIL_V, RAIL_V)]
    spans = [output_span(s, source) for s in sums]
    if max(span.peak for span in spans[1:]) > LIMIT_V:
        return [Span(-RAIL_V, RAIL_V)]
    return [spans[0].clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The power of a sound spread evenly over the octaves from 20 Hz to 20 kHz; a steady part by the low shelves."""
    source = ins[0].clipped(-RAIL_V, RAIL_V)
    bands = _bands(setting)
    if not bands:
        return [source]
    made = [design(shape, hz / setting.rate_hz, gain_db, q) for shape, hz, gain_db, q in bands]
    points = 40
    power = 0.0
    for p in range(points):
        hz = 20.0 * 1000.0 ** ((p + 0.5) / points)
        power += _power_gain(made, min(hz / setting.rate_hz, 0.5)) / points
    steady = math.prod(
        ratio_from_db(gain_db) for shape, _, gain_db, _ in bands if shape == LOW_SHELF
    )
    gain = math.sqrt(power)
    moving = source.scaled(gain, -gain * source.dc_v)
    [span] = interval([Span(source.lo_v, source.hi_v)], setting)
    return [moving.scaled(1.0, steady * source.dc_v).clipped(span.lo, span.hi)]


def _power_gain(made: Sequence[tuple[float, ...]], ratio: float) -> float:
    """Return the squared gain of all bands at a frequency over the sample rate."""
    turn = complex(math.cos(2.0 * math.pi * ratio), -math.sin(2.0 * math.pi * ratio))
    total = 1.0
    for b0, b1, b2, a1, a2 in made:
        total *= abs((b0 + turn * (b1 + turn * b2)) / (1.0 + turn * (a1 + turn * a2))) ** 2
    return total


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Slow pulses pass, bent."""
    return [ins[0]]


KIND = Kind(
    name="parametric-eq",
    doc=__doc__,
    inputs=(Port("in", "the sound"),),
    outputs=(Port("out", "the sound through all bands"),),
    params=(
        Param("shape", "ratio", 0.0, 2.0, 0.0, "what a band is", SHAPES, many=True),
        Param("frequency", "Hz", 20.0, 20_000.0, 1000.0, "middle of a band", many=True),
        Param("gain", "dB", -24.0, 24.0, 0.0, "of a band", many=True),
        Param("q", "ratio", 0.1, 20.0, math.sqrt(0.5), "how narrow a band is", many=True),
    ),
    kernel=parametric_eq,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 8, 4),
)
