"""Compressor: turns a stereo sound down by what its level is above a threshold, both sides alike.

Above `threshold` the level in dB grows by one over `ratio`; over a `knee` of some dB the line bends gently. `makeup`
follows. The level is that of the louder side, or of the voltage at `sidechain` (`key` sidechain), read by its peaks: it
holds a peak and lets go with the time constant `release`, and follows upwards with the time constant `attack`. Knobs
that move are followed once a block of 64 samples.

Left out: the distortion and the memory of optical and valve circuits, a look ahead. The output stops at the rails.

Source: static curve and smooth decoupled peak detector as in D. Giannoulis, M. Massberg, J. D. Reiss, Digital Dynamic
Range Compressor Design, J. Audio Eng. Soc. 60(6), 2012 (from memory): y = x below the knee, T + (x - T) / R above, and
x + (1/R - 1) (x - T + W/2)^2 / (2 W) in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, log
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Lag, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp, limit, settle
from rigproof.kinds.elementary import two_to
from rigproof.units import db_from_ratio, ratio_from_db

THRESHOLD_V, RATIO, KNEE_DB, ATTACK_S, RELEASE_S, MAKEUP_DB, KEY = 1, 2, 3, 4, 5, 6, 7
LEFT_IN, RIGHT_IN, SIDECHAIN_IN = 0, 1, 2
HELD_V, LEVEL_V = 0, 1

NEPER_PER_DB = math.log(10.0) / 20.0
OCTAVES_PER_DB = math.log2(10.0) / 20.0


def change_db(over_db: float, ratio: float, knee_db: float) -> float:
    """Return what a level so far above the threshold is changed by, 0 or less. [dB]"""
    if 2.0 * over_db <= -knee_db:
        return 0.0
    slope = 1.0 / ratio - 1.0
    if 2.0 * over_db < knee_db:
        into_db = over_db + 0.5 * knee_db
        return slope * into_db * into_db / (2.0 * knee_db)
    return slope * over_db


def compressor(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Follow the level, turn both sides down."""
    rate_hz = params[RATE_HZ, 0]
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    side_v = bus_v[ins[SIDECHAIN_IN], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    threshold_v, ratio, knee_db = params[THRESHOLD_V, 0], params[RATIO, 0], params[KNEE_DB, 0]
    rise = 1.0 - exp(-1.0 / (params[ATTACK_S, 0] * rate_hz))
    stay = exp(-1.0 / (params[RELEASE_S, 0] * rate_hz))
    makeup = exp(NEPER_PER_DB * params[MAKEUP_DB, 0])
    is_keyed = params[KEY, 0] > 0.5
    bends_v = threshold_v * exp(-0.5 * NEPER_PER_DB * knee_db)
    held_v, level_v = state[HELD_V], state[LEVEL_V]
    levels = out_left_v  # read before it is written over
    for n in range(stop - start):
        left = clamp(left_v[n], -RAIL_V, RAIL_V)
        right = clamp(right_v[n], -RAIL_V, RAIL_V)
        levels[n] = max(abs(left), abs(right))
    if is_keyed:
        for n in range(stop - start):
            levels[n] = abs(clamp(side_v[n], -RAIL_V, RAIL_V))
    for n in range(stop - start):
        key_v = levels[n]
        held_v = max(key_v, stay * held_v + (1.0 - stay) * key_v)
        level_v += rise * (held_v - level_v)
        levels[n] = level_v
    for n in range(stop - start):
        gain = makeup
        if levels[n] > bends_v:
            over_db = log(levels[n] / threshold_v) / NEPER_PER_DB
            gain = makeup * two_to(change_db(over_db, ratio, knee_db) * OCTAVES_PER_DB)
        out_left_v[n] = limit(gain * clamp(left_v[n], -RAIL_V, RAIL_V), -RAIL_V, RAIL_V)
        out_right_v[n] = limit(gain * clamp(right_v[n], -RAIL_V, RAIL_V), -RAIL_V, RAIL_V)
    state[HELD_V] = settle(held_v)
    state[LEVEL_V] = settle(level_v)


def prepare(setting: Setting) -> list[float]:
    """Start wide open."""
    return [0.0, 0.0]


def _gain(level_v: float, threshold_v: float, ratio: float, knee_db: float) -> float:
    if level_v <= 0.0:
        return 1.0
    return ratio_from_db(change_db(db_from_ratio(level_v / threshold_v), ratio, knee_db))


def _key_peak_v(ins: Sequence[Span], setting: Setting) -> float:
    """Return the highest level that the detector can see."""
    key = setting.span("key")
    spans = (list(ins[:SIDECHAIN_IN]) if key.lo <= 0.5 else []) + (
        [ins[SIDECHAIN_IN]] if key.hi >= 0.5 else []
    )
    return max(span.clipped(-RAIL_V, RAIL_V).peak for span in spans)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The gain lies between wide open and what the loudest level, lowest threshold and steepest ratio leave."""
    least = _gain(
        _key_peak_v(ins, setting),
        setting.span("threshold").lo,
        setting.span("ratio").hi,
        setting.span("knee").hi,
    )
    makeup = setting.span("makeup")
    # A rounding error of the two logarithms is all that can be missing.
    gain = Span(least * ratio_from_db(makeup.lo) * (1.0 - 1e-12), ratio_from_db(makeup.hi))
    return [(x.clipped(-RAIL_V, RAIL_V) * gain).clipped(-RAIL_V, RAIL_V) for x in ins[:2]]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the detector stood at the key's peak all the time."""
    spans = [Span(x.lo_v, x.hi_v) for x in ins]
    at_v = _key_peak_v(spans, setting)
    gain = _gain(at_v, setting["threshold"], setting["ratio"], setting["knee"])
    gain *= ratio_from_db(setting["makeup"])
    return [x.clipped(-RAIL_V, RAIL_V).scaled(gain).clipped(-RAIL_V, RAIL_V) for x in ins[:2]]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, softer."""
    return [ins[LEFT_IN], ins[RIGHT_IN]]


def delay(setting: Setting) -> list[Lag]:
    """At once, each side for itself."""
    return [
        Lag("left", "left"),
        Lag("right", "right"),
        Lag("sidechain", "left", is_signal=False),
        Lag("sidechain", "right", is_signal=False),
    ]


KIND = Kind(
    name="compressor",
    doc=__doc__,
    inputs=(
        Port("left", "the sound"),
        Port("right", "the sound"),
        Port("sidechain", "what turns it down, where `key` says so", is_control=True),
    ),
    outputs=(Port("left", "the sound, turned down"), Port("right", "the sound, turned down")),
    params=(
        Param("threshold", "V", 0.01, 11.0, 2.0, "peak level from which it turns down"),
        Param("ratio", "ratio", 1.0, 100.0, 4.0, "dB in for each dB out, above the threshold"),
        Param("knee", "dB", 0.0, 24.0, 6.0, "width of the bend"),
        Param("attack", "s", 1e-5, 0.5, 0.005, "time constant of turning down"),
        Param("release", "s", 0.001, 5.0, 0.15, "time constant of letting go"),
        Param("makeup", "dB", -24.0, 24.0, 0.0, "gain that follows"),
        Param("key", "ratio", 0.0, 1.0, 0.0, "whose level counts", ("inside", "sidechain")),
    ),
    kernel=compressor,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
