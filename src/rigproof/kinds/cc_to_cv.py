"""CC to CV: one controller number on one channel becomes a voltage, in 128 steps, smoothed only if `slew` says so.

Value 0 gives `lo`, 127 gives `hi`; until the first message comes the output stands at `initial`. With `slew` at 0 every
message is a step, 39.370079 mV over 0 to 5 V, as in life. Slew is a time constant.

Left out: 14-bit pairs of controllers, the converter's own steps.

Source: 7-bit controller values: MIDI 1.0 Detailed Specification; slew: RC circuits (Horowitz & Hill, The Art of
Electronics, 3rd ed. (2015), ch. 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RATE_HZ, Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.midi_messages import controller_value, is_quiet

NUMBER, CHANNEL, LO_V, HI_V, SLEW_S, INITIAL_V = 1, 2, 3, 4, 5, 6
VALUE, LAST_V = 0, 1


def wanted_v(params: Any, value: float, n: int) -> float:
    """Return the voltage of a value (-1: none yet) at column `n`. [V]"""
    if value < 0.0:
        return float(params[INITIAL_V, 0] + n * params[INITIAL_V, 1])
    lo = params[LO_V, 0] + n * params[LO_V, 1]
    hi = params[HI_V, 0] + n * params[HI_V, 1]
    share = value / 127.0
    return clamp(lo * (1.0 - share) + hi * share, min(lo, hi), max(lo, hi))


def slewed(last_v: float, wanted: float, step: float) -> float:
    """Return the voltage a sample later."""
    return wanted if step >= 1.0 else settle(last_v + step * (wanted - last_v))


def cc_to_cv(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Take the value of every message meant for us; move the voltage towards it."""
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    slew_s = clamp(params[SLEW_S, 0], 0.0, 60.0)
    step = 1.0 if slew_s <= 0.0 else 1.0 - exp(-1.0 / (slew_s * params[RATE_HZ, 0]))
    value = state[VALUE]
    last_v = state[LAST_V]
    moves = params[LO_V, 1] != 0.0 or params[HI_V, 1] != 0.0 or params[INITIAL_V, 1] != 0.0
    if not moves and is_quiet(in_v):
        wanted = wanted_v(params, value, 0)
        next_v = slewed(last_v, wanted, step)
        if next_v == last_v:  # it has arrived
            for n in range(stop - start):
                out_v[n] = last_v
            return
        for n in range(stop - start):
            last_v = slewed(last_v, wanted, step)
            out_v[n] = last_v
        state[LAST_V] = last_v
        return
    number = int(params[NUMBER, 0] + 0.5)
    channel = int(params[CHANNEL, 0] + 0.5)
    for n in range(stop - start):
        if in_v[n] != 0.0:
            found = controller_value(in_v[n], number, channel)
            if found >= 0:
                value = float(found)
        last_v = slewed(last_v, wanted_v(params, value, start + n), step)
        out_v[n] = last_v
    state[VALUE] = value
    state[LAST_V] = last_v


def prepare(setting: Setting) -> list[float]:
    """No message yet."""
    return [-1.0, setting["initial"]]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Between the two ends and where it began; slew never overshoots."""
    return [setting.span("lo").hull(setting.span("hi")).hull(setting.span("initial"))]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A control that stands still most of the time, anywhere between its ends."""
    ends = sorted((setting["lo"], setting["hi"]))
    return [
        Level(
            min(ends[0], setting["initial"]),
            max(ends[1], setting["initial"]),
            setting["initial"],
            0.0,
        )
    ]


def delay(setting: Setting) -> list[Lag]:
    """At once, or one time constant of the slew."""
    return [Lag("in", "out", setting["slew"], setting["slew"])]


KIND = Kind(
    name="cc-to-cv",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "the voltage"),),
    params=(
        Param("number", "steps", 0.0, 127.0, 1.0, "controller number to listen to"),
        Param("channel", "steps", 1.0, 16.0, 1.0, "MIDI channel to listen to"),
        Param("lo", "V", -10.0, 10.0, 0.0, "voltage at value 0"),
        Param("hi", "V", -10.0, 10.0, 5.0, "voltage at value 127"),
        Param("slew", "s", 0.0, 10.0, 0.0, "time constant of the smoothing; 0 is none"),
        Param("initial", "V", -10.0, 10.0, 0.0, "voltage until the first message"),
    ),
    kernel=cc_to_cv,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
