"""Low-pass gate: a lamp shines on a resistor, so that loudness and brightness rise together and die away softly.

The control voltage, 0 V to `full-scale`, lights the lamp. The light follows it with the time constant `rise` upwards
and falls more slowly the dimmer it gets: from full light as fast as `fall` says, near darkness four times slower.
`both` and `low-pass` send the sound through two equal poles whose cutoff goes with the cube of the light, up to `top`
(at most a quarter of the sample rate); `both` and `gain` multiply it by the square of the light. `low-pass` alone never
shuts: in darkness a ten-thousandth of `top` is left.

This is a model of how such a circuit behaves and of no one circuit. Left out: resonance, the spread between lamps, the
resistor's memory of earlier light, distortion below the rails.

Source: two one-pole low passes by the trapezoidal rule, low = (p + g x) / (1 + g) (textbook bilinear transform); the
light's times, its square and its cube are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.prewarp import quick_gain

RESPONSE, RISE_S, FALL_S, TOP_HZ, OFFSET_V, FULL_V = 1, 2, 3, 4, 5, 6
SIGNAL_IN, CV_IN = 0, 1
LIGHT, FIRST_V, SECOND_V = 0, 1, 2

BOTH, LOW_PASS, GAIN = 0, 1, 2
SLOWER = 3.0
"""How much is added to the time of the fall in darkness, in times of itself. Our choice."""
DARK_RATIO = 1e-4
"""Cutoff in darkness over the highest. Our choice."""
TOP_RATIO = 0.25
"""Highest cutoff over the sample rate: up to here the filter never overshoots."""


def low_pass_gate(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Move the light, then filter and scale by it."""
    rate_hz = params[RATE_HZ, 0]
    in_v, cv_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[CV_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    up = 1.0 - exp(-1.0 / (params[RISE_S, 0] * rate_hz))
    down = 1.0 - exp(-1.0 / (params[FALL_S, 0] * rate_hz))
    top = quick_gain(min(params[TOP_HZ, 0] / rate_hz, TOP_RATIO))
    response = int(clamp(params[RESPONSE, 0], 0.0, 2.0) + 0.5)
    filters = response != GAIN
    scales = response != LOW_PASS
    offset_step, full_step = params[OFFSET_V, 1], params[FULL_V, 1]
    offset_0 = params[OFFSET_V, 0] + start * offset_step
    full_0 = params[FULL_V, 0] + start * full_step
    light, first_v, second_v = state[LIGHT], state[FIRST_V], state[SECOND_V]
    for n in range(stop - start):
        steer_v = clamp(cv_v[n], -RAIL_V, RAIL_V) + offset_0 + n * offset_step
        aim = clamp(steer_v / (full_0 + n * full_step), 0.0, 1.0)
        step = up if aim > light else down / (1.0 + SLOWER * (1.0 - light))
        light = settle(light + step * (aim - light))
        square = light * light
        g = min(top * (square * light + DARK_RATIO), 1.0)
        opening = g / (1.0 + g)
        v = clamp(in_v[n], -RAIL_V, RAIL_V)
        moved = opening * (v - first_v)
        low_v = first_v + moved
        first_v = settle(low_v + moved)
        moved = opening * (low_v - second_v)
        low_v = second_v + moved
        second_v = settle(low_v + moved)
        v = low_v if filters else v
        out_v[n] = v * square if scales else v
    state[LIGHT] = light
    state[FIRST_V] = first_v
    state[SECOND_V] = second_v


def prepare(setting: Setting) -> list[float]:
    """Start in darkness."""
    return [0.0, 0.0, 0.0]


def _aim(cv: Span, setting: Setting) -> Span:
    """Return the light that the lamp gives."""
    steer = cv.clipped(-RAIL_V, RAIL_V) + setting.span("offset")
    full = setting.span("full-scale")
    ends = [v / f for v in (steer.lo, steer.hi) for f in (full.lo, full.hi)]
    return Span.around(*ends).clipped(0.0, 1.0)


def _responses(setting: Setting) -> list[int]:
    span = setting.span("response")
    return [r for r in (BOTH, LOW_PASS, GAIN) if span.lo - 0.5 <= r <= span.hi + 0.5]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The filter stays between rest and its input; the light starts at 0 and stays below what the lamp aims at."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V).including(0.0)
    most = 1.0 if LOW_PASS in _responses(setting) else _aim(ins[CV_IN], setting).hi ** 2
    return [source.scaled(most)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the light had settled at the mean control voltage, and the sound lay below the cutoff.

    A moving control voltage reaches up to the loudest that it can open.
    """
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    if round(setting["response"]) == LOW_PASS:
        return [source]
    still = _aim(Span.point(ins[CV_IN].dc_v), setting).lo ** 2
    most = _aim(Span(ins[CV_IN].lo_v, ins[CV_IN].hi_v), setting).hi ** 2
    told = Level(source.lo_v * most, source.hi_v * most, source.dc_v * still, source.rms_v * still)
    if ins[CV_IN].rms_v == 0.0:
        told = told.hit_like(source, still)
    else:
        told = told.hit_like(Level(hit_v=source.reach_v), most)
    return [told.clipped(min(source.lo_v * most, 0.0), max(source.hi_v * most, 0.0))]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, softer."""
    return [ins[0]]


KIND = Kind(
    name="low-pass-gate",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("cv", "lights the lamp", is_control=True),
    ),
    outputs=(Port("out", "the sound, as loud and bright as the light"),),
    params=(
        Param("response", "ratio", 0.0, 2.0, 0.0, "what light moves", ("both", "low-pass", "gain")),
        Param("rise", "s", 1e-4, 0.5, 0.004, "time constant of the light upwards"),
        Param("fall", "s", 1e-3, 5.0, 0.06, "time constant of the light from full brightness"),
        Param("top", "Hz", 200.0, 20_000.0, 10_000.0, "cutoff at full light"),
        Param("offset", "V", -10.0, 10.0, 0.0, "added to the control voltage"),
        Param("full-scale", "V", 1.0, 10.0, 5.0, "control voltage of full light"),
    ),
    kernel=low_pass_gate,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
