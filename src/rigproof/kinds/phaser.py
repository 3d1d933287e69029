"""Phaser: a chain of all-pass stages beside the dry sound; where the two are out of phase, a notch travels.

Each stage turns the phase by 90 degrees at `frequency`, which moves `depth` octaves up and down with a triangle at
`rate`, and `sweep-depth` octaves for each volt at `sweep`. Half and half, two stages cut one notch, and every two
stages one more. Feedback comes round one sample late, as it must in samples.

The frequency stops at 0.45 of the sample rate. With the stages' frequency f0 and n stages, the notches lie where
n times 2 atan(tan(pi f / rate) / tan(pi f0 / rate)) is an odd multiple of 180 degrees.

Left out: stages that differ from each other, distortion below the rails, noise.

Source: first-order all-pass by the trapezoidal rule, (g S^-1 - 1) over (g S^-1 + 1) with g = tan(pi f0 / rate)
(textbook bilinear transform of (w0 - s) / (w0 + s)); the rest follows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
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
from rigproof.kinds.limits import within
from rigproof.kinds.linear_bounds import output_span, reach
from rigproof.kinds.prewarp import write_gains_at
from rigproof.kinds.state_variable_filter import integrator_gain

RATE, DEPTH, FREQUENCY_HZ, SWEEP_DEPTH, STAGES, FEEDBACK, MIX = 1, 2, 3, 4, 5, 6, 7
SIGNAL_IN, SWEEP_IN = 0, 1
TURN, ROUND_V, LAST_HZ, LAST_OCTAVES, GAIN = 0, 1, 2, 3, 4
CAPACITORS = 5

STAGE_NAMES = ("2", "4", "6", "8", "10", "12")
MOST_STAGES = 12
LN_2 = math.log(2.0)
STATE_LIMIT_V = 40.0 * RAIL_V
"""The stages saturate here, so that nothing grows without end. [V]"""
MOST_FEEDBACK = 0.95


def stages_of(choice: float) -> int:
    """Return how many stages a choice stands for."""
    return 2 * (int(clamp(choice, 0.0, 5.0) + 0.5) + 1)


def phaser(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Move the frequency, send the sound down the chain, mix."""
    rate_hz = params[RATE_HZ, 0]
    in_v, sweep_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[SWEEP_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    turn_step = params[RATE, 0] / rate_hz
    stages = stages_of(params[STAGES, 0])
    depth_step, hz_step = params[DEPTH, 1], params[FREQUENCY_HZ, 1]
    sweep_step, feedback_step, mix_step = (
        params[SWEEP_DEPTH, 1],
        params[FEEDBACK, 1],
        params[MIX, 1],
    )
    depth_0 = params[DEPTH, 0] + start * depth_step
    hz_0 = params[FREQUENCY_HZ, 0] + start * hz_step
    sweep_0 = params[SWEEP_DEPTH, 0] + start * sweep_step
    feedback_0 = params[FEEDBACK, 0] + start * feedback_step
    mix_0 = params[MIX, 0] + start * mix_step
    turn, round_v = state[TURN], state[ROUND_V]
    gains = out_v  # read before it is written over
    for n in range(stop - start):
        triangle = abs(abs(4.0 * turn - 1.0) - 2.0) - 1.0
        turn += turn_step
        turn = turn - 1.0 if turn >= 1.0 else turn
        octaves = (depth_0 + n * depth_step) * triangle
        gains[n] = octaves + (sweep_0 + n * sweep_step) * clamp(sweep_v[n], -RAIL_V, RAIL_V)
    write_gains_at(gains, hz_0, hz_step, rate_hz, state[LAST_HZ : GAIN + 1])
    for n in range(stop - start):
        twice = 2.0 * gains[n] / (1.0 + gains[n])
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        v = x + (feedback_0 + n * feedback_step) * round_v
        for k in range(CAPACITORS, CAPACITORS + stages):
            # A stage's low pass gives held + twice / 2 (v - held); twice that less v goes on.
            held_v = state[k]
            state[k] = within((1.0 - twice) * held_v + twice * v, STATE_LIMIT_V)
            v = (twice - 1.0) * v + (2.0 - twice) * held_v
        round_v = within(v, STATE_LIMIT_V)
        mix = mix_0 + n * mix_step
        out_v[n] = clamp((1.0 - mix) * x + mix * v, -RAIL_V, RAIL_V)
    for k in range(CAPACITORS, CAPACITORS + MOST_STAGES):
        state[k] = settle(state[k]) if k < CAPACITORS + stages else 0.0
    state[TURN] = turn
    state[ROUND_V] = settle(round_v)


def prepare(setting: Setting) -> list[float]:
    """Start at rest, the triangle at its upward zero; the gain is worked out at the first sample."""
    return [0.0] * (CAPACITORS + MOST_STAGES)


@cache
def _sums(
    hz: float, stages: int, feedback: float, mix: float, rate_hz: float
) -> tuple[tuple[float, float], ...] | None:
    """Return the sums over the impulse responses of the output and of all that must stay below the limit."""
    g = integrator_gain(hz, rate_hz)
    opening = g / (1.0 + g)
    held = [0.0] * (stages + 1)

    def step(x: float) -> tuple[float, ...]:
        v = x + feedback * held[stages]
        for k in range(stages):
            moved = opening * (v - held[k])
            low = held[k] + moved
            held[k] = low + moved
            v = 2.0 * low - v
        held[stages] = v
        return ((1.0 - mix) * x + mix * v, *held)

    # What is left is a thousand times what is held, so that it can still ring on for a while.
    found = reach(step, lambda: 1e3 * sum(map(abs, held)), stages + 2)
    return None if found is None else tuple(found)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing; with all at rest what the impulse response allows; else the rails, or the dry sound."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    if source == ZERO:
        return [ZERO]
    if setting.span("mix") == ZERO:
        return [source]
    rails = [Span(-RAIL_V, RAIL_V)]
    moves = ins[SWEEP_IN].clipped(-RAIL_V, RAIL_V) * setting.span("sweep-depth")
    swing = setting.span("depth").hi if setting.span("rate").hi > 0.0 else 0.0
    settings = [setting.span(name) for name in ("frequency", "stages", "feedback", "mix")]
    if swing or not (moves.is_point and all(span.is_point for span in settings)):
        return rails
    hz = setting["frequency"] * exp(LN_2 * moves.lo)
    stages = stages_of(setting["stages"])
    sums = _sums(hz, stages, setting["feedback"], setting["mix"], setting.rate_hz)
    if sums is None:
        return rails
    spans = [output_span(s, source) for s in sums]
    if max(span.peak for span in spans[1:]) > STATE_LIMIT_V:
        return rails
    return [spans[0].clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the turned sound were unlike the dry one: powers add. A steady part comes through the chain whole."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    mix, feedback = setting["mix"], setting["feedback"]
    steady_v = source.dc_v / (1.0 - feedback)
    shift_v = steady_v - source.dc_v
    again = 1.0 / math.sqrt(1.0 - feedback**2)
    wet = Level(
        source.lo_v + min(shift_v, 0.0),
        source.hi_v + max(shift_v, 0.0),
        steady_v,
        source.rms_v * again,
    ).hit_like(source, again)
    [span] = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    both = mixed([source.scaled(1.0 - mix), wet.scaled(mix)])
    return [both.clipped(span.lo, span.hi)]


KIND = Kind(
    name="phaser",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("sweep", "`sweep-depth` octaves a volt", is_control=True),
    ),
    outputs=(Port("out", "the sound with its notches"),),
    params=(
        Param("rate", "Hz", 0.0, 20.0, 0.3, "of the triangle; 0 holds it"),
        Param("depth", "octaves", 0.0, 4.0, 1.5, "how far the triangle moves the stages"),
        Param("frequency", "Hz", 20.0, 10_000.0, 800.0, "where a stage turns by 90 degrees"),
        Param("sweep-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `sweep`"),
        Param("stages", "ratio", 0.0, 5.0, 1.0, "all-pass stages", STAGE_NAMES),
        Param(
            "feedback", "ratio", -MOST_FEEDBACK, MOST_FEEDBACK, 0.2, "share that comes round again"
        ),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 0.5 has the deepest notches"),
    ),
    kernel=phaser,
    prepare=prepare,
    interval=interval,
    level=level,
)
