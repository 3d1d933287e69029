"""Snare drum by synthesis: two modes of a drum skin, and the rattle of the snares as noise.

A trigger that rises through 1 V strikes both. The skin is a sine at `tune` and a second one 1.593 times as high, which
dies away in half the time; it falls by 60 dB in `decay`. The snares are noise without what lies below `noise-cutoff`,
and fall by 60 dB in `noise-decay`. `tone` goes from skin alone to snares alone. The accent is read at the trigger: 5 V,
or no cable, is full level, 0 V is less by `accent`. The pitch input moves the skin, 1 V/octave. A new hit fades what is
left of the skin's in 1 ms; noise goes on as it is.

Left out: the higher modes and the shell, the skin's pitch that falls with loudness. The noise is cut off at the peak,
which it rarely reaches.

Source: the second mode of an ideal circular membrane lies 1.593 times above the first: 3.83171 over 2.40483, zeros of
Bessel's J_1 and J_0 (Rayleigh, The Theory of Sound, vol. 1, ch. 9; figures from memory, and a test works them out);
decay see `drum_hits`; the rest is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.drum_hits import (
    FADE_S,
    THRESHOLD_V,
    decay_power,
    fall_a_sample,
    hit_gain,
    until_silent,
)
from rigproof.kinds.edges import schmitt
from rigproof.kinds.randomness import TWO_32, first_seed, next_random
from rigproof.kinds.waves import sine_of_turn

TUNE_HZ, DECAY_S, TONE, NOISE_S, NOISE_HZ, ACCENT, LEVEL_V = 1, 2, 3, 4, 5, 6, 7
TRIGGER_IN, ACCENT_IN, PITCH_IN = 0, 1, 2
(
    SEED, TRIGGER_HIGH, FIRST, SECOND, LOUD, SECOND_LOUD, NOISE_LOUD, LOW, REST, REST_LEFT, SKIN,
    OCTAVES, FACTOR,
) = range(13)  # fmt: skip

LN_2 = math.log(2.0)
FASTEST_TURN = 0.45
MODE_RATIO = 1.593
"""Second mode of a round skin over its first."""
FIRST_SHARE, SECOND_SHARE = 0.6, 0.4
"""Strengths of the modes. Our choice."""


def snare_drum(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Strike on a trigger; sum two sines and noise; nothing at all while it is silent."""
    rate_hz = params[RATE_HZ, 0]
    fall = fall_a_sample(params[DECAY_S, 0], rate_hz)
    noise_fall = fall_a_sample(params[NOISE_S, 0], rate_hz)
    share = 1.0 - exp(-2.0 * math.pi * params[NOISE_HZ, 0] / rate_hz)
    fade = 1.0 / max(1.0, FADE_S * rate_hz)
    trigger_in, accent_in, pitch_in, out = ins[TRIGGER_IN], ins[ACCENT_IN], ins[PITCH_IN], outs[0]
    seed, was_high = state[SEED], state[TRIGGER_HIGH]
    first, second, low = state[FIRST], state[SECOND], state[LOW]
    loud, second_loud, noise_loud = state[LOUD], state[SECOND_LOUD], state[NOISE_LOUD]
    rest, rest_left, skin = state[REST], state[REST_LEFT], state[SKIN]
    octaves, factor = state[OCTAVES], state[FACTOR]
    for n in range(start, stop):
        high = schmitt(bus_v[trigger_in, n], was_high, THRESHOLD_V)
        if high > was_high:
            rest = skin
            rest_left = 1.0
            first = 0.0
            second = 0.0
            loud = hit_gain(bus_v[accent_in, n], params[ACCENT, 0] + n * params[ACCENT, 1])
            second_loud = loud
            noise_loud = loud
        was_high = high
        if loud == 0.0 and noise_loud == 0.0 and rest_left == 0.0:
            low = 0.0
            skin = 0.0
            bus_v[out, n] = 0.0
            continue
        skin = FIRST_SHARE * loud * sine_of_turn(first)
        skin += SECOND_SHARE * second_loud * sine_of_turn(second)
        skin += rest * rest_left
        seed = next_random(seed)
        white = 2.0 * seed / TWO_32 - 1.0
        low += share * (white - low)
        rattle = noise_loud * clamp(white - low, -1.0, 1.0)
        tone = params[TONE, 0] + n * params[TONE, 1]
        level_v = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        bus_v[out, n] = level_v * clamp(skin + tone * (rattle - skin), -1.0, 1.0)
        wanted = clamp(bus_v[pitch_in, n], -RAIL_V, RAIL_V)
        if wanted != octaves:
            octaves = wanted
            factor = exp(LN_2 * octaves)
        turn = (params[TUNE_HZ, 0] + n * params[TUNE_HZ, 1]) * factor / rate_hz
        first += min(turn, FASTEST_TURN)
        first = first - 1.0 if first >= 1.0 else first
        second += min(MODE_RATIO * turn, FASTEST_TURN)
        second = second - 1.0 if second >= 1.0 else second
        loud = until_silent(loud * fall)
        second_loud = until_silent(second_loud * fall * fall)
        noise_loud = until_silent(noise_loud * noise_fall)
        rest_left = max(rest_left - fade, 0.0)
    state[SEED], state[TRIGGER_HIGH] = seed, was_high
    state[FIRST], state[SECOND], state[LOW] = first, second, settle(low)
    state[LOUD], state[SECOND_LOUD], state[NOISE_LOUD] = loud, second_loud, noise_loud
    state[REST], state[REST_LEFT], state[SKIN] = rest, rest_left, skin
    state[OCTAVES], state[FACTOR] = octaves, factor


