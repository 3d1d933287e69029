"""Clock multiplier: several pulses for each pulse of a clock from outside, evenly spaced in its last period.

The first of them comes with the clock's own pulse, at that very sample; until two clocks have come nothing is known and
only that one comes. A change of tempo is followed a pulse late: when the clock slows down, the pulses of one period
still come at the old pace and then wait for the clock; when it speeds up, those that have not come by then are dropped.
The count for each clock is therefore right again from the second period on.

`patience` is how many missed clocks are bridged at the old pace. With 0 the pulses stop a period after the last clock,
and any gap up to four periods is the new period. With 1 or more a gap of two or more periods is taken for missed clocks
and not for a slower tempo: halving the tempo at once then goes unnoticed. After a longer gap, the clock counts as
stopped, and only its own pulse comes until the next. A clock that comes just after a bridging pulse, within half of the
way to the next, does not fire a second time. A pulse is never longer than half the way to the next.

Left out: a smoothed tempo, which some multipliers keep against jitter; here each period follows the last one alone.

Source: definition; limits of patience are our choice, threshold of 1 V is common practice, no source.
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
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.clock_tracking import (
    GAP,
    HIGH,
    PERIOD,
    SINCE,
    THRESHOLD_V,
    follow_clock,
    pass_time,
)
from rigproof.kinds.edges import is_steady
from rigproof.kinds.rhythms import part_s

PATIENCE, LEVEL_V, WIDTH_S, TIMES = 1, 2, 3, 4
WAYS = clock_tracking.SIZE
NEXT, LEFT, LAST_TIMES, EACH = 0, 1, 2, 3
"""State of one output: number of its next pulse in the period, samples left of this one, what numbers them."""
MOST = 64.0
FRESH = 1e9
"""Number of the next pulse while no clock has come."""


def whole(value: float) -> float:
    """Return the nearest whole number from 1 to `MOST`."""
    return float(int(clamp(value, 1.0, MOST) + 0.5))


def pulse_length(width: float, part: float) -> float:
    """Return how long a pulse lasts, `part` being the way to the next, 0 while unknown. [samples]"""
    longest = 0.5 * part if part > 0.0 else width
    return max(1.0, math.floor(min(width, longest) + 0.5))


def take_clock(state: Any, at: int, times: float, width: float, old_period: float) -> None:
    """Begin a period: fire, unless a bridging pulse has just stood in for this clock."""
    part = old_period / times
    number = state[at + NEXT] - 1.0  # of the last one that came
    is_bridge = number >= times - 0.5 and number - times * math.floor(number / times + 1e-9) < 0.5
    is_done = (
        is_bridge
        and state[at + NEXT] < FRESH
        and part > 0.0
        and state[GAP] - number * part < 0.5 * part
    )
    state[at + NEXT] = 1.0
    state[at + LAST_TIMES] = times
    if not is_done:
        state[at + LEFT] = pulse_length(width, state[PERIOD] / times)


def sub_pulse(
    state: Any, at: int, since: float, times: float, patience: float, width: float
) -> float:
    """Return 1.0 while an output is high, firing what is due `since` samples after the clock."""
    period = state[PERIOD]
    if times != state[at + LAST_TIMES]:  # another multiple goes on from the next of its own pulses
        if state[at + NEXT] < FRESH and period > 0.0:
            state[at + NEXT] = max(1.0, math.ceil(since * times / period))
        state[at + LAST_TIMES] = times
    number = state[at + NEXT]
    is_due = number < times * (patience + 1.0) - 0.5 and since * times >= number * period
    if is_due and period > 0.0:
        state[at + NEXT] = number + 1.0
        state[at + LEFT] = pulse_length(width, period / times)
    if state[at + LEFT] > 0.0:
        state[at + LEFT] -= 1.0
        return 1.0
    return 0.0


def clock_multiplier(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Follow the clock; fire what is due on each output."""
    ways = outs.shape[0]
    clock_v = bus_v[ins[0], start:stop]
    patience = float(int(clamp(params[PATIENCE, 0], 0.0, 16.0) + 0.5))
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    width_step = params[WIDTH_S, 1] * params[RATE_HZ, 0]
    width = params[WIDTH_S, 0] * params[RATE_HZ, 0] + start * width_step
    if is_steady(clock_v, state[HIGH], THRESHOLD_V):
        since = state[SINCE] + 1.0
        for o in range(ways):
            at = WAYS + o * EACH
            times = whole(params[TIMES + o, 0])
            out_v = bus_v[outs[o], start:stop]
            for n in range(stop - start):
                high = sub_pulse(state, at, since + n, times, patience, width + n * width_step)
                out_v[n] = high * (level_v + n * level_step)
        pass_time(state, stop - start)
        return
    for n in range(stop - start):
        old_period = state[PERIOD]
        is_rise = follow_clock(state, clock_v[n], patience)
        for o in range(ways):
            at = WAYS + o * EACH
            times = whole(params[TIMES + o, 0])
            if is_rise:
                take_clock(state, at, times, width + n * width_step, old_period)
            high = sub_pulse(state, at, state[SINCE], times, patience, width + n * width_step)
            bus_v[outs[o], start + n] = high * (level_v + n * level_step)


