"""Comb filter: a sound and the same sound a moment later, the moment tuned in volts per octave.

The line is 1 / `frequency` long, divided by 2 for every volt at `pitch` (`pitch-depth` octaves a volt). Half and half
(`mix` 0.5) and without feedback it cuts notches at odd multiples of half that frequency; with feedback it rings at
multiples of the frequency, or with negative feedback at odd multiples of half of it. Feedback is the knob plus a fifth
of the CV's volts, held within 0.99 either way; the line stops at the rails. The line lies between 2 samples and the
time of 16 Hz.

Left out: the loss of highs in an analogue line, noise, companding.

Source: two paths that differ by dt: notches at (2m + 1) / (2 dt), peaks at m / dt, peak 1 + g and notch 1 - g (sum of
two phasors); feedback comb 1 / (1 - g z^-D) (M. R. Schroeder, Natural Sounding Artificial Reverberation, JAES 10(3),
1962; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.delay_line import (
    MOST_OVERSHOOT,
    NEAREST,
    between,
    line_level,
    line_span,
    overshoot_at,
    read_line,
    ring_size,
)

FREQUENCY_HZ, DEPTH, FEEDBACK, MIX = 1, 2, 3, 4
SIGNAL_IN, PITCH_IN, FEEDBACK_IN = 0, 1, 2
ROOM, WRITE, LAST_HZ, LAST_OCTAVES, LATE = 0, 1, 2, 3, 4
LINE = 5

LN_2 = math.log(2.0)
LOWEST_HZ = 16.0
FULL_V = 5.0
"""A feedback CV of this much adds 1. Common practice, no source. [V]"""
MOST_FEEDBACK = 0.99


def comb_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Read the line, mix, write what comes in and what comes round."""
    rate_hz = params[RATE_HZ, 0]
    in_v, pitch_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[PITCH_IN], start:stop]
    feedback_v, out_v = bus_v[ins[FEEDBACK_IN], start:stop], bus_v[outs[0], start:stop]
    hz_step, depth_step = params[FREQUENCY_HZ, 1], params[DEPTH, 1]
    feedback_step, mix_step = params[FEEDBACK, 1], params[MIX, 1]
    hz_0 = params[FREQUENCY_HZ, 0] + start * hz_step
    depth_0 = params[DEPTH, 0] + start * depth_step
    feedback_0 = params[FEEDBACK, 0] + start * feedback_step
    mix_0 = params[MIX, 0] + start * mix_step
    mask = int(state[ROOM]) - 1
    longest = rate_hz / LOWEST_HZ
    write = int(state[WRITE])
    last_hz, last_octaves, late = state[LAST_HZ], state[LAST_OCTAVES], state[LATE]
    for n in range(stop - start):
        hz = hz_0 + n * hz_step
        octaves = clamp(pitch_v[n], -RAIL_V, RAIL_V) * (depth_0 + n * depth_step)
        if hz != last_hz or octaves != last_octaves:
            last_hz = hz
            last_octaves = octaves
            late = clamp(rate_hz / hz * exp(-LN_2 * octaves), NEAREST, longest)
        feedback = clamp(
            feedback_0 + n * feedback_step + clamp(feedback_v[n], -RAIL_V, RAIL_V) / FULL_V,
            -MOST_FEEDBACK,
            MOST_FEEDBACK,
        )
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        read_v = read_line(state, LINE, mask, write, late)
        state[LINE + write] = settle(clamp(x + feedback * read_v, -RAIL_V, RAIL_V))
        mix = mix_0 + n * mix_step
        out_v[n] = clamp((1.0 - mix) * x + mix * read_v, -RAIL_V, RAIL_V)
        write = (write + 1) & mask
    state[WRITE] = write
    state[LAST_HZ] = last_hz
    state[LAST_OCTAVES] = last_octaves
    state[LATE] = late


def prepare(setting: Setting) -> Any:
    """Start with an empty line as long as the lowest frequency's period."""
    import numpy as np

    room = ring_size(setting.rate_hz / LOWEST_HZ)
    state = np.zeros(LINE + room)
    state[ROOM] = room
    state[LAST_HZ] = -1.0
    state[LATE] = NEAREST
    return state


def _late_span(octaves: Span, setting: Setting) -> Span:
    """Return the length of the line. [samples]"""
    hz = setting.span("frequency")
    lo = setting.rate_hz / hz.hi * exp(-LN_2 * octaves.hi)
    hi = setting.rate_hz / hz.lo * exp(-LN_2 * octaves.lo)
    return Span(lo, hi).clipped(NEAREST, setting.rate_hz / LOWEST_HZ)


def _octaves(pitch: Span, setting: Setting) -> Span:
    return pitch.clipped(-RAIL_V, RAIL_V) * setting.span("pitch-depth")


def _feedback(cv: Span, setting: Setting) -> Span:
    by_cv = cv.clipped(-RAIL_V, RAIL_V).scaled(1.0 / FULL_V)
    return (setting.span("feedback") + by_cv).clipped(-MOST_FEEDBACK, MOST_FEEDBACK)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and wet by the mix; wet is a geometric series, read with the cubic's overshoot at that very delay."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    late = _late_span(_octaves(ins[PITCH_IN], setting), setting)
    overshoot = overshoot_at(late.lo) if late.is_point else MOST_OVERSHOOT
    wet = between(line_span(source, _feedback(ins[FEEDBACK_IN], setting), overshoot), overshoot)
    mix = setting.span("mix")
    ends = [source.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
    return [ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound and its repeats were unlike: powers add, and a steady part adds up as it is."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    feedback = _feedback(Span.point(ins[FEEDBACK_IN].dc_v), setting).lo
    [span] = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    return [line_level(source, feedback, setting["mix"], span)]


def delay(setting: Setting) -> list[Lag]:
    """The line's length with nothing at `pitch`; dry sound comes at once."""
    late = _late_span(Span.point(0.0), setting)
    mix = setting.span("mix")
    lo_s = 0.0 if mix.lo < 1.0 else late.lo / setting.rate_hz
    hi_s = late.hi / setting.rate_hz if mix.hi > 0.0 else 0.0
    return [
        Lag("in", "out", lo_s, hi_s),
        Lag("pitch", "out", is_signal=False),
        Lag("feedback", "out", is_signal=False),
    ]


KIND = Kind(
    name="comb-filter",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("pitch", "`pitch-depth` octaves a volt", is_control=True),
        Port("feedback", "5 V add 1 to the feedback", is_control=True),
    ),
    outputs=(Port("out", "the sound and its repeats"),),
    params=(
        Param("frequency", "Hz", LOWEST_HZ, 10_000.0, 220.0, "one over the line's length, at 0 V"),
        Param("pitch-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `pitch`"),
        Param(
            "feedback", "ratio", -MOST_FEEDBACK, MOST_FEEDBACK, 0.0, "share that comes round again"
        ),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 1 only the line"),
    ),
    kernel=comb_filter,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
