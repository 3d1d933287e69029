"""Trigger to gate: a gate of a set length from each trigger, however short the trigger is.

A trigger that comes while the gate is high makes it last its whole length from there (`extend`), without a gap, or
leaves it alone (`ignore`). The length is read when the trigger comes and is exact to the sample.

Left out: drift of an analogue timer.

Source: definition (a monostable, retriggerable or not); threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
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
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.rhythms import part_s
from rigproof.units import quarter_s

LENGTH_S, MODE, LEVEL_V = 1, 2, 3
IS_HIGH, LEFT = 0, 1
EXTEND, IGNORE = 0, 1
THRESHOLD_V = 1.0
"""The trigger is high from here up. Common practice, no source. [V]"""


def trigger_to_gate(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Count down from each trigger."""
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    was_high, left = state[IS_HIGH], state[LEFT]
    if left <= 0.0 and is_steady(in_v, was_high, THRESHOLD_V):
        for n in range(stop - start):
            out_v[n] = 0.0
        return
    is_extending = params[MODE, 0] < 0.5
    for n in range(stop - start):
        high = schmitt(in_v[n], was_high, THRESHOLD_V)
        if high > was_high and (is_extending or left <= 0.0):
            length_s = params[LENGTH_S, 0] + (start + n) * params[LENGTH_S, 1]
            left = max(1.0, math.floor(length_s * params[RATE_HZ, 0] + 0.5))
        was_high = high
        out_v[n] = level_v + n * level_step if left > 0.0 else 0.0
        left = left - 1.0 if left > 0.0 else 0.0
    state[IS_HIGH] = was_high
    state[LEFT] = left


def prepare(setting: Setting) -> list[float]:
    """No trigger yet."""
    return [0.0, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; always low where no trigger comes."""
    if ins[0].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    return [setting.span("level").including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle, high for its share of a quarter note at the patch's tempo."""
    high = setting["level"] if ins[0].hi_v >= THRESHOLD_V else 0.0
    share = min(1.0, setting["length"] / quarter_s(setting.tempo_bpm))
    return [Level(0.0, high, high * share, high * math.sqrt(share * (1.0 - share)))]


def held_gates(pulse: Pulse, setting: Setting, length_s: float, mode: int) -> Pulse:
    """Return the gates of a length that pulses start, where it can be said whether they run into each other."""
    if pulse.beat is Beat.NONE:
        return NO_PULSE
    if pulse.length_s is not None and length_s <= pulse.length_s:
        return replace(pulse, length_s=length_s)  # over before the next trigger can rise
    apart_s = part_s(pulse, setting.tempo_bpm, division=1)
    if pulse.beat not in (Beat.STEADY, Beat.FREE) or apart_s is None or pulse.chance < 1.0:
        return IRREGULAR
    sample_s = 1.0 / setting.rate_hz
    whole = math.floor(length_s / apart_s)
    if min(length_s - whole * apart_s, (whole + 1) * apart_s - length_s) < sample_s and (
        length_s > 0.5 * apart_s
    ):
        return IRREGULAR  # a sample more or less joins two gates
    if whole == 0:
        return replace(pulse, length_s=length_s)
    if mode == EXTEND:
        return NO_PULSE  # one gate that never ends
    if pulse.beat is Beat.FREE:
        assert pulse.hz is not None
        return replace(pulse, hz=pulse.hz / (whole + 1), length_s=length_s)
    assert pulse.per_quarter is not None
    return Pulse.steady(pulse.per_quarter / (whole + 1), length_s=length_s)


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """A gate for each trigger, as long as they are surely apart or evenly spaced."""
    return [held_gates(ins[0], setting, setting["length"], round(setting["mode"]))]


KIND = Kind(
    name="trigger-to-gate",
    doc=__doc__,
    inputs=(Port("trigger", "a rise starts the gate", is_control=True),),
    outputs=(Port("gate", "high for the length"),),
    params=(
        Param("length", "s", 1e-4, 30.0, 0.1, "length of the gate"),
        Param(
            "mode", "ratio", 0.0, 1.0, 0.0, "a trigger while the gate is high", ("extend", "ignore")
        ),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of the gate"),
    ),
    kernel=trigger_to_gate,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