def prepare(setting: Setting) -> list[float]:
    """Silence; chance from the patch and the section's name."""
    state = [0.0] * 13
    state[SEED] = first_seed(setting.seed, setting.name)
    state[FACTOR] = 1.0
    return state


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak; nothing from a trigger that cannot fire."""
    if ins[TRIGGER_IN].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)]


def noise_power(cutoff_hz: float, rate_hz: float) -> float:
    """Return the mean square of even noise from -1 to 1 behind the high pass, the rare peaks beyond 1 included."""
    share = 1.0 - exp(-2.0 * math.pi * cutoff_hz / rate_hz)
    return (1.0 - 2.0 * share + share / (2.0 - share)) / 3.0


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """From the hit to where the longer of skin and snares has fallen by 60 dB: powers add."""
    if ins[TRIGGER_IN].hi_v < THRESHOLD_V:
        return [Level()]
    decay_s, noise_s, tone = setting["decay"], setting["noise-decay"], setting["tone"]
    over_s = max(decay_s, noise_s)
    skin = FIRST_SHARE**2 * decay_power(decay_s, over_s)
    skin += SECOND_SHARE**2 * decay_power(decay_s / 2.0, over_s)
    noise = noise_power(setting["noise-cutoff"], setting.rate_hz) * decay_power(noise_s, over_s)
    power = (1.0 - tone) ** 2 * skin / 2.0 + tone**2 * noise
    peak_v = setting["level"] * hit_gain(ins[ACCENT_IN].hi_v, setting["accent"])
    top_v = setting["level"] * hit_gain(ins[ACCENT_IN].top_v, setting["accent"])
    mean_v = setting["level"] * hit_gain(ins[ACCENT_IN].dc_v, setting["accent"])
    return [Level(-peak_v, peak_v, 0.0, mean_v * math.sqrt(power), top_v)]


KIND = Kind(
    name="snare-drum",
    doc=__doc__,
    inputs=(
        Port("trigger", "a rise is a hit", is_control=True),
        Port("accent", "5 V at the hit is full level", rest_v=5.0, is_control=True),
        Port("pitch", "1 V/octave, of the skin", is_control=True),
    ),
    outputs=(Port("out", "the drum"),),
    params=(
        Param("tune", "Hz", 60.0, 600.0, 180.0, "first mode of the skin"),
        Param("decay", "s", 0.02, 2.0, 0.18, "time in which the skin falls by 60 dB"),
        Param("tone", "ratio", 0.0, 1.0, 0.6, "0 is the skin alone, 1 the snares alone"),
        Param("noise-decay", "s", 0.02, 2.0, 0.25, "time in which the snares fall by 60 dB"),
        Param(
            "noise-cutoff", "Hz", 200.0, 8000.0, 1500.0, "what lies below is taken from the noise"
        ),
        Param("accent", "ratio", 0.0, 1.0, 0.5, "by how much a hit without accent is softer"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of an accented hit"),
    ),
    kernel=snare_drum,
    prepare=prepare,
    interval=interval,
    level=level,
)
