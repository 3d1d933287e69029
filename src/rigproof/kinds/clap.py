"""Clap by synthesis: a few bursts of noise close together, the last of which dies away; through a band pass.

A trigger that rises through 1 V starts `bursts` bursts, `spacing` apart; each falls by 40 dB until the next, and the
last by 60 dB in `decay`. The noise is heard through a band pass at `tune` of quality `q`, and is brought to the same
loudness wherever that stands. The accent is read at the trigger: 5 V, or no cable, is full level, 0 V is less by
`accent`. A trigger while it sounds starts anew.

Left out: hands that differ from each other, the room. The sound is cut off at the peak, which it rarely reaches.

Source: the band pass: a state-variable filter by the trapezoidal rule (V. Zavalishin, The Art of VA Filter Design,
2012, from memory); noise passes a resonance of quality Q at f as through pi/2 f/Q hertz (noise bandwidth of a single
resonance, any text on noise); decay see `drum_hits`; bursts, and all figures, are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, tan
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

BURSTS, SPACING_S, DECAY_S, TUNE_HZ, Q, ACCENT, LEVEL_V = 1, 2, 3, 4, 5, 6, 7
TRIGGER_IN, ACCENT_IN = 0, 1
SEED, TRIGGER_HIGH, LOUD, GAIN, LEFT, WAIT, FIRST, SECOND = range(8)

HISS_RMS = 0.35
"""RMS of the noise behind the band pass at full loudness; its peaks are then rarely cut off. Our choice."""
BURST_NEPER = math.log(100.0)
"""Each burst but the last falls by 40 dB until the next. Our choice."""


def band_gain(tune_hz: float, q: float, rate_hz: float) -> float:
    """Return the gain that brings even noise from -1 to 1 behind the band pass to `HISS_RMS`."""
    return HISS_RMS / math.sqrt(math.pi * tune_hz / (3.0 * q * rate_hz))


def clap(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Burst on a trigger, filter, decay; nothing at all while it is silent."""
    rate_hz = params[RATE_HZ, 0]
    fall = fall_a_sample(params[DECAY_S, 0], rate_hz)
    spacing = max(1.0, math.floor(params[SPACING_S, 0] * rate_hz + 0.5))
    burst_fall = exp(-BURST_NEPER / spacing)
    tune_hz, q = params[TUNE_HZ, 0], params[Q, 0]
    g = tan(math.pi * min(tune_hz / rate_hz, 0.45))
    k = 1.0 / q
    divisor = 1.0 / (1.0 + g * (g + k))
    make_up = band_gain(tune_hz, q, rate_hz)
    trigger_in, accent_in, out = ins[TRIGGER_IN], ins[ACCENT_IN], outs[0]
    seed, was_high = state[SEED], state[TRIGGER_HIGH]
    loud, gain, left, wait = state[LOUD], state[GAIN], state[LEFT], state[WAIT]
    first, second = state[FIRST], state[SECOND]
    for n in range(start, stop):
        high = schmitt(bus_v[trigger_in, n], was_high, THRESHOLD_V)
        if high > was_high:
            gain = hit_gain(bus_v[accent_in, n], params[ACCENT, 0] + n * params[ACCENT, 1])
            left = max(1.0, math.floor(params[BURSTS, 0] + 0.5))
            wait = 0.0
        was_high = high
        if left > 0.0:
            if wait <= 0.0:
                loud = gain
                left -= 1.0
                wait = spacing
            wait -= 1.0
        if loud == 0.0 and left == 0.0:
            first = 0.0
            second = 0.0
            bus_v[out, n] = 0.0
            continue
        seed = next_random(seed)
        white = 2.0 * seed / TWO_32 - 1.0
        band = (g * (white - second) + first) * divisor
        low = second + g * band
        first = 2.0 * band - first
        second = 2.0 * low - second
        level_v = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        bus_v[out, n] = level_v * loud * clamp(make_up * k * band, -1.0, 1.0)
        loud = until_silent(loud * (burst_fall if left > 0.0 else fall))
    state[SEED], state[TRIGGER_HIGH] = seed, was_high
    state[LOUD], state[GAIN], state[LEFT], state[WAIT] = loud, gain, left, wait
    state[FIRST], state[SECOND] = settle(first), settle(second)


def prepare(setting: Setting) -> list[float]:
    """Silence; chance from the patch and the section's name."""
    return [first_seed(setting.seed, setting.name)] + [0.0] * 7


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak; nothing from a trigger that cannot fire."""
    if ins[TRIGGER_IN].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """From the hit to where its last burst has fallen by 60 dB."""
    if ins[TRIGGER_IN].hi_v < THRESHOLD_V:
        return [Level()]
    early = max(1, math.floor(setting["bursts"] + 0.5)) - 1
    spacing_s, decay_s = setting["spacing"], setting["decay"]
    over_s = early * spacing_s + decay_s
    # The mean square of a fall by 40 dB is 1/(2 ln 100) of its start.
    power = early * spacing_s / over_s / (2.0 * BURST_NEPER) + decay_power(decay_s, over_s)
    peak_v = setting["level"] * hit_gain(ins[ACCENT_IN].hi_v, setting["accent"])
    top_v = setting["level"] * hit_gain(ins[ACCENT_IN].top_v, setting["accent"])
    mean_v = setting["level"] * hit_gain(ins[ACCENT_IN].dc_v, setting["accent"])
    return [Level(-peak_v, peak_v, 0.0, mean_v * HISS_RMS * math.sqrt(power), top_v)]


KIND = Kind(
    name="clap",
    doc=__doc__,
    inputs=(
        Port("trigger", "a rise is a clap", is_control=True),
        Port("accent", "5 V at the clap is full level", rest_v=5.0, is_control=True),
    ),
    outputs=(Port("out", "the clap"),),
    params=(
        Param("bursts", "steps", 1.0, 8.0, 4.0, "hands, one after the other"),
        Param("spacing", "s", 0.003, 0.05, 0.011, "time from one to the next"),
        Param("decay", "s", 0.02, 2.0, 0.2, "time in which the last falls by 60 dB"),
        Param("tune", "Hz", 300.0, 5000.0, 1100.0, "middle of the band that is heard"),
        Param("q", "ratio", 0.5, 10.0, 2.0, "how narrow the band is"),
        Param("accent", "ratio", 0.0, 1.0, 0.5, "by how much a clap without accent is softer"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of an accented clap"),
    ),
    kernel=clap,
    prepare=prepare,
    interval=interval,
    level=level,
)
