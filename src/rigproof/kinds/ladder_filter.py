"""Ladder filter: four poles low pass, 24 dB an octave, with resonance up to a whistle of its own.

Four one-pole stages by the trapezoidal rule inside one loop without delay; the sum of input and feedback saturates in
front of the first stage. For small voltages it is 1 / ((1 + s / wc)^4 + k) with k four times `resonance`: the pass band
sinks as the resonance rises, and at a resonance of 1 the filter whistles at its cutoff. `drive` brings the saturation
nearer: the stages never get more than 10 V over `drive`. The cutoff input is 1 V/octave times `cutoff-depth`; the
resonance input adds 0.2 for each volt. Left out: saturation inside each stage, noise but for a millionth of a volt
that starts the whistle. Near half the sample rate the response is that of the analogue filter at (rate / pi)
tan(pi f / rate); the cutoff stops at 0.45 of the rate.

Source: linear model of the four-pole ladder (V. Zavalishin, The Art of VA Filter Design, 2012 and later; the formula
from memory, its values computed): gain 1 / (1 + k) at 0 Hz, 1 / (4 - k) at the cutoff, unstable from k = 4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, sqrt
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
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.state_variable_filter import integrator_gain

CUTOFF_HZ, CUTOFF_DEPTH, RESONANCE, DRIVE = 1, 2, 3, 4
SIGNAL_IN, CUTOFF_IN, RESONANCE_IN = 0, 1, 2
STAGE_V, LAST_HZ, LAST_OCTAVES, GAIN = 0, 4, 5, 6

LN_2 = math.log(2.0)
SATURATION_V = 10.0
RESONANCE_RATIO_PER_V = 0.2
HIGHEST_RESONANCE = 1.25
WHISTLE = 4.0
"""Feedback from which the filter whistles."""
SPARK_V = 1e-6
"""Stands for the noise that starts the whistle. [V]"""
BENT = 0.1
"""Share of the ceiling from which the first guess is bent."""
ROUNDS = 12
CLOSE_V = 1e-9
"""Near enough: the true answer is nearer still, for the miss grows faster than the distance. [V]"""


def saturate(x: float) -> float:
    """Return x / sqrt(1 + x^2): as it is when small, never beyond 1."""
    return x / sqrt(1.0 + x * x)


def solve(drive_v: float, feedback: float, ceiling_v: float) -> float:
    """Return the u that equals ceiling saturate((drive - feedback u) / ceiling). Newton's method.

    The right side falls as u rises, so there is one answer; each step is kept between the last two bounds.
    """
    lo_v = -ceiling_v
    hi_v = ceiling_v
    per_v = 1.0 / ceiling_v
    u = drive_v / (1.0 + feedback)
    if not -BENT * ceiling_v < u < BENT * ceiling_v:
        u = ceiling_v * saturate(u * per_v)
    for _ in range(ROUNDS):
        e = (drive_v - feedback * u) * per_v
        bend = 1.0 / sqrt(1.0 + e * e)
        miss_v = u - ceiling_v * e * bend
        if -CLOSE_V < miss_v < CLOSE_V:
            break
        if miss_v > 0.0:
            hi_v = u
        else:
            lo_v = u
        new = u - miss_v / (1.0 + feedback * bend * bend * bend)
        u = new if lo_v <= new <= hi_v else 0.5 * (lo_v + hi_v)
    return u


def ladder_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Solve the loop for each sample, then move the four stages on."""
    signal, cutoff_in, resonance_in, out = (
        ins[SIGNAL_IN],
        ins[CUTOFF_IN],
        ins[RESONANCE_IN],
        outs[0],
    )
    rate_hz = params[RATE_HZ, 0]
    cutoff_0, cutoff_step = params[CUTOFF_HZ, 0], params[CUTOFF_HZ, 1]
    depth, depth_step = params[CUTOFF_DEPTH, 0], params[CUTOFF_DEPTH, 1]
    resonance_0, resonance_step = params[RESONANCE, 0], params[RESONANCE, 1]
    drive_0, drive_step = params[DRIVE, 0], params[DRIVE, 1]
    s1, s2, s3, s4 = state[STAGE_V], state[STAGE_V + 1], state[STAGE_V + 2], state[STAGE_V + 3]
    last_hz, last_octaves, g = state[LAST_HZ], state[LAST_OCTAVES], state[GAIN]
    share = 1.0 / (1.0 + g)
    ceiling_v = SATURATION_V / drive_0
    limit_v = 8.0 * RAIL_V
    for n in range(start, stop):
        cutoff_hz = cutoff_0 + n * cutoff_step
        octaves = clamp(bus_v[cutoff_in, n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
        if cutoff_hz != last_hz or octaves != last_octaves:
            last_hz = cutoff_hz
            last_octaves = octaves
            g = integrator_gain(cutoff_hz * exp(LN_2 * octaves), rate_hz)
            share = 1.0 / (1.0 + g)
        if drive_step != 0.0:
            ceiling_v = SATURATION_V / (drive_0 + n * drive_step)
        resonance = resonance_0 + n * resonance_step
        resonance += RESONANCE_RATIO_PER_V * clamp(bus_v[resonance_in, n], -RAIL_V, RAIL_V)
        k = WHISTLE * clamp(resonance, 0.0, HIGHEST_RESONANCE)
        x = clamp(bus_v[signal, n], -RAIL_V, RAIL_V)
        if k >= WHISTLE:
            x += SPARK_V
        # A stage gives low = (held + g x) / (1 + g); four in a row are `through` times u and what they hold.
        a = g * share
        held_v = share * (s4 + a * (s3 + a * (s2 + a * s1)))
        through = a * a * a * a
        u = solve(x - k * held_v, k * through, ceiling_v)
        y = share * s1 + a * u
        s1 = settle(clamp(2.0 * y - s1, -limit_v, limit_v))
        z = share * s2 + a * y
        s2 = settle(clamp(2.0 * z - s2, -limit_v, limit_v))
        y = share * s3 + a * z
        s3 = settle(clamp(2.0 * y - s3, -limit_v, limit_v))
        z = share * s4 + a * y
        s4 = settle(clamp(2.0 * z - s4, -limit_v, limit_v))
        bus_v[out, n] = clamp(z, -RAIL_V, RAIL_V)
    state[STAGE_V] = s1
    state[STAGE_V + 1] = s2
    state[STAGE_V + 2] = s3
    state[STAGE_V + 3] = s4
    state[LAST_HZ] = last_hz
    state[LAST_OCTAVES] = last_octaves
    state[GAIN] = g


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the gain is worked out at the first sample."""
    return [0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0]


def _highest_resonance(ins: Sequence[Span], setting: Setting) -> float:
    steer_v = ins[RESONANCE_IN].clipped(-RAIL_V, RAIL_V).hi
    return min(setting.span("resonance").hi + RESONANCE_RATIO_PER_V * steer_v, HIGHEST_RESONANCE)


def _lowest_ceiling_v(ins: Sequence[Span], setting: Setting) -> float:
    """Return the most that four stages can give when none of them can overshoot: cutoff below a quarter of the rate."""
    octaves = ins[CUTOFF_IN].clipped(-RAIL_V, RAIL_V) * setting.span("cutoff-depth")
    highest_hz = setting.span("cutoff").hi * exp(LN_2 * octaves.hi)
    if highest_hz > 0.25 * setting.rate_hz:
        return RAIL_V
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    ceiling_v = SATURATION_V / setting.span("drive").lo
    if _highest_resonance(ins, setting) <= 0.0:
        ceiling_v *= saturate(source.peak / ceiling_v)
    return min(ceiling_v, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing while it cannot whistle; else what the saturation lets through, or the rails."""
    if ins[SIGNAL_IN] == ZERO and _highest_resonance(ins, setting) < 1.0:
        return [ZERO]
    most_v = _lowest_ceiling_v(ins, setting)
    return [Span(-most_v, most_v)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound lay where the filter passes: 1 / (1 + k) of it, saturated; a whistle is not counted."""
    k = WHISTLE * min(setting["resonance"], HIGHEST_RESONANCE)
    ceiling_v = SATURATION_V / setting["drive"]
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    if source.peak_v == 0.0:
        return [Level()]
    peak_v = solve(source.peak_v, k, ceiling_v)
    return [source.scaled(peak_v / source.peak_v).clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Slow pulses pass, rounded."""
    return [ins[SIGNAL_IN]]


KIND = Kind(
    name="ladder-filter",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("cutoff", "`cutoff-depth` octaves a volt", is_control=True),
        Port("resonance", "adds 0.2 for each volt", is_control=True),
    ),
    outputs=(Port("out", "what lies below the cutoff"),),
    params=(
        Param("cutoff", "Hz", 10.0, 20_000.0, 1000.0, "cutoff at 0 V"),
        Param("cutoff-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `cutoff`"),
        Param("resonance", "ratio", 0.0, HIGHEST_RESONANCE, 0.0, "1 is where it begins to whistle"),
        Param("drive", "ratio", 0.1, 10.0, 1.0, "how hard the loop is driven"),
    ),
    kernel=ladder_filter,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
