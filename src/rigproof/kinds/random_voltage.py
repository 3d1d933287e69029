"""Random voltage: a new voltage by chance at every tick, stepped and smooth at once, by its own clock or another's.

Every voltage within the range comes equally often. At a tick a new one comes with a chance of `change` plus a fifth a
volt of its CV; otherwise the old one stays. `stepped` jumps to it at once. `smooth` sets out for it and is there one
tick later, starting and ending level (half a cosine); when a tick comes early, it sets out anew from where it stands.
`new` gives a trigger of 5 ms, or half a tick where that is shorter, whenever a new voltage comes.

Ticks come `rate` times a second, times two for each volt at the rate input (`rate-depth` octaves a volt), the first at
once; or, with the source switched to `clock`, at each rise of the clock through 1 V. How long a tick lasts is then
known from the second rise on, and until then taken from `rate`. The same patch gives the same voltages again.

Left out: noise between the ticks, a spread other than even.

Source: half a cosine as the smoothest way between two levels, and all figures, are common practice, no source; mean
square of an even spread: a third of the square of the peak (definition).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from math import exp
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RAIL_V,
    RATE_HZ,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
from rigproof.kinds.randomness import TWO_32, first_seed, next_random
from rigproof.kinds.waves import sine_of_turn

SPEED_HZ, RATE_DEPTH, SOURCE, CHANGE, LEVEL_V, POLARITY = 1, 2, 3, 4, 5, 6
CLOCK_IN, RATE_IN, CHANGE_IN = 0, 1, 2
SEED, PHASE, CLOCK_HIGH, SINCE, PERIOD, FROM, GOAL, WAY, PULSE_LEFT, OCTAVES, FACTOR = range(11)

LN_2 = math.log(2.0)
FASTEST_TURN = 0.5
THRESHOLD_V = 1.0
"""The clock is high from here up. Common practice, no source. [V]"""
FULL_V = 5.0
"""A CV of this much is the whole. Common practice, no source. [V]"""
PULSE_V = 5.0
PULSE_S = 0.005
LONGEST = 1e9
"""Samples after which nobody counts any more."""


def half_cosine(way: float) -> float:
    """Return how far along the smooth voltage is, 0 to 1, when it has used this share of its time."""
    return (
        0.5 + 0.5 * sine_of_turn(clamp(0.75 + 0.5 * way, 0.75, 1.0))
        if way < 0.5
        else (0.5 + 0.5 * sine_of_turn(clamp(0.5 * way - 0.25, 0.0, 0.25)))
    )


def random_voltage(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Tick, draw, go on towards what was drawn. Voltages are kept as shares of the range, -1 to 1."""
    rate_hz = params[RATE_HZ, 0]
    sample_s = 1.0 / rate_hz
    is_clocked = params[SOURCE, 0] >= 0.5
    is_unipolar = params[POLARITY, 0] >= 0.5
    clock_in, rate_in, change_in = ins[CLOCK_IN], ins[RATE_IN], ins[CHANGE_IN]
    stepped_out, smooth_out, new_out = outs[0], outs[1], outs[2]
    seed, phase, was_high = state[SEED], state[PHASE], state[CLOCK_HIGH]
    since, period = state[SINCE], state[PERIOD]
    begun, goal, way = state[FROM], state[GOAL], state[WAY]
    pulse_left = state[PULSE_LEFT]
    for n in range(start, stop):
        octaves = clamp(bus_v[rate_in, n], -RAIL_V, RAIL_V)
        octaves *= params[RATE_DEPTH, 0] + n * params[RATE_DEPTH, 1]
        if octaves != state[OCTAVES]:
            state[OCTAVES] = octaves
            state[FACTOR] = exp(LN_2 * octaves)
        speed_hz = params[SPEED_HZ, 0] + n * params[SPEED_HZ, 1]
        turn = min(speed_hz * state[FACTOR] * sample_s, FASTEST_TURN)
        high = schmitt(bus_v[clock_in, n], was_high, THRESHOLD_V)
        is_rise = high > was_high
        was_high = high
        since = min(since + 1.0, LONGEST)
        if is_rise:
            if since < LONGEST:
                period = since
            since = 0.0
        is_tick = is_rise
        if is_clocked:
            if period > 0.0:
                turn = 1.0 / period
        else:
            is_tick = phase >= 1.0
            if is_tick:
                phase -= 1.0
            phase += turn
        way = min(way + turn, 1.0)
        if is_tick:
            begun += (goal - begun) * half_cosine(way)
            way = 0.0
            if not is_clocked:
                way = clamp(phase - turn, 0.0, 1.0)  # the tick came between the samples
            seed = next_random(seed)
            drawn = seed
            chance = params[CHANGE, 0] + n * params[CHANGE, 1]
            chance += clamp(bus_v[change_in, n], -FULL_V, FULL_V) / FULL_V
            seed = next_random(seed)
            if seed < chance * TWO_32:
                goal = 2.0 * drawn / TWO_32 - 1.0
                pulse_left = max(1.0, math.floor(min(PULSE_S * rate_hz, 0.5 / turn) + 0.5))
        smooth = begun + (goal - begun) * half_cosine(way)
        level_v = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        scale_v = 0.5 * level_v if is_unipolar else level_v
        middle_v = 0.5 * level_v if is_unipolar else 0.0
        bus_v[stepped_out, n] = middle_v + scale_v * goal
        bus_v[smooth_out, n] = middle_v + scale_v * smooth
        bus_v[new_out, n] = PULSE_V if pulse_left > 0.0 else 0.0
        pulse_left = max(pulse_left - 1.0, 0.0)
    state[SEED], state[PHASE], state[CLOCK_HIGH] = seed, phase, was_high
    state[SINCE], state[PERIOD] = since, period
    state[FROM], state[GOAL], state[WAY] = begun, goal, way
    state[PULSE_LEFT] = pulse_left


