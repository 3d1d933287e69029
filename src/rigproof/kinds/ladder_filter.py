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
from rigproof.kinds.state_variable_filter import write_gains

CUTOFF_HZ, CUTOFF_DEPTH, RESONANCE, DRIVE = 1, 2, 3, 4
SIGNAL_IN, CUTOFF_IN, RESONANCE_IN = 0, 1, 2
STAGE_V, LAST_HZ, LAST_OCTAVES, GAIN, AHEAD_V, LAST_V = 0, 4, 5, 6, 7, 11

LN_2 = math.log(2.0)
SATURATION_V = 10.0
RESONANCE_RATIO_PER_V = 0.2
HIGHEST_RESONANCE = 1.25
WHISTLE = 4.0
"""Feedback from which the filter whistles."""
SPARK_V = 1e-6
"""Stands for the noise that starts the whistle. [V]"""
BOW = 0.45
"""How the first guess bends: as if saturation were x / (1 + BOW x^2)."""
ROUNDS = 12
REACH = 0.01
"""How far from the place where it was worked out a series of third order is trusted: what it leaves out is below half
its fourth power. [of the ceiling]"""
NEAR = 1.5e-3
"""After a step this short another would change nothing that matters: it leaves less than its cube. [of the ceiling]"""


def saturate(x: float) -> float:
    """Return x / sqrt(1 + x^2): as it is when small, never beyond 1."""
    return x / sqrt(1.0 + x * x)


def solve(drive_v: float, feedback: float, ceiling_v: float) -> float:
    """Return the u that equals ceiling saturate((drive - feedback u) / ceiling), within a billionth of the ceiling.

    Halley's method for e = (drive - feedback u) / ceiling, one step for most sounds; it only ever bends one way, so
    that the steps lead on to the one answer.
    """
    wanted = drive_v / ceiling_v
    if feedback <= 0.0:
        return ceiling_v * saturate(wanted)
    straight = wanted * (1.0 / (1.0 + feedback))
    bow = 1.0 + BOW * straight * straight
    e = wanted * bow / (bow + feedback)
    saturated = 0.0
    for _ in range(ROUNDS):
        # e + feedback saturate(e) - wanted is miss / y^1.5, its slope is slope / y^1.5: so one division will do.
        y = 1.0 + e * e
        half_more = y * sqrt(y)
        miss = (e - wanted) * half_more + feedback * e * y
        slope = half_more + feedback
        step = miss * slope / (slope * slope + miss * (1.5 * feedback * e / y))
        cube = 1.0 / half_more
        saturated = e * y * cube
        # Where e goes now, by Taylor's series.
        saturated -= step * cube * (1.0 + step * (1.5 * e / y))
        e -= step
        if -NEAR < step < NEAR:
            break
    return ceiling_v * saturated


def ladder_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Solve the loop for each sample, then move the four stages on.

    A root and two divisions in every sample should not have to wait for the sample before. So they are taken at a
    guess that knows this sample's input, and the stages as if the sample before had brought the u of the one before
    it. How far the guess was off goes through a series; where that is too far (a high cutoff, much resonance and a
    jump) the loop is solved from the start.
    """
    in_v, cutoff_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[CUTOFF_IN], start:stop]
    resonance_v, out_v = bus_v[ins[RESONANCE_IN], start:stop], bus_v[outs[0], start:stop]
    resonance_0, resonance_step = params[RESONANCE, 0], params[RESONANCE, 1]
    drive_0, drive_step = params[DRIVE, 0], params[DRIVE, 1]
    s1, s2, s3, s4 = state[STAGE_V], state[STAGE_V + 1], state[STAGE_V + 2], state[STAGE_V + 3]
    p1, p2, p3, p4 = state[AHEAD_V], state[AHEAD_V + 1], state[AHEAD_V + 2], state[AHEAD_V + 3]
    last_v = state[LAST_V]
    gains = out_v  # read before it is written over
    write_gains(gains, cutoff_v, params, state[LAST_HZ : GAIN + 1], start)
    ceiling_v = SATURATION_V / drive_0
    per_v = drive_0 / SATURATION_V
    limit_v = 8.0 * RAIL_V
    for n in range(stop - start):
        at = start + n
        g = gains[n]
        share = 1.0 / (1.0 + g)
        if drive_step != 0.0:
            per_v = (drive_0 + at * drive_step) / SATURATION_V
            ceiling_v = 1.0 / per_v
        resonance = resonance_0 + at * resonance_step
        resonance += RESONANCE_RATIO_PER_V * clamp(resonance_v[n], -RAIL_V, RAIL_V)
        k = WHISTLE * limit(resonance, 0.0, HIGHEST_RESONANCE)
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        if k >= WHISTLE:
            x += SPARK_V
        # A stage gives low = (held + g x) / (1 + g); four in a row are `through` times u and what they hold.
        a = g * share
        through = a * a * a * a
        feedback = k * through
        steered = per_v * x
        back = per_v * k * share
        # What would have to be wanted for e to be right, and a series from there; see `solve` for y and half_more.
        guessed = steered - back * (p4 + a * (p3 + a * (p2 + a * p1)))
        e = guessed * (1.0 / (1.0 + feedback))
        square = e * e
        y = 1.0 + square
        half_more = y * sqrt(y)
        first = 1.0 / (half_more + feedback)
        saturated = e * y / half_more
        squared = first * first
        second = -1.5 * e * (y * y) * (squared * first)
        third = half_more * y * (squared * squared)
        third *= 2.0 * square - 0.5 - 4.5 * feedback * square * first
        met = e + feedback * saturated
        wanted = steered - back * (s4 + a * (s3 + a * (s2 + a * s1)))
        off = wanted - met
        u = ceiling_v * (saturated + off * (first + off * (second + off * third)))
        if not -REACH < off < REACH:
            u = solve(ceiling_v * wanted, feedback, ceiling_v)
        # Where the stages would go if this sample brought the last one's u.
        y = share * s1 + a * last_v
        p1 = 2.0 * y - s1
        z = share * s2 + a * y
        p2 = 2.0 * z - s2
        y = share * s3 + a * z
        p3 = 2.0 * y - s3
        p4 = 2.0 * (share * s4 + a * y) - s4
        last_v = u
        y = share * s1 + a * u
        s1 = 2.0 * y - s1
        z = share * s2 + a * y
        s2 = 2.0 * z - s2
        y = share * s3 + a * z
        s3 = 2.0 * y - s3
        z = share * s4 + a * y
        s4 = 2.0 * z - s4
        out_v[n] = limit(z, -RAIL_V, RAIL_V)
        if max(abs(s1), abs(s2), abs(s3), abs(s4)) > limit_v:
            s1 = limit(s1, -limit_v, limit_v)
            s2 = limit(s2, -limit_v, limit_v)
            s3 = limit(s3, -limit_v, limit_v)
            s4 = limit(s4, -limit_v, limit_v)
    state[STAGE_V] = settle(s1)
    state[STAGE_V + 1] = settle(s2)
    state[STAGE_V + 2] = settle(s3)
    state[STAGE_V + 3] = settle(s4)
    state[AHEAD_V] = settle(p1)
    state[AHEAD_V + 1] = settle(p2)
    state[AHEAD_V + 2] = settle(p3)
    state[AHEAD_V + 3] = settle(p4)
    state[LAST_V] = settle(last_v)


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the gain is worked out at the first sample."""
    return [0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]


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
