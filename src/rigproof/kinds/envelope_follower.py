"""Envelope follower: the loudness of a sound as a voltage, with a gate while it is loud.

The input is rectified, multiplied by `gain`, and charges a capacitor: upwards with the time constant `attack`,
downwards with `release`. With an attack much shorter than the release the voltage stands near the peak of the sound,
with equal times at its rectified mean. The gate is high from `threshold` up and goes low 0.3 V below, or at half of the
threshold where that is higher.

Left out: smoothing beyond the one capacitor (a low tone ripples), the drop of a diode.

Source: RC charge and discharge (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1); mean of a rectified sine:
2/pi of its peak (any calculus text); threshold and hysteresis are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
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
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.edges import HYSTERESIS_V

ATTACK_S, RELEASE_S, GAIN, THRESHOLD_V, LEVEL_V = 1, 2, 3, 4, 5
CAPACITOR_V, IS_HIGH = 0, 1
TONE_HZ = 100.0
"""Ripple is told as of a sine of this frequency. Our choice. [Hz]"""
PHASES = 64
"""Parts of a quarter wave over which a steady sine's balance is summed."""


def envelope_follower(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Rectify, charge or discharge, compare; gain, threshold and level glide."""
    up = 1.0 - exp(-1.0 / (params[ATTACK_S, 0] * params[RATE_HZ, 0]))
    down = 1.0 - exp(-1.0 / (params[RELEASE_S, 0] * params[RATE_HZ, 0]))
    stay_up = 1.0 - up
    stay_down = 1.0 - down
    in_v = bus_v[ins[0], start:stop]
    cv_v, gate_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    gain_step, threshold_step, level_step = (
        params[GAIN, 1],
        params[THRESHOLD_V, 1],
        params[LEVEL_V, 1],
    )
    gain_0 = params[GAIN, 0] + start * gain_step
    threshold_0 = params[THRESHOLD_V, 0] + start * threshold_step
    level_0 = params[LEVEL_V, 0] + start * level_step
    v = state[CAPACITOR_V]
    high = state[IS_HIGH]
    for n in range(stop - start):
        goal_v = (gain_0 + n * gain_step) * abs(clamp(in_v[n], -RAIL_V, RAIL_V))
        goal_v = clamp(goal_v, 0.0, RAIL_V)
        risen_v = up * goal_v + stay_up * v
        fallen_v = down * goal_v + stay_down * v
        v = risen_v if goal_v > v else fallen_v
        threshold_v = threshold_0 + n * threshold_step
        gap_v = min(HYSTERESIS_V, 0.5 * threshold_v)
        stays = high if v >= threshold_v - gap_v else 0.0
        high = 1.0 if v >= threshold_v else stays
        cv_v[n] = v
        gate_v[n] = high * (level_0 + n * level_step)
    state[CAPACITOR_V] = settle(v)
    state[IS_HIGH] = high


def prepare(setting: Setting) -> list[float]:
    """Start with the capacitor empty."""
    return [0.0, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """From 0 V, where it starts, to the highest peak times the gain; no gate where that is below the threshold."""
    peak_v = min(setting.span("gain").hi * ins[0].clipped(-RAIL_V, RAIL_V).peak, RAIL_V)
    is_heard = peak_v >= setting.span("threshold").lo - 1e-9
    gate = setting.span("level").including(0.0) if is_heard else Span.point(0.0)
    return [Span(0.0, peak_v), gate]


def steady_share(attack_s: float, release_s: float) -> tuple[float, float]:
    """Return where the voltage settles on a steady sine of many cycles, and its ripple's RMS, as shares of the peak.

    It settles where as much is charged above as is discharged below, found by halving; what is discharged in half a
    cycle of `TONE_HZ` is the ripple, taken for a triangle.
    """
    heights = [math.sin(math.pi / 2.0 * (i + 0.5) / PHASES) for i in range(PHASES)]
    lo, hi = 0.0, 1.0
    lost = 0.0
    for _ in range(40):
        v = (lo + hi) / 2.0
        charged = sum(h - v for h in heights if h > v) / attack_s
        lost = sum(v - h for h in heights if h < v) / release_s
        lo, hi = (v, hi) if charged > lost else (lo, v)
    drop = lost / PHASES * 0.5 / TONE_HZ
    return (lo + hi) / 2.0, drop / (2.0 * math.sqrt(3.0))


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As for a sine of the input's power: where it settles, with the ripple of 100 Hz, between silence and the peak."""
    x = ins[0].clipped(-RAIL_V, RAIL_V)
    gain, threshold_v, high_v = setting["gain"], setting["threshold"], setting["level"]
    if x.is_silent:
        steady_v = min(gain * abs(x.dc_v), RAIL_V)
        is_high = steady_v >= threshold_v
        return [Level.steady(steady_v), Level.steady(high_v if is_high else 0.0)]
    peak_v = min(gain * x.peak_v, RAIL_V)
    sine_v = gain * math.sqrt(2.0) * math.hypot(x.dc_v, x.rms_v)
    share, ripple = steady_share(setting["attack"], setting["release"])
    cv_v = min(sine_v * share, peak_v)
    ripple_v = min(sine_v * ripple, math.sqrt(max((peak_v - cv_v) * cv_v, 0.0)))
    most_v = high_v if peak_v >= threshold_v else 0.0
    gate = Level(0.0, most_v, most_v if cv_v >= threshold_v else 0.0, 0.0)
    return [Level(0.0, peak_v, cv_v, ripple_v), gate]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """When a sound is loud nobody can say; from nothing that pulses comes nothing that is told of."""
    return [NO_PULSE, NO_PULSE if ins[0].beat is Beat.NONE else IRREGULAR]


KIND = Kind(
    name="envelope-follower",
    doc=__doc__,
    inputs=(Port("in", "the sound", is_control=True),),
    outputs=(
        Port("cv", "its loudness"),
        Port("gate", "high while it is loud"),
    ),
    params=(
        Param("attack", "s", 1e-4, 1.0, 0.003, "time constant upwards"),
        Param("release", "s", 1e-3, 10.0, 0.1, "time constant downwards"),
        Param("gain", "ratio", 0.0, 20.0, 1.0, "by which the sound is multiplied first"),
        Param("threshold", "V", 0.01, 10.0, 1.0, "where the gate goes high"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of the gate"),
    ),
    kernel=envelope_follower,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
