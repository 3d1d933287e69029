"""CC pair to CV: two controller numbers make one voltage of 14 bits, 16,384 steps instead of 128.

The number from 0 to 31 carries the upper seven bits, the number 32 above it the lower seven. An upper half sets the
lower one to zero until it comes. With `update` at each, every message moves the voltage at once, so that a pair passes
through a value up to 127 steps off for as long as the line takes for the second message (960 us, or 640 us in running
status); with pair the voltage waits for the lower half, and a sender of seven bits moves nothing. Value 0 gives `lo`,
16,383 gives `hi`: 0.305194 mV a step over 0 to 5 V. Slew is a time constant.

Left out: pairs sent lower half first, the converter's own steps.

Source: numbers 0-31 upper and 32-63 lower seven bits: MIDI 1.0, control change table; that an upper half clears the
lower one, from memory. Slew: RC circuits (Horowitz & Hill, The Art of Electronics, 3rd ed. (2015), ch. 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RATE_HZ, Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.midi_messages import controller_value, is_quiet

NUMBER, CHANNEL, LO_V, HI_V, SLEW_S, INITIAL_V, UPDATE = 1, 2, 3, 4, 5, 6, 7
UPPER, VALUE, LAST_V = 0, 1, 2
LOWER_OFFSET = 32
"""The lower half's number less the upper half's."""
TOP = 16_383.0
"""The highest value of 14 bits."""


def pair_v(lo_v: float, hi_v: float, value: float) -> float:
    """Return the voltage of a value of 0 to 16,383. [V]"""
    share = value / TOP
    return clamp(lo_v * (1.0 - share) + hi_v * share, min(lo_v, hi_v), max(lo_v, hi_v))


def cc_pair_to_cv(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Put the halves together; move the voltage towards the value."""
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    quiet = is_quiet(in_v)
    slew_s = clamp(params[SLEW_S, 0], 0.0, 60.0)
    step = 1.0 if slew_s <= 0.0 else 1.0 - exp(-1.0 / (slew_s * params[RATE_HZ, 0]))
    number = int(params[NUMBER, 0] + 0.5)
    channel = int(params[CHANNEL, 0] + 0.5)
    waits = params[UPDATE, 0] >= 0.5
    upper, value, last_v = state[UPPER], state[VALUE], state[LAST_V]
    lo_step, hi_step, initial_step = params[LO_V, 1], params[HI_V, 1], params[INITIAL_V, 1]
    lo_v = params[LO_V, 0] + start * lo_step
    hi_v = params[HI_V, 0] + start * hi_step
    initial_v = params[INITIAL_V, 0] + start * initial_step
    for n in range(stop - start):
        if not quiet and in_v[n] != 0.0:
            found = controller_value(in_v[n], number, channel)
            if found >= 0:
                upper = float(found)
                value = value if waits else 128.0 * upper
            found = controller_value(in_v[n], number + LOWER_OFFSET, channel)
            if found >= 0 and upper >= 0.0:
                value = 128.0 * upper + found
        if value < 0.0:
            wanted_v = initial_v + n * initial_step
        else:
            wanted_v = pair_v(lo_v + n * lo_step, hi_v + n * hi_step, value)
        last_v = wanted_v if step >= 1.0 else settle(last_v + step * (wanted_v - last_v))
        out_v[n] = last_v
    state[UPPER] = upper
    state[VALUE] = value
    state[LAST_V] = last_v


def prepare(setting: Setting) -> list[float]:
    """No message yet."""
    return [-1.0, -1.0, setting["initial"]]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Between the two ends and where it began; slew never overshoots."""
    return [setting.span("lo").hull(setting.span("hi")).hull(setting.span("initial"))]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A control that stands still most of the time, anywhere between its ends."""
    ends = (setting["lo"], setting["hi"], setting["initial"])
    return [Level(min(ends), max(ends), setting["initial"], 0.0)]


def delay(setting: Setting) -> list[Lag]:
    """At once, or one time constant of the slew."""
    return [Lag("in", "out", setting["slew"], setting["slew"])]


KIND = Kind(
    name="cc-pair-to-cv",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "the voltage"),),
    params=(
        Param("number", "steps", 0.0, 31.0, 1.0, "controller number of the upper half"),
        Param("channel", "steps", 1.0, 16.0, 1.0, "MIDI channel to listen to"),
        Param("lo", "V", -10.0, 10.0, 0.0, "voltage at value 0"),
        Param("hi", "V", -10.0, 10.0, 5.0, "voltage at value 16383"),
        Param("slew", "s", 0.0, 10.0, 0.0, "time constant of the smoothing; 0 is none"),
        Param("initial", "V", -10.0, 10.0, 0.0, "voltage until the first message"),
        Param("update", "ratio", 0.0, 1.0, 0.0, "when the voltage moves", ("each", "pair")),
    ),
    kernel=cc_pair_to_cv,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
