"""VCA: a voltage sets how much of the input passes. Linear or exponential; DC-coupled, so it scales control as well.

Linear: nothing at 0 V and below, all of it at `full-scale`, no more above. Exponential: 12 dB a volt, all of it at
`full-scale` and no more above, so -60 dB at 0 V for a full scale of 5 V, and 12 dB less for each volt below. `offset`
is added to the control voltage: the knob that opens the VCA by hand. `gain` follows. The output stops at the rails.

Left out: feed-through of the control voltage, noise, distortion below the rails.

Source: the two laws are common practice, no source (linear: CV over 5 V or 8 V, clipped at unity; exponential: 10 to
12 dB a volt); dB by definition. The level of a product of unlike signals follows from the definition of RMS.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp

RESPONSE, GAIN, OFFSET_V, FULL_V = 1, 2, 3, 4
LINEAR, EXPONENTIAL = 0, 1

DB_PER_V = 12.0
NEPER_PER_V = DB_PER_V * math.log(10.0) / 20.0


def exponential_gain(steer_v: float, full_v: float) -> float:
    """Return the gain ratio of the exponential law."""
    return exp(NEPER_PER_V * (min(steer_v, full_v) - full_v))


def linear_gain(steer_v: float, full_v: float) -> float:
    """Return the gain ratio of the linear law."""
    return clamp(steer_v / full_v, 0.0, 1.0)


def vca(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Multiply; gain, offset and full scale glide."""
    in_v, cv_v, out_v = (
        bus_v[ins[0], start:stop],
        bus_v[ins[1], start:stop],
        bus_v[outs[0], start:stop],
    )
    gain_step, offset_step, full_step = params[GAIN, 1], params[OFFSET_V, 1], params[FULL_V, 1]
    gain = params[GAIN, 0] + start * gain_step
    offset_v = params[OFFSET_V, 0] + start * offset_step
    full_v = params[FULL_V, 0] + start * full_step
    if params[RESPONSE, 0] >= 0.5:
        for n in range(stop - start):
            steer_v = clamp(cv_v[n], -RAIL_V, RAIL_V) + offset_v + n * offset_step
            opening = exponential_gain(steer_v, full_v + n * full_step) * (gain + n * gain_step)
            out_v[n] = clamp(opening * clamp(in_v[n], -RAIL_V, RAIL_V), -RAIL_V, RAIL_V)
    else:
        for n in range(stop - start):
            steer_v = clamp(cv_v[n], -RAIL_V, RAIL_V) + offset_v + n * offset_step
            opening = linear_gain(steer_v, full_v + n * full_step) * (gain + n * gain_step)
            out_v[n] = clamp(opening * clamp(in_v[n], -RAIL_V, RAIL_V), -RAIL_V, RAIL_V)


def _opening(steer_v: float, full_v: float, response: int) -> float:
    return (linear_gain, exponential_gain)[response](steer_v, full_v)


def _responses(setting: Setting) -> list[int]:
    span = setting.span("response")
    return [r for r in (LINEAR, EXPONENTIAL) if span.lo - 0.5 <= r <= span.hi + 0.5]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval product; each law opens with the control voltage and shuts with the full scale."""
    steer = ins[1].clipped(-RAIL_V, RAIL_V) + setting.span("offset")
    full = setting.span("full-scale")
    openings = [
        _opening(steer_v, full_v, response)
        for response in _responses(setting)
        for steer_v in (steer.lo, steer.hi)
        for full_v in (full.lo, full.hi)
    ]
    passed = ins[0].clipped(-RAIL_V, RAIL_V) * (Span.around(*openings) * setting.span("gain"))
    return [passed.clipped(-RAIL_V, RAIL_V)]


def _mean_openings(steer: Level, setting: Setting) -> tuple[float, float]:
    """Return the mean of the gain and its root mean square, for a steady or moving control voltage."""
    full_v, offset_v = setting["full-scale"], setting["offset"]
    response = round(setting["response"])
    moving = steer.scaled(1.0, offset_v)
    middle = _opening(moving.dc_v, full_v, response)
    if moving.rms_v == 0.0 or moving.hi_v - moving.lo_v < 1e-6:
        return middle, middle
    if response == LINEAR and moving.lo_v >= 0.0 and moving.hi_v <= full_v:
        return middle, math.hypot(moving.dc_v, moving.rms_v) / full_v
    # Otherwise as if every voltage between the ends came equally often.
    steps = 64
    openings = [
        _opening(moving.lo_v + (i + 0.5) / steps * (moving.hi_v - moving.lo_v), full_v, response)
        for i in range(steps)
    ]
    return sum(openings) / steps, math.sqrt(sum(g * g for g in openings) / steps)


def _with_hits(passed: Level, signal: Level, steer: Level, setting: Setting) -> Level:
    """Return what passes with its hits: those of the sound, or where the gain moves, all of it at its highest."""
    opening = _opening(
        steer.top_v + setting["offset"], setting["full-scale"], round(setting["response"])
    )
    gain = setting["gain"] * opening
    if steer.rms_v == 0.0:
        return passed.hit_like(signal, gain)
    return passed.hit_like(Level(hit_v=signal.reach_v), gain)


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Power of a product of unlike signals: the mean squares multiply, and so do the means. A hit is as loud as what
    passes while the VCA is open furthest.
    """
    signal, steer = ins[0].clipped(-RAIL_V, RAIL_V), ins[1].clipped(-RAIL_V, RAIL_V)
    gain = setting["gain"]
    mean, root = _mean_openings(steer, setting)
    response = round(setting["response"])
    most, least = (
        gain * _opening(v + setting["offset"], setting["full-scale"], response)
        for v in (steer.hi_v, steer.lo_v)
    )
    ends = [g * v for g in (most, least) for v in (signal.lo_v, signal.hi_v)]
    power = (signal.dc_v**2 + signal.rms_v**2) * (gain * root) ** 2
    dc_v = signal.dc_v * gain * mean
    passed = Level(min(ends), max(ends), dc_v, math.sqrt(max(power - dc_v**2, 0.0)))
    passed = _with_hits(passed, signal, steer, setting)
    return [passed.clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, larger or smaller."""
    return [ins[0]]


KIND = Kind(
    name="vca",
    doc=__doc__,
    inputs=(
        Port("in", "what passes"),
        Port("cv", "how much of it", is_control=True),
    ),
    outputs=(Port("out", "the input times the gain"),),
    params=(
        Param(
            "response",
            "ratio",
            0.0,
            1.0,
            0.0,
            "law of the control voltage",
            ("linear", "exponential"),
        ),
        Param("gain", "ratio", 0.0, 4.0, 1.0, "gain when fully open"),
        Param("offset", "V", -10.0, 10.0, 0.0, "added to the control voltage"),
        Param("full-scale", "V", 1.0, 10.0, 5.0, "control voltage that opens it fully"),
    ),
    kernel=vca,
    interval=interval,
    level=level,
    rate=rate,
)
