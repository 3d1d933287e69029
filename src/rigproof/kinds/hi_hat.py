"""Hi-hat by synthesis: six square waves that fit no scale, and noise, both without their lows; closed, open, choked.

`closed` and `open` are triggers from 1 V up, each with its own decay (time to -60 dB); a closed hit ends an open one,
as feet do, and a closed hit on the same sample as an open one wins. A rise at `choke` lets whatever sounds fall by
60 dB in 10 ms. The squares stand in the ratios of the first modes of a flat round plate, the lowest at `tune`; `noise`
goes from squares alone to noise alone; two high passes of 6 dB an octave at `cutoff` take the lows away. The accent is
read at the hit: 5 V, or no cable, is full level, 0 V is less by `accent`.

Left out: rounding of the squares: what they fold is part of the hiss, as weak as their 12th harmonic and less; the bell
of a real cymbal, whose modes shift and spread. The sound is cut off at the peak, which it rarely reaches.

Source: ratios of a free round plate's modes, roots of its frequency equation with a Poisson's ratio of 0.33, which a
test works out; the figures printed in A. W. Leissa, Vibration of Plates, NASA SP-160 (1969), 5.253, 9.084, 12.23,
20.52, 21.6 and 33.1 (from memory), give the same within 0.6 %. Decay see `drum_hits`; the rest is common practice, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RATE_HZ, Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.drum_hits import (
    THRESHOLD_V,
    decay_power,
    fall_a_sample,
    hit_gain,
    until_silent,
)
from rigproof.kinds.edges import schmitt
from rigproof.kinds.randomness import TWO_32, first_seed, next_random

TUNE_HZ, NOISE, CUTOFF_HZ, CLOSED_S, OPEN_S, ACCENT, LEVEL_V = 1, 2, 3, 4, 5, 6, 7
CLOSED_IN, OPEN_IN, CHOKE_IN, ACCENT_IN = 0, 1, 2, 3
SEED, CLOSED_HIGH, OPEN_HIGH, CHOKE_HIGH, LOUD, HOW, FIRST_LOW, SECOND_LOW, PHASES = range(9)
BY_CLOSED, BY_OPEN, BY_CHOKE = 0.0, 1.0, 2.0

RATIOS = (1.0, 1.7235, 2.3268, 3.8983, 4.0910, 6.2831)
"""Of the squares, to the lowest: modes of a free round plate."""
SQUARES = len(RATIOS)
CHOKE_S = 0.01
"""Time in which a choked hat falls by 60 dB. Our choice. [s]"""
MAKE_UP = 1.6
"""Gain that brings what the high passes leave back to a drum's loudness. Our choice."""


def square_of_turn(phase: float) -> float:
    """Return 1 in the first half of a wave and -1 in the second."""
    return 1.0 if phase < 0.5 else -1.0


