"""Saturator: drives a sound into a curve that flattens at `ceiling`: rounded, or straight with a hard or a soft corner.

`tanh` bends from the start, `cubic` is rounder at the top and flat from one and a half times the ceiling, `hard` is a
straight line with a corner. `bias` shifts the sound along the curve first, which adds even harmonics; what the bias
alone would give is taken off again, so silence stays silent. `level` follows.

Each sample is the mean of the curve between two samples, so that little aliases: for a 5 kHz sine at 48 kHz, driven
eight times into the corner, what folds down below 5 kHz lies 28 dB lower than without. It comes out 1.5 samples late;
what is not bent is flat within 0.1 dB up to 6 kHz at 48 kHz, and 1.1 dB down at 12 kHz.

Left out: the memory of real circuits (tape, transformers), noise.

Source: J. D. Parker, V. Zavalishin, E. Le Bivic, Reducing the Aliasing of Nonlinear Waveshaping Using Continuous-Time
Convolution, Proc. DAFx-16, 2016 (from memory; measured by tests). The curves are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import tanh
from typing import Any

from rigproof.kinds.antialiased import LATE_SAMPLES, NEAR, OVERSHOOT, emphasised
from rigproof.kinds.base import BLOCK, RAIL_V, Kind, Lag, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp, limit
from rigproof.kinds.delay_line import between
from rigproof.kinds.elementary import MOST_OCTAVES, two_to

CURVE, DRIVE, BIAS_V, CEILING_V, LEVEL = 1, 2, 3, 4, 5
NEWEST, MIDDLE, BEFORE = 0, 1, 2
"""State: the last two samples over the ceiling, and the last emphasised one."""
ROWS = 3
AREAS = ROWS + BLOCK + 2
END = AREAS + BLOCK
"""Behind them rows of a block: what is driven, two samples before it first, and the areas; zero between calls."""

CURVES = ("tanh", "cubic", "hard")
TANH, CUBIC, HARD = 0, 1, 2
CUBIC_END = 1.5
LN_2 = math.log(2.0)


def bent(curve: int, u: float) -> float:
    """Return the curve: slope 1 at 0, never beyond 1."""
    if curve == TANH:
        return tanh(u)
    if curve == CUBIC:
        u = clamp(u, -CUBIC_END, CUBIC_END)
        return u - 4.0 / 27.0 * u * u * u
    return clamp(u, -1.0, 1.0)


def tanh_area(u: float) -> float:
    """Return ln cosh u, the antiderivative of tanh: |u| + ln(1 + e^(-2 |u|)) - ln 2, within 1e-11.

    ln(1 + y) is 2 artanh(y / (2 + y)), by its series to the 31st power, which leaves out less than 1e-16.
    """
    size = abs(u)
    y = two_to(-limit(2.0 / LN_2 * size, 0.0, MOST_OCTAVES))
    z = y / (2.0 + y)
    s = z * z
    t = 1.0 / 25.0 + s * (1.0 / 27.0 + s * (1.0 / 29.0 + s * (1.0 / 31.0)))
    t = 1.0 / 19.0 + s * (1.0 / 21.0 + s * (1.0 / 23.0 + s * t))
    t = 1.0 / 13.0 + s * (1.0 / 15.0 + s * (1.0 / 17.0 + s * t))
    t = 1.0 / 7.0 + s * (1.0 / 9.0 + s * (1.0 / 11.0 + s * t))
    t = 1.0 + s * (1.0 / 3.0 + s * (1.0 / 5.0 + s * t))
    return size + 2.0 * z * t - LN_2


def area(curve: int, u: float) -> float:
    """Return the curve's antiderivative."""
    size = abs(u)
    if curve == TANH:
        return tanh_area(u)
    if curve == CUBIC:
        inside = min(size, CUBIC_END)
        square = inside * inside
        return square / 2.0 - square * square / 27.0 + (size - inside)
    inside = min(size, 1.0)
    return inside * inside / 2.0 + (size - inside)


