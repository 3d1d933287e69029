"""Kick drum by synthesis: a sine whose pitch drops and whose loudness decays, with a click at its start.

A trigger that rises through 1 V starts the sine at the beginning of a wave, `sweep` octaves above `tune`; the sweep
falls to a thousandth in `sweep-time`, the loudness by 60 dB in `decay`. The click is a pulse that dies away with a time
constant of 1 ms. The accent is read at the trigger: 5 V, or no cable, is full level, 0 V is less by `accent`. The pitch
input moves all of it, 1 V/octave. A new hit fades what is left of the one before in 1 ms.

Left out: the drift of a real circuit's pitch with loudness and temperature; hits are alike to the sample. Nothing is
band-limited, which counts above some kilohertz only.

Source: a sine with falling pitch and loudness is common practice, no source; decay see `drum_hits`; the phase under an
exponential sweep is an exponential integral, which a test holds it to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.drum_hits import (
    FADE_S,
    THRESHOLD_V,
    decay_power,
    fall_a_sample,
    hit_gain,
    until_silent,
)
from rigproof.kinds.edges import schmitt
from rigproof.kinds.waves import sine_of_turn

TUNE_HZ, DECAY_S, SWEEP, SWEEP_S, CLICK, ACCENT, LEVEL_V = 1, 2, 3, 4, 5, 6, 7
TRIGGER_IN, ACCENT_IN, PITCH_IN = 0, 1, 2
TRIGGER_HIGH, PHASE, LOUD, SWEPT, CLICK_LOUD, REST, REST_LEFT, LAST = range(8)

LN_2 = math.log(2.0)
FASTEST_TURN = 0.45
CLICK_S = 0.001
"""Time constant of the click. Our choice. [s]"""


def kick_drum(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Start a hit on a trigger; drop, decay and click; nothing at all while it is silent."""
    rate_hz = params[RATE_HZ, 0]
    fall = fall_a_sample(params[DECAY_S, 0], rate_hz)
    sweep_fall = fall_a_sample(params[SWEEP_S, 0], rate_hz)
    click_fall = exp(-1.0 / (CLICK_S * rate_hz))
    fade = 1.0 / max(1.0, FADE_S * rate_hz)
    trigger_in, accent_in, pitch_in, out = ins[TRIGGER_IN], ins[ACCENT_IN], ins[PITCH_IN], outs[0]
    was_high = state[TRIGGER_HIGH]
    phase, loud, swept, click_loud = state[PHASE], state[LOUD], state[SWEPT], state[CLICK_LOUD]
    rest, rest_left, last = state[REST], state[REST_LEFT], state[LAST]
    for n in range(start, stop):
        high = schmitt(bus_v[trigger_in, n], was_high, THRESHOLD_V)
        if high > was_high:
            rest = last
            rest_left = 1.0
            phase = 0.0
            loud = hit_gain(bus_v[accent_in, n], params[ACCENT, 0] + n * params[ACCENT, 1])
            click_loud = loud
            swept = 1.0
        was_high = high
        if loud == 0.0 and click_loud == 0.0 and rest_left == 0.0:
            last = 0.0
            bus_v[out, n] = 0.0
            continue
        half_click = 0.5 * (params[CLICK, 0] + n * params[CLICK, 1])
        last = (1.0 - half_click) * loud * sine_of_turn(phase)
        last = clamp(last + half_click * click_loud + rest * rest_left, -1.0, 1.0)
        bus_v[out, n] = (params[LEVEL_V, 0] + n * params[LEVEL_V, 1]) * last
        octaves = clamp(bus_v[pitch_in, n], -RAIL_V, RAIL_V)
        octaves += (params[SWEEP, 0] + n * params[SWEEP, 1]) * swept
        hz = (params[TUNE_HZ, 0] + n * params[TUNE_HZ, 1]) * exp(LN_2 * octaves)
        phase += min(hz / rate_hz, FASTEST_TURN)
        phase = phase - 1.0 if phase >= 1.0 else phase
        loud = until_silent(loud * fall)
        click_loud = until_silent(click_loud * click_fall)
        swept = until_silent(swept * sweep_fall)
        rest_left = max(rest_left - fade, 0.0)
    state[TRIGGER_HIGH] = was_high
    state[PHASE], state[LOUD], state[SWEPT], state[CLICK_LOUD] = phase, loud, swept, click_loud
    state[REST], state[REST_LEFT], state[LAST] = rest, rest_left, last


def prepare(setting: Setting) -> list[float]:
    """Silence."""
    return [0.0] * 8


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak; nothing from a trigger that cannot fire."""
    if ins[TRIGGER_IN].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """From the hit to where it has fallen by 60 dB; the click is not counted."""
    if ins[TRIGGER_IN].hi_v < THRESHOLD_V:
        return [Level()]
    peak_v = setting["level"] * hit_gain(ins[ACCENT_IN].hi_v, setting["accent"])
    top_v = setting["level"] * hit_gain(ins[ACCENT_IN].top_v, setting["accent"])
    mean_v = setting["level"] * hit_gain(ins[ACCENT_IN].dc_v, setting["accent"])
    share = 1.0 - 0.5 * setting["click"]
    rms_v = mean_v * share * math.sqrt(0.5 * decay_power(1.0, 1.0))
    return [Level(-peak_v * share, peak_v, 0.0, min(rms_v, peak_v), top_v)]


KIND = Kind(
    name="kick-drum",
    doc=__doc__,
    inputs=(
        Port("trigger", "a rise is a hit", is_control=True),
        Port("accent", "5 V at the hit is full level", rest_v=5.0, is_control=True),
        Port("pitch", "1 V/octave", is_control=True),
    ),
    outputs=(Port("out", "the drum"),),
    params=(
        Param("tune", "Hz", 20.0, 400.0, 50.0, "pitch where the sweep ends"),
        Param("decay", "s", 0.02, 5.0, 0.4, "time to fall by 60 dB"),
        Param("sweep", "octaves", 0.0, 6.0, 2.0, "how far above it starts"),
        Param(
            "sweep-time", "s", 0.002, 2.0, 0.12, "time in which a thousandth of the sweep is left"
        ),
        Param("click", "ratio", 0.0, 1.0, 0.3, "share of the click in the first moment, halved"),
        Param("accent", "ratio", 0.0, 1.0, 0.5, "by how much a hit without accent is softer"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of an accented hit"),
    ),
    kernel=kick_drum,
    prepare=prepare,
    interval=interval,
    level=level,
)
