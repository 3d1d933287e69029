"""Clock divider: every so many pulses of a clock, on any number of outputs, each with its own division.

`begins` says on which pulse an output fires after the start and after a reset: the first, then every `division`; or the
last of each `division`. A reset on the same sample as a clock comes first. With `shape` at clock an output is high as
long as the pulse that fires it; at half it is high for half of its pulses, rounded up (by one it copies the clock). A
division that is changed while it plays goes on counting from where it is.

Left out: the delay of the counter (nanoseconds).

Source: definition; threshold of 1 V and what fires first are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
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
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.rhythms import cut_by_reset, part_s, pulses_of_steps

BEGINS, SHAPE, LEVEL_V, DIVISION = 1, 2, 3, 4
CLOCK_IN, RESET_IN = 0, 1
CLOCK_HIGH, RESET_HIGH, WAYS = 0, 1, 2
PLACE, IS_ON, EACH = 0, 1, 2
"""State of one output: pulses since it fired (-1: the next one fires), whether it is open."""
FIRST, LAST = 0, 1
CLOCK, HALF = 0, 1
MOST = 256.0
THRESHOLD_V = 1.0
"""Clock and reset are high from here up. Common practice, no source. [V]"""


def whole(value: float) -> float:
    """Return the nearest whole number from 1 to `MOST`."""
    return float(int(clamp(value, 1.0, MOST) + 0.5))


def count_pulse(state: Any, at: int, division: float, is_half: bool) -> None:
    """Count one pulse of the clock for the output whose state begins at `at`."""
    place = state[at + PLACE] + 1.0
    if place >= division:
        place = 0.0
    state[at + PLACE] = place
    longest = math.floor((division + 1.0) / 2.0) if is_half else 1.0
    state[at + IS_ON] = 1.0 if place < longest else 0.0


def clock_divider(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Count at every rise; between rises nothing changes but the clock's own fall."""
    ways = outs.shape[0]
    clock_v, reset_v = bus_v[ins[CLOCK_IN], start:stop], bus_v[ins[RESET_IN], start:stop]
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    is_half = params[SHAPE, 0] >= 0.5
    fresh = 0.0 if params[BEGINS, 0] >= 0.5 else -1.0
    clock, reset = state[CLOCK_HIGH], state[RESET_HIGH]
    if is_steady(clock_v, clock, THRESHOLD_V) and is_steady(reset_v, reset, THRESHOLD_V):
        for o in range(ways):
            out_v = bus_v[outs[o], start:stop]
            holds = is_half and whole(params[DIVISION + o, 0]) > 1.5
            is_high = state[WAYS + o * EACH + IS_ON] > 0.0 and (holds or clock > 0.0)
            high = 1.0 if is_high else 0.0
            for n in range(stop - start):
                out_v[n] = high * (level_v + n * level_step)
        return
    for n in range(stop - start):
        next_clock = schmitt(clock_v[n], clock, THRESHOLD_V)
        next_reset = schmitt(reset_v[n], reset, THRESHOLD_V)
        is_reset = next_reset > reset
        is_clock = next_clock > clock
        clock = next_clock
        reset = next_reset
        for o in range(ways):
            at = WAYS + o * EACH
            division = whole(params[DIVISION + o, 0])
            if is_reset:
                state[at + PLACE] = fresh
                state[at + IS_ON] = 0.0
            if is_clock:
                count_pulse(state, at, division, is_half)
            holds = is_half and division > 1.5
            is_high = state[at + IS_ON] > 0.0 and (holds or clock > 0.0)
            bus_v[outs[o], start + n] = level_v + n * level_step if is_high else 0.0
    state[CLOCK_HIGH] = clock
    state[RESET_HIGH] = reset


def prepare(setting: Setting) -> list[float]:
    """Wait for the first pulse."""
    fresh = 0.0 if setting["begins"] >= 0.5 else -1.0
    return [0.0, 0.0, *[fresh, 0.0] * setting.ways]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; always low where no clock comes."""
    if ins[CLOCK_IN].hi < THRESHOLD_V:
        return [Span.point(0.0)] * setting.ways
    return [setting.span("level").including(0.0)] * setting.ways


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle: half-wave for its share, else the clock's share of the time over the division."""
    high = setting["level"]
    clock = ins[CLOCK_IN]
    if clock.hi_v < THRESHOLD_V:
        return [Level()] * setting.ways
    width = clock.hi_v - clock.lo_v
    duty = clamp((clock.dc_v - clock.lo_v) / width, 0.0, 1.0) if width > 0.0 else 1.0
    found = []
    for value in setting.all_values("division"):
        division = whole(value)
        share = duty / division
        if setting["shape"] >= 0.5 and division > 1.5:
            share = math.floor((division + 1.0) / 2.0) / division
        found.append(Level(0.0, high, high * share, high * math.sqrt(share * (1.0 - share))))
    return found


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One pulse for every `division` of the clock, cut where resets begin the count anew."""
    clock, reset = ins[CLOCK_IN], ins[RESET_IN]
    is_last = setting["begins"] >= 0.5
    found = []
    for value in setting.all_values("division"):
        division = int(whole(value))
        if clock.beat is Beat.NONE:
            found.append(NO_PULSE)
            continue
        if division > 1 and clock.chance < 1.0:
            found.append(IRREGULAR)  # which of the pulses come is not known, so neither which fires
            continue
        rests = [0] * (division - 1)
        steps = cut_by_reset([*rests, 1] if is_last else [1, *rests], clock, reset, 1)
        if steps is None:
            found.append(IRREGULAR)
            continue
        length_s = clock.length_s
        if setting["shape"] >= 0.5 and division > 1:
            part = part_s(clock, setting.tempo_bpm, division=(division + 1) // 2)
            length_s = part if clock.beat is not Beat.PATTERN and reset.beat is Beat.NONE else None
        found.append(pulses_of_steps(steps, clock, division=1, length_s=length_s))
    return found


KIND = Kind(
    name="clock-divider",
    doc=__doc__,
    inputs=(
        Port("clock", "the pulses to count", is_control=True),
        Port("reset", "a rise begins the count anew", is_control=True),
    ),
    outputs=(Port("out", "one pulse for every so many", many=True),),
    params=(
        Param(
            "begins", "ratio", 0.0, 1.0, 0.0, "which pulse of each count fires", ("first", "last")
        ),
        Param("shape", "ratio", 0.0, 1.0, 0.0, "how long an output is high", ("clock", "half")),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a pulse"),
        Param("division", "steps", 1.0, MOST, 2.0, "pulses of the clock for one", many=True),
    ),
    kernel=clock_divider,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 8, 4),
)
