"""Swing: delays every second pulse of a clock, by a share of its period as last measured.

The pulses are taken in pairs: the second comes at `swing` of the pair, 0.5 being straight and 2/3 a triplet. The first
comes with the clock, at that very sample. `reset` makes the next pulse a first one; a reset on the same sample as a
clock comes first. Until two clocks have come the period is not known and nothing is delayed. When the clock is so much
faster at once that the next first pulse comes before a delayed one, the delayed one is dropped. Pulses have a length
of their own, at most half the way to the next.

Left out: swing that pulls pulses forward.

Source: swing as the share of a pair: common practice, no source; threshold of 1 V likewise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rigproof.kinds import clock_tracking
from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RATE_HZ,
    Beat,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clock_tracking import (
    HIGH,
    PERIOD,
    THRESHOLD_V,
    follow_clock,
    pass_time,
)
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.rhythms import part_s
from rigproof.units import quarter_s

SWING, LEVEL_V, WIDTH_S = 1, 2, 3
CLOCK_IN, RESET_IN = 0, 1
RESET_HIGH, IS_SECOND, WAIT, LEFT = (
    clock_tracking.SIZE,
    clock_tracking.SIZE + 1,
    clock_tracking.SIZE + 2,
    clock_tracking.SIZE + 3,
)
"""The reset, whether the next pulse is the second of a pair, samples until a delayed one (-1: none), samples left."""
NONE = -1.0


def swing(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Fire first pulses at once, second ones when their wait is over."""
    clock_v, reset_v = bus_v[ins[CLOCK_IN], start:stop], bus_v[ins[RESET_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    if (
        state[WAIT] < 0.0
        and state[LEFT] <= 0.0
        and is_steady(clock_v, state[HIGH], THRESHOLD_V)
        and is_steady(reset_v, state[RESET_HIGH], THRESHOLD_V)
    ):
        for n in range(stop - start):
            out_v[n] = 0.0
        pass_time(state, stop - start)
        return
    width_step = params[WIDTH_S, 1] * params[RATE_HZ, 0]
    width = params[WIDTH_S, 0] * params[RATE_HZ, 0] + start * width_step
    for n in range(stop - start):
        reset = schmitt(reset_v[n], state[RESET_HIGH], THRESHOLD_V)
        if reset > state[RESET_HIGH]:
            state[IS_SECOND] = 0.0
        state[RESET_HIGH] = reset
        share = params[SWING, 0] + (start + n) * params[SWING, 1]
        if follow_clock(state, clock_v[n], 0.0):
            if state[IS_SECOND] > 0.0:
                late = (2.0 * share - 1.0) * state[PERIOD]
                state[WAIT] = max(0.0, math.ceil(late - 1e-6))  # rounding makes no sample late
            else:
                state[WAIT] = 0.0
            state[IS_SECOND] = 1.0 - state[IS_SECOND]
        if state[WAIT] >= 0.0:
            if state[WAIT] < 0.5:
                ratio = share if state[IS_SECOND] > 0.0 else 1.0 - share
                longest = ratio * state[PERIOD] if state[PERIOD] > 0.0 else width
                state[LEFT] = max(1.0, math.floor(min(width + n * width_step, longest) + 0.5))
                state[WAIT] = NONE
            else:
                state[WAIT] -= 1.0
        out_v[n] = level_v + n * level_step if state[LEFT] > 0.0 else 0.0
        if state[LEFT] > 0.0:
            state[LEFT] -= 1.0


def prepare(setting: Setting) -> list[float]:
    """No clock yet; the first pulse is a first one."""
    return [0.0] * clock_tracking.SIZE + [0.0, 0.0, NONE, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; always low where no clock comes."""
    if ins[CLOCK_IN].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    return [setting.span("level").including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle, its share of the time as for sixteenths at the patch's tempo."""
    high = setting["level"] if ins[CLOCK_IN].hi_v >= THRESHOLD_V else 0.0
    share = min(0.5, setting["width"] / (quarter_s(setting.tempo_bpm) / 4.0))
    return [Level(0.0, high, high * share, high * math.sqrt(share * (1.0 - share)))]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """As many pulses as the clock's, in uneven pairs."""
    clock, reset = ins[CLOCK_IN], ins[RESET_IN]
    share = setting["swing"]
    if clock.beat is Beat.NONE:
        return [NO_PULSE]
    part = part_s(clock, setting.tempo_bpm, division=1)
    length_s = setting.span("width").lo
    if part is not None:
        length_s = min(length_s, (1.0 - share) * part)
    if share == 0.5:
        return [replace(clock, length_s=length_s if clock.beat is not Beat.PATTERN else None)]
    is_cut = reset.beat is not Beat.NONE
    if clock.beat is not Beat.STEADY or not clock.per_quarter or clock.chance < 1.0 or is_cut:
        return [IRREGULAR]
    return [Pulse(Beat.PATTERN, clock.per_quarter, 2 / clock.per_quarter, length_s)]


def delay(setting: Setting) -> list[Lag]:
    """Nothing for a first pulse; for a second one as with sixteenths at the patch's tempo."""
    sixteenth_s = quarter_s(setting.tempo_bpm) / 4.0
    latest_s = max(0.0, 2.0 * setting.span("swing").hi - 1.0) * sixteenth_s
    return [Lag("clock", "out", 0.0, latest_s), Lag("reset", "out", is_signal=False)]


KIND = Kind(
    name="swing",
    doc=__doc__,
    inputs=(
        Port("clock", "the straight pulses"),
        Port("reset", "makes the next pulse a first one", is_control=True),
    ),
    outputs=(Port("out", "the same pulses, every second one late"),),
    params=(
        Param("swing", "ratio", 0.5, 0.75, 0.5, "where the second of two pulses comes"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a pulse"),
        Param(
            "width", "s", 1e-4, 1.0, 0.005, "length of a pulse, at most half the way to the next"
        ),
    ),
    kernel=swing,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