def hi_hat(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Hit, choke, hiss; nothing at all while it is silent."""
    rate_hz = params[RATE_HZ, 0]
    closed_fall = fall_a_sample(params[CLOSED_S, 0], rate_hz)
    open_fall = fall_a_sample(params[OPEN_S, 0], rate_hz)
    choke_fall = fall_a_sample(CHOKE_S, rate_hz)
    share = 1.0 - exp(-2.0 * math.pi * params[CUTOFF_HZ, 0] / rate_hz)
    closed_in, open_in, choke_in, accent_in = (
        ins[CLOSED_IN],
        ins[OPEN_IN],
        ins[CHOKE_IN],
        ins[ACCENT_IN],
    )
    out = outs[0]
    seed, loud, how = state[SEED], state[LOUD], state[HOW]
    closed_was, open_was, choke_was = state[CLOSED_HIGH], state[OPEN_HIGH], state[CHOKE_HIGH]
    first_low, second_low = state[FIRST_LOW], state[SECOND_LOW]
    p0, p1, p2 = state[PHASES], state[PHASES + 1], state[PHASES + 2]
    p3, p4, p5 = state[PHASES + 3], state[PHASES + 4], state[PHASES + 5]
    for n in range(start, stop):
        closed = schmitt(bus_v[closed_in, n], closed_was, THRESHOLD_V)
        opened = schmitt(bus_v[open_in, n], open_was, THRESHOLD_V)
        choke = schmitt(bus_v[choke_in, n], choke_was, THRESHOLD_V)
        if closed > closed_was or opened > open_was:
            loud = hit_gain(bus_v[accent_in, n], params[ACCENT, 0] + n * params[ACCENT, 1])
            how = BY_CLOSED if closed > closed_was else BY_OPEN
        elif choke > choke_was:
            how = BY_CHOKE
        closed_was = closed
        open_was = opened
        choke_was = choke
        if loud == 0.0:
            first_low = 0.0
            second_low = 0.0
            bus_v[out, n] = 0.0
            continue
        turn = (params[TUNE_HZ, 0] + n * params[TUNE_HZ, 1]) / rate_hz
        metal = square_of_turn(p0) + square_of_turn(p1) + square_of_turn(p2)
        metal += square_of_turn(p3) + square_of_turn(p4) + square_of_turn(p5)
        metal *= 1.0 / SQUARES
        p0 += turn
        p1 += RATIOS[1] * turn
        p2 += RATIOS[2] * turn
        p3 += RATIOS[3] * turn
        p4 += RATIOS[4] * turn
        p5 += RATIOS[5] * turn
        p0 = p0 - 1.0 if p0 >= 1.0 else p0
        p1 = p1 - 1.0 if p1 >= 1.0 else p1
        p2 = p2 - 1.0 if p2 >= 1.0 else p2
        p3 = p3 - 1.0 if p3 >= 1.0 else p3
        p4 = p4 - 1.0 if p4 >= 1.0 else p4
        p5 = p5 - 1.0 if p5 >= 1.0 else p5
        seed = next_random(seed)
        white = 2.0 * seed / TWO_32 - 1.0
        x = metal + (params[NOISE, 0] + n * params[NOISE, 1]) * (white - metal)
        first_low += share * (x - first_low)
        x -= first_low
        second_low += share * (x - second_low)
        x -= second_low
        level_v = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        bus_v[out, n] = level_v * loud * clamp(MAKE_UP * x, -1.0, 1.0)
        fall = closed_fall if how == BY_CLOSED else open_fall if how == BY_OPEN else choke_fall
        loud = until_silent(loud * fall)
    state[SEED], state[LOUD], state[HOW] = seed, loud, how
    state[CLOSED_HIGH], state[OPEN_HIGH], state[CHOKE_HIGH] = closed_was, open_was, choke_was
    state[FIRST_LOW], state[SECOND_LOW] = settle(first_low), settle(second_low)
    state[PHASES], state[PHASES + 1], state[PHASES + 2] = p0, p1, p2
    state[PHASES + 3], state[PHASES + 4], state[PHASES + 5] = p3, p4, p5


def prepare(setting: Setting) -> list[float]:
    """Silence; chance from the patch and the section's name."""
    return [first_seed(setting.seed, setting.name)] + [0.0] * (PHASES - 1 + SQUARES)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak; nothing from triggers that cannot fire."""
    if max(ins[CLOSED_IN].hi, ins[OPEN_IN].hi) < THRESHOLD_V:
        return [Span.point(0.0)]
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)]


def passed_power(hz: float, cutoff_hz: float, rate_hz: float) -> float:
    """Return what share of a sine's power passes both high passes."""
    share = 1.0 - exp(-2.0 * math.pi * cutoff_hz / rate_hz)
    turn = 2.0 * math.pi * hz / rate_hz
    kept = 1.0 - share
    # 1 - share / (1 - kept / z) = kept (1 - 1/z) / (1 - kept / z)
    above = kept**2 * (2.0 - 2.0 * math.cos(turn))
    return (above / (1.0 + kept**2 - 2.0 * kept * math.cos(turn))) ** 2


def hiss_power(tune_hz: float, noise: float, cutoff_hz: float, rate_hz: float) -> float:
    """Return the mean square of the hiss at full loudness: harmonics, folded ones too, and noise, all filtered."""
    squares = sum(
        0.5
        * (4.0 / (math.pi * n * SQUARES)) ** 2
        * passed_power(n * ratio * tune_hz, cutoff_hz, rate_hz)
        for ratio in RATIOS
        for n in range(1, 200, 2)
    )
    steps = 256
    white = sum(
        passed_power((i + 0.5) / steps * rate_hz / 2.0, cutoff_hz, rate_hz) for i in range(steps)
    )
    white /= 3.0 * steps
    return MAKE_UP**2 * ((1.0 - noise) ** 2 * squares + noise**2 * white)


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """From the hit to where it has fallen by 60 dB, open or closed alike; what the peak cuts off is not counted."""
    if max(ins[CLOSED_IN].hi_v, ins[OPEN_IN].hi_v) < THRESHOLD_V:
        return [Level()]
    power = hiss_power(setting["tune"], setting["noise"], setting["cutoff"], setting.rate_hz)
    power = min(power, 1.0)
    peak_v = setting["level"] * hit_gain(ins[ACCENT_IN].hi_v, setting["accent"])
    top_v = setting["level"] * hit_gain(ins[ACCENT_IN].top_v, setting["accent"])
    mean_v = setting["level"] * hit_gain(ins[ACCENT_IN].dc_v, setting["accent"])
    rms_v = mean_v * math.sqrt(power * decay_power(1.0, 1.0))
    return [Level(-peak_v, peak_v, 0.0, rms_v, top_v)]


KIND = Kind(
    name="hi-hat",
    doc=__doc__,
    inputs=(
        Port("closed", "a rise is a closed hit", is_control=True),
        Port("open", "a rise is an open hit", is_control=True),
        Port("choke", "a rise ends what sounds", is_control=True),
        Port("accent", "5 V at the hit is full level", rest_v=5.0, is_control=True),
    ),
    outputs=(Port("out", "the hat"),),
    params=(
        Param("tune", "Hz", 100.0, 1200.0, 330.0, "the lowest of the squares"),
        Param("noise", "ratio", 0.0, 1.0, 0.3, "0 is squares alone, 1 noise alone"),
        Param("cutoff", "Hz", 1000.0, 12_000.0, 6000.0, "what lies below is taken away"),
        Param("closed-decay", "s", 0.01, 1.0, 0.08, "time in which a closed hit falls by 60 dB"),
        Param("open-decay", "s", 0.05, 5.0, 0.6, "time in which an open hit falls by 60 dB"),
        Param("accent", "ratio", 0.0, 1.0, 0.5, "by how much a hit without accent is softer"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of an accented hit"),
    ),
    kernel=hi_hat,
    prepare=prepare,
    interval=interval,
    level=level,
)