def prepare(setting: Setting) -> list[float]:
    """No clock yet."""
    return [0.0] * WAYS + [FRESH, 0.0, 0.0] * setting.ways


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; always low where no clock comes."""
    if ins[0].hi < THRESHOLD_V:
        return [Span.point(0.0)] * setting.ways
    return [setting.span("level").including(0.0)] * setting.ways


def _lengths(setting: Setting) -> list[float]:
    return [float(whole(value)) for value in setting.all_values("times")]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle; of how long a share the level of a clock does not say, so one twentieth is taken, half at most."""
    high = setting["level"] if ins[0].hi_v >= THRESHOLD_V else 0.0
    shares = [min(0.5, 0.05 * times) for times in _lengths(setting)]
    return [Level(0.0, high, high * s, high * math.sqrt(s * (1.0 - s))) for s in shares]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """So many times the clock where it is even; behind an uneven one nobody can say, but for one times."""
    clock = ins[0]
    found = []
    for times in _lengths(setting):
        part = part_s(clock, setting.tempo_bpm, division=1, repeats=int(times))
        width = setting.span("width").lo
        length_s = min(width, 0.5 * part) if part is not None else None
        if clock.beat is Beat.NONE:
            found.append(NO_PULSE)
        elif times == 1.0 and (clock.chance == 1.0 or setting["patience"] < 0.5):
            length_s = length_s if clock.beat is not Beat.PATTERN else None
            found.append(replace(clock, length_s=length_s))
        elif clock.chance < 1.0:
            found.append(IRREGULAR)
        elif clock.beat is Beat.STEADY and clock.per_quarter:
            found.append(Pulse.steady(clock.per_quarter * int(times), length_s=length_s))
        elif clock.beat is Beat.FREE and clock.hz:
            found.append(replace(clock, hz=clock.hz * times, length_s=length_s))
        else:
            found.append(IRREGULAR)
    return found


KIND = Kind(
    name="clock-multiplier",
    doc=__doc__,
    inputs=(Port("clock", "the clock from outside", is_control=True),),
    outputs=(Port("out", "so many pulses for each of the clock", many=True),),
    params=(
        Param("patience", "steps", 0.0, 16.0, 0.0, "missed clocks that are bridged"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a pulse"),
        Param(
            "width", "s", 1e-4, 1.0, 0.005, "length of a pulse, at most half the way to the next"
        ),
        Param("times", "steps", 1.0, MOST, 2.0, "pulses for each of the clock", many=True),
    ),
    kernel=clock_multiplier,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 8, 2),
)