def saturator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Emphasise, take the mean of the curve, scale."""
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    curve = int(clamp(params[CURVE, 0], 0.0, 2.0) + 0.5)
    drive_step, bias_step = params[DRIVE, 1], params[BIAS_V, 1]
    ceiling_step, level_step = params[CEILING_V, 1], params[LEVEL, 1]
    drive_0 = params[DRIVE, 0] + start * drive_step
    bias_0 = params[BIAS_V, 0] + start * bias_step
    ceiling_0 = params[CEILING_V, 0] + start * ceiling_step
    level_0 = params[LEVEL, 0] + start * level_step
    count = stop - start
    driven, areas = state[ROWS : ROWS + count + 2], state[AREAS : AREAS + count]
    bends = out_v  # what is bent, read before it is written over
    driven[0], driven[1], before = state[MIDDLE], state[NEWEST], state[BEFORE]
    for n in range(count):
        driven_v = (drive_0 + n * drive_step) * clamp(in_v[n], -RAIL_V, RAIL_V)
        driven[n + 2] = (driven_v + (bias_0 + n * bias_step)) / (ceiling_0 + n * ceiling_step)
    for n in range(count):
        bends[n] = emphasised(driven[n + 2], driven[n + 1], driven[n])
    if curve == TANH:
        for n in range(count):
            areas[n] = tanh_area(bends[n])
    else:
        for n in range(count):
            areas[n] = area(curve, bends[n])
    area_before = area(curve, before)
    last_bias, rest = math.inf, 0.0
    for n in range(count):
        ceiling_v = ceiling_0 + n * ceiling_step
        bias = (bias_0 + n * bias_step) / ceiling_v
        if bias != last_bias:
            last_bias = bias
            rest = bent(curve, bias)
        u = bends[n]
        if abs(u - before) > NEAR:
            v = limit((areas[n] - area_before) / (u - before), -1.0, 1.0)
        else:
            v = bent(curve, 0.5 * (u + before))
        before = u
        area_before = areas[n]
        out_v[n] = limit((level_0 + n * level_step) * ceiling_v * (v - rest), -RAIL_V, RAIL_V)
    state[NEWEST] = driven[count + 1]
    state[MIDDLE] = driven[count]
    state[BEFORE] = before
    for n in range(count):
        driven[n], areas[n] = 0.0, 0.0
    driven[count], driven[count + 1] = 0.0, 0.0


def prepare(setting: Setting) -> list[float]:
    """Start where the bias rests."""
    return [setting["bias"] / setting["ceiling"]] * 3 + [0.0] * (END - ROWS)


def _curves(setting: Setting) -> list[int]:
    span = setting.span("curve")
    return [c for c in (TANH, CUBIC, HARD) if span.lo - 0.5 <= c <= span.hi + 0.5]


def _over(volts: Span, ceiling: Span) -> Span:
    return Span.around(*(v / c for v in (volts.lo, volts.hi) for c in (ceiling.lo, ceiling.hi)))


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The curves rise everywhere, so ends go to ends; a mean stays between; the emphasis overshoots."""
    source = ins[0].clipped(-RAIL_V, RAIL_V).including(0.0)
    ceiling = setting.span("ceiling")
    driven = between(source * setting.span("drive"), OVERSHOOT)
    ways = []
    if setting.span("bias").is_point and ceiling.is_point:
        bias = _over(setting.span("bias"), ceiling)
        inside = _over(driven, ceiling) + bias
    else:  # the bias and the ceiling of three samples ago count as well
        bias = _over(setting.span("bias"), ceiling)
        inside = between(_over(source * setting.span("drive"), ceiling) + bias, OVERSHOOT)
    for curve in _curves(setting):
        for rest in (bias.lo, bias.hi):
            ways += [bent(curve, u) - bent(curve, rest) for u in (inside.lo, inside.hi)]
    passed = Span.around(*ways) * ceiling * setting.span("level")
    return [passed.clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound were a sine of the same RMS: mean and RMS over one turn of it."""
    source = ins[0].clipped(-RAIL_V, RAIL_V)
    curve, ceiling_v = round(setting["curve"]), setting["ceiling"]
    scale = setting["level"] * ceiling_v
    bias = setting["bias"] / ceiling_v
    rest = bent(curve, bias)

    def through(volts: float) -> float:
        return scale * (bent(curve, setting["drive"] * volts / ceiling_v + bias) - rest)

    points = 64
    turns = [2.0 * math.pi * (i + 0.5) / points for i in range(points)]
    swing_v = math.sqrt(2.0) * source.rms_v
    values = [through(source.dc_v + swing_v * math.sin(turn)) for turn in turns]
    mean_v = math.fsum(values) / points
    rms_v = math.sqrt(math.fsum((v - mean_v) ** 2 for v in values) / points)
    tops = (through(source.dc_v + hit) for hit in (-source.hit_v, source.hit_v))
    hit_v = max(abs(v - mean_v) for v in tops) if source.hit_v > 0.0 else 0.0
    ends = sorted((through(source.lo_v), through(source.hi_v)))
    found = Level(ends[0], ends[1], mean_v, rms_v, hit_v)
    return [found.clipped(max(ends[0], -RAIL_V), min(ends[1], RAIL_V))]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, bent."""
    return [ins[0]]


def delay(setting: Setting) -> list[Lag]:
    """A sample and a half."""
    return [Lag("in", "out", LATE_SAMPLES / setting.rate_hz, LATE_SAMPLES / setting.rate_hz)]


KIND = Kind(
    name="saturator",
    doc=__doc__,
    inputs=(Port("in", "the sound"),),
    outputs=(Port("out", "the sound, bent"),),
    params=(
        Param("curve", "ratio", 0.0, 2.0, 0.0, "how it flattens", CURVES),
        Param("drive", "ratio", 0.0, 50.0, 1.0, "gain into the curve"),
        Param("bias", "V", -10.0, 10.0, 0.0, "shifts the sound along the curve"),
        Param("ceiling", "V", 0.1, 10.0, 5.0, "where the curve is flat"),
        Param("level", "ratio", 0.0, 2.0, 1.0, "gain behind the curve"),
    ),
    kernel=saturator,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
