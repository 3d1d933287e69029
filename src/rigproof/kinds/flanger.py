"""Flanger: a sound and its own copy a few milliseconds late, swept by a slow sine or a voltage.

The copy is `time` late plus `depth` times the sweep, which goes from 0 to 1: half way with the sine at rest (`rate`
0), a fifth more for every volt at `sweep`. Half and half, the notches lie at odd multiples of one over twice the delay,
and travel. Feedback sharpens the peaks between; the line stops at the rails.

Left out: the loss of highs in an analogue line, noise, through-zero sweeps.

Source: two paths that differ by dt: notches at (2m + 1) / (2 dt), peaks at m / dt (sum of two phasors); times and
depths are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.delay_line import (
    MOST_MASK,
    MOST_OVERSHOOT,
    NEAREST,
    between,
    line_level,
    line_span,
    overshoot_at,
    read_line,
    ring_size,
)
from rigproof.kinds.waves import sine_of_turn

RATE, DEPTH_S, TIME_S, FEEDBACK, MIX = 1, 2, 3, 4, 5
SIGNAL_IN, SWEEP_IN = 0, 1
ROOM, WRITE, TURN = 0, 1, 2
LINE = 3

MOST_TIME_S, MOST_DEPTH_S = 0.015, 0.015
FULL_V = 5.0
"""A sweep CV of this much goes from one end to the other. Common practice, no source. [V]"""
MOST_FEEDBACK = 0.95


def flanger(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Move the sweep, read the line, mix, write what comes in and what comes round."""
    rate_hz = params[RATE_HZ, 0]
    in_v, sweep_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[SWEEP_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    turn_step = params[RATE, 0] / rate_hz
    depth_step, time_step = params[DEPTH_S, 1], params[TIME_S, 1]
    feedback_step, mix_step = params[FEEDBACK, 1], params[MIX, 1]
    depth_0 = params[DEPTH_S, 0] + start * depth_step
    time_0 = params[TIME_S, 0] + start * time_step
    feedback_0 = params[FEEDBACK, 0] + start * feedback_step
    mix_0 = params[MIX, 0] + start * mix_step
    mask = (int(state[ROOM]) - 1) & MOST_MASK
    longest = rate_hz * (MOST_TIME_S + MOST_DEPTH_S)
    write = int(state[WRITE])
    turn = state[TURN]
    for n in range(stop - start):
        sweep = 0.5 + 0.5 * sine_of_turn(turn) + clamp(sweep_v[n], -RAIL_V, RAIL_V) / FULL_V
        turn += turn_step
        turn = turn - 1.0 if turn >= 1.0 else turn
        late_s = time_0 + n * time_step + (depth_0 + n * depth_step) * clamp(sweep, 0.0, 1.0)
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        read_v = read_line(state, LINE, mask, write, clamp(late_s * rate_hz, NEAREST, longest))
        round_v = (feedback_0 + n * feedback_step) * read_v
        state[LINE + write] = settle(clamp(x + round_v, -RAIL_V, RAIL_V))
        mix = mix_0 + n * mix_step
        out_v[n] = clamp((1.0 - mix) * x + mix * read_v, -RAIL_V, RAIL_V)
        write = (write + 1) & mask
    state[WRITE] = write
    state[TURN] = turn


def prepare(setting: Setting) -> Any:
    """Start with an empty line and the sine at its upward zero."""
    import numpy as np

    room = ring_size(setting.rate_hz * (MOST_TIME_S + MOST_DEPTH_S))
    state = np.zeros(LINE + room)
    state[ROOM] = room
    return state


def _sweep_span(cv: Span, setting: Setting) -> Span:
    sine = Span.point(0.5) if setting.span("rate").hi == 0.0 else Span(0.0, 1.0)
    return (sine + cv.clipped(-RAIL_V, RAIL_V).scaled(1.0 / FULL_V)).clipped(0.0, 1.0)


def _late_span(cv: Span, setting: Setting) -> Span:
    """Return the delay. [samples]"""
    late_s = setting.span("time") + setting.span("depth") * _sweep_span(cv, setting)
    longest = setting.rate_hz * (MOST_TIME_S + MOST_DEPTH_S)
    return late_s.scaled(setting.rate_hz).clipped(NEAREST, longest)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and wet by the mix; wet is a geometric series, read with the cubic's overshoot."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    late = _late_span(ins[SWEEP_IN], setting)
    overshoot = overshoot_at(late.lo) if late.is_point else MOST_OVERSHOOT
    wet = between(line_span(source, setting.span("feedback"), overshoot), overshoot)
    mix = setting.span("mix")
    ends = [source.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
    return [ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound and its copies were unlike: powers add, and a steady part adds up as it is."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    [span] = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    return [line_level(source, setting["feedback"], setting["mix"], span)]


def delay(setting: Setting) -> list[Lag]:
    """The shortest and longest delay with nothing at `sweep`; dry sound comes at once."""
    late = _late_span(Span.point(0.0), setting)
    mix = setting.span("mix")
    lo_s = 0.0 if mix.lo < 1.0 else late.lo / setting.rate_hz
    hi_s = late.hi / setting.rate_hz if mix.hi > 0.0 else 0.0
    return [Lag("in", "out", lo_s, hi_s), Lag("sweep", "out", is_signal=False)]


KIND = Kind(
    name="flanger",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("sweep", "5 V sweep from one end to the other", is_control=True),
    ),
    outputs=(Port("out", "the sound and its copy"),),
    params=(
        Param("rate", "Hz", 0.0, 10.0, 0.2, "of the sweeping sine; 0 leaves it half way"),
        Param("depth", "s", 0.0, MOST_DEPTH_S, 0.004, "from the shortest to the longest delay"),
        Param("time", "s", 0.0001, MOST_TIME_S, 0.001, "shortest delay"),
        Param(
            "feedback", "ratio", -MOST_FEEDBACK, MOST_FEEDBACK, 0.3, "share that comes round again"
        ),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 1 only the copy"),
    ),
    kernel=flanger,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