def prepare(setting: Setting) -> list[float]:
    """Stand in the middle of the range; its own clock ticks at the first sample."""
    state = [0.0] * 11
    state[SEED] = first_seed(setting.seed, setting.name)
    state[PHASE] = 1.0
    state[SINCE] = LONGEST
    state[WAY] = 1.0
    state[FACTOR] = 1.0
    return state


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The range: about 0 V, or from 0 V up; both where the switch may be moved."""
    level_v, polarity = setting.span("level").hi, setting.span("polarity")
    lo_v = 0.0 if polarity.lo >= 0.5 else -level_v
    both = Span(lo_v, level_v)
    if setting.span("source").lo >= 0.5 and ins[CLOCK_IN].hi < THRESHOLD_V:
        middle = setting.span("level").scaled(0.5) if polarity.lo >= 0.5 else Span.point(0.0)
        if polarity.is_point:
            return [middle, middle, Span.point(0.0)]
    return [both, both, Span(0.0, PULSE_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """An even spread; on its way between two voltages the smooth one has three quarters of the mean square."""
    if round(setting["source"]) == 1 and ins[CLOCK_IN].hi_v < THRESHOLD_V:
        middle_v = setting["level"] / 2.0 if setting["polarity"] >= 0.5 else 0.0
        return [Level.steady(middle_v), Level.steady(middle_v), Level()]
    peak_v, dc_v = setting["level"], 0.0
    if setting["polarity"] >= 0.5:
        peak_v, dc_v = peak_v / 2.0, peak_v / 2.0
    stepped = Level.swing(peak_v, crest_ratio=math.sqrt(3.0)).scaled(1.0, dc_v)
    change = min(max(setting["change"], 0.0), 1.0)
    crest = math.sqrt(3.0 / (1.0 - 0.25 * change))
    smooth = Level.swing(peak_v, crest_ratio=crest).scaled(1.0, dc_v)
    return [stepped, smooth, Level(0.0, PULSE_V, *_new_level(setting))]


def _new_level(setting: Setting) -> tuple[float, float]:
    """Return mean and RMS about it of the triggers, at the rate of its own clock."""
    share = min(PULSE_S * setting["rate"], 0.5) * min(max(setting["change"], 0.0), 1.0)
    return PULSE_V * share, PULSE_V * math.sqrt(share * (1.0 - share))


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Voltages do not pulse; a trigger comes at the ticks, with the chance of a change."""
    chance = min(max(setting["change"], 0.0), 1.0)
    if chance <= 0.0:
        return [NO_PULSE] * 3
    clock = ins[CLOCK_IN]
    if round(setting["source"]) == 1:
        if clock.beat is Beat.NONE:
            return [NO_PULSE] * 3
        return [
            NO_PULSE, NO_PULSE, replace(clock, length_s=None, chance=clock.chance * chance)
        ]  # fmt: skip
    if ins[RATE_IN].beat is not Beat.NONE:
        return [NO_PULSE, NO_PULSE, IRREGULAR]
    hz = setting["rate"]
    new = Pulse(Beat.FREE, length_s=min(PULSE_S, 0.5 / hz), hz=hz, chance=chance)
    return [NO_PULSE, NO_PULSE, new]


KIND = Kind(
    name="random-voltage",
    doc=__doc__,
    inputs=(
        Port("clock", "a rise is a tick, when the source is the clock", is_control=True),
        Port("rate", "`rate-depth` octaves a volt", is_control=True),
        Port("change", "5 V make every change certain", is_control=True),
    ),
    outputs=(
        Port("stepped", "jumps to the new voltage"),
        Port("smooth", "glides to it, and is there one tick later"),
        Port("new", "a trigger for every new voltage"),
    ),
    params=(
        Param("rate", "Hz", 0.001, 200.0, 2.0, "ticks a second of its own clock"),
        Param("rate-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `rate`"),
        Param("source", "ratio", 0.0, 1.0, 0.0, "where ticks come from", ("internal", "clock")),
        Param("change", "ratio", 0.0, 1.0, 1.0, "chance that a tick brings a new voltage"),
        Param("level", "V", 0.0, 10.0, 5.0, "the highest voltage"),
        Param(
            "polarity", "ratio", 0.0, 1.0, 0.0, "about 0 V, or from 0 V up", ("bipolar", "unipolar")
        ),
    ),
    kernel=random_voltage,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
