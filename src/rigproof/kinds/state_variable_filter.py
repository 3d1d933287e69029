"""State-variable filter: low, band, high and notch of the same input at once, 12 dB an octave, with Q.

Two integrators in a loop without delay, each by the trapezoidal rule, so it stays in tune and stable while the cutoff
is swept at audio rate. The cutoff input is 1 V/octave times `cutoff-depth`; the Q input adds `q-depth` for each volt.
The band output is Q at the cutoff, the others are 1 where they pass. Left out: the bend of the integrators below the
rails, noise; the trapezoidal rule squeezes the band below half the sample rate, so that near it the response is that
of the analogue filter at (rate / pi) tan(pi f / rate). The cutoff stops at 0.45 of the rate.

Source: H(s) = w0^2 / (s^2 + s w0 / Q + w0^2) and the trapezoidal rule with prewarping (V. Zavalishin, The Art of VA
Filter Design, 2012 and later; read in others' accounts).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from math import exp, tan
from typing import Any

from rigproof.kinds.base import (
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
from rigproof.kinds.clipping import clamp, limit, settle
from rigproof.kinds.elementary import tangent, two_to
from rigproof.kinds.linear_bounds import output_span, reach

CUTOFF_HZ, CUTOFF_DEPTH, Q, Q_DEPTH = 1, 2, 3, 4
SIGNAL_IN, CUTOFF_IN, Q_IN = 0, 1, 2
FIRST_V, SECOND_V, LAST_HZ, LAST_OCTAVES, GAIN = 0, 1, 2, 3, 4

LN_2 = math.log(2.0)
HIGHEST_RATIO = 0.45
"""Highest cutoff over the sample rate."""
LOWEST_Q, HIGHEST_Q = 0.5, 50.0
STATE_LIMIT_V = 4.0 * RAIL_V
"""The integrators saturate here, so that nothing grows without end. [V]"""


def integrator_gain(cutoff_hz: float, rate_hz: float) -> float:
    """Return tan(pi cutoff / rate), the prewarped gain of a trapezoidal integrator."""
    return tan(math.pi * min(cutoff_hz / rate_hz, HIGHEST_RATIO))


def write_gains(gains: Any, cutoff_v: Any, params: Any, kept: Any, start: int) -> None:
    """Write the integrator's gain for every sample, where `params` and the voltages at the cutoff input put it.

    `kept` is float64[3]: cutoff, octaves and gain of the last sample, so that a cutoff at rest costs nothing.
    """
    count = gains.shape[0]
    sample_s = 1.0 / params[RATE_HZ, 0]
    cutoff_step, depth_step = params[CUTOFF_HZ, 1], params[CUTOFF_DEPTH, 1]
    cutoff_hz = params[CUTOFF_HZ, 0] + start * cutoff_step
    depth = params[CUTOFF_DEPTH, 0] + start * depth_step
    moved = int(cutoff_step != 0.0 or cutoff_hz != kept[0])
    for n in range(count):
        moved |= int(clamp(cutoff_v[n], -RAIL_V, RAIL_V) * (depth + n * depth_step) != kept[1])
    if moved == 0:
        for n in range(count):
            gains[n] = kept[2]
    else:
        for n in range(count):
            octaves = clamp(cutoff_v[n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
            turn = (cutoff_hz + n * cutoff_step) * two_to(octaves) * sample_s
            gains[n] = tangent(math.pi * limit(turn, 0.0, HIGHEST_RATIO))
        last = count - 1
        kept[0] = cutoff_hz + last * cutoff_step
        kept[1] = clamp(cutoff_v[last], -RAIL_V, RAIL_V) * (depth + last * depth_step)
        kept[2] = gains[last]


def state_variable_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Solve the loop for each sample, then move the integrators on."""
    in_v, cutoff_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[CUTOFF_IN], start:stop]
    q_v = bus_v[ins[Q_IN], start:stop]
    low_out_v, band_out_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    high_out_v, notch_out_v = bus_v[outs[2], start:stop], bus_v[outs[3], start:stop]
    q_0, q_step = params[Q, 0], params[Q, 1]
    q_depth, q_depth_step = params[Q_DEPTH, 0], params[Q_DEPTH, 1]
    first_v, second_v = state[FIRST_V], state[SECOND_V]
    # What does not wait for the sample before is worked out first, in rows that are written over below.
    gains, damping, solving = notch_out_v, high_out_v, band_out_v
    write_gains(gains, cutoff_v, params, state[LAST_HZ : GAIN + 1], start)
    for n in range(stop - start):
        at = start + n
        q = q_0 + at * q_step + (q_depth + at * q_depth_step) * clamp(q_v[n], -RAIL_V, RAIL_V)
        damping[n] = 1.0 / clamp(q, LOWEST_Q, HIGHEST_Q)
        solving[n] = 1.0 / (1.0 + gains[n] * (gains[n] + damping[n]))
    for n in range(stop - start):
        g, k, r = gains[n], damping[n], solving[n]
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        moved = 2.0 * g * r
        band_v = r * (first_v + g * (x - second_v))
        low_v = g * band_v + second_v
        high_v = x - k * band_v - low_v
        # Both integrators come two products and sums after the last.
        next_first_v = (1.0 - moved * (g + k)) * first_v + (moved * x - moved * second_v)
        next_second_v = (1.0 - moved * g) * second_v + (moved * first_v + moved * g * x)
        first_v = limit(next_first_v, -STATE_LIMIT_V, STATE_LIMIT_V)
        second_v = limit(next_second_v, -STATE_LIMIT_V, STATE_LIMIT_V)
        low_out_v[n] = limit(low_v, -RAIL_V, RAIL_V)
        band_out_v[n] = limit(band_v, -RAIL_V, RAIL_V)
        high_out_v[n] = limit(high_v, -RAIL_V, RAIL_V)
        notch_out_v[n] = limit(low_v + high_v, -RAIL_V, RAIL_V)
    state[FIRST_V] = settle(first_v)
    state[SECOND_V] = settle(second_v)


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the gain is worked out at the first sample."""
    return [0.0, 0.0, -1.0, 0.0, 0.0]


@cache
def response_sums(
    cutoff_hz: float, q: float, rate_hz: float
) -> tuple[tuple[float, float], ...] | None:
    """Return the sums over the impulse responses of low, band, high, notch and the two integrators' states."""
    g = integrator_gain(cutoff_hz, rate_hz)
    k = 1.0 / q
    # How slowly it dies: the product of its poles is r^2.
    r = math.sqrt(max((1.0 - g * k + g * g) / (1.0 + g * k + g * g), 0.0))
    held = [0.0, 0.0]

    def step(x: float) -> tuple[float, ...]:
        high = (x - (g + k) * held[0] - held[1]) / (1.0 + g * (g + k))
        band = g * high + held[0]
        low = g * band + held[1]
        held[0] = band + g * high
        held[1] = low + g * band
        return low, band, high, low + high, held[0], held[1]

    def size() -> float:
        return (abs(held[0]) + abs(held[1])) / (1.0 - r) ** 2

    found = reach(step, size, 6)
    return None if found is None else tuple(found)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing; with cutoff and Q at rest what the impulse response allows; else the rails."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    if source == ZERO:
        return [ZERO] * 4
    rails = [Span(-RAIL_V, RAIL_V)] * 4
    octaves = ins[CUTOFF_IN].clipped(-RAIL_V, RAIL_V) * setting.span("cutoff-depth")
    q = setting.span("q") + ins[Q_IN].clipped(-RAIL_V, RAIL_V) * setting.span("q-depth")
    if not (octaves.is_point and q.is_point and setting.span("cutoff").is_point):
        return rails
    cutoff_hz = setting["cutoff"] * exp(LN_2 * octaves.lo)
    sums = response_sums(cutoff_hz, min(max(q.lo, LOWEST_Q), HIGHEST_Q), setting.rate_hz)
    if sums is None:
        return rails
    spans = [output_span(s, source) for s in sums]
    if max(spans[4].peak, spans[5].peak) > STATE_LIMIT_V:
        return rails
    return [span.clipped(-RAIL_V, RAIL_V) for span in spans[:4]]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound lay where the filter passes; the steady part comes through low and notch only.

    A filter of little reach, such as a band at a low Q, is held to what it can give at all.
    """
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    moving = source.scaled(1.0, -source.dc_v)
    spans = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    passed = (source, moving, moving, source)
    return [level.clipped(span.lo, span.hi) for level, span in zip(passed, spans, strict=True)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Slow pulses pass the low and the notch output, rounded."""
    return [ins[0], Pulse(), Pulse(), ins[0]]


KIND = Kind(
    name="state-variable-filter",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("cutoff", "`cutoff-depth` octaves a volt", is_control=True),
        Port("q", "adds `q-depth` to Q for each volt", is_control=True),
    ),
    outputs=(
        Port("low", "what lies below the cutoff"),
        Port("band", "what lies at the cutoff, times Q"),
        Port("high", "what lies above the cutoff"),
        Port("notch", "all but what lies at the cutoff"),
    ),
    params=(
        Param("cutoff", "Hz", 10.0, 20_000.0, 1000.0, "cutoff at 0 V"),
        Param("cutoff-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `cutoff`"),
        Param("q", "ratio", LOWEST_Q, HIGHEST_Q, math.sqrt(0.5), "resonance; 0.707 has no peak"),
        Param("q-depth", "ratio", -10.0, 10.0, 1.0, "added to Q for each volt at `q`"),
    ),
    kernel=state_variable_filter,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
