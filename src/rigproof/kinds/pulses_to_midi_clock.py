"""Pulses to MIDI clock: a clock from outside becomes 24 clock messages a quarter note, with start and stop.

`ppqn` says how many pulses the clock gives in a quarter note. The first message of each pulse goes out with it, the
others evenly in the clock's last period. Receivers count messages, so none is ever left out: when the clock speeds up,
those that have not gone by its next pulse go out at once before it, one a sample; when it slows down or stops they
wait. Before two pulses have come nothing is known, and the messages of the first period go out together at its end: let
the clock run in before you start. At 48 pulses a quarter every second one counts.

A rise of `run` sends start (or, with `resume` at continue, continue after the first time), a fall sends stop; the
clock messages go on all the while, as receivers like to know the tempo. The start goes out before a clock on the same
sample, and the clock that comes with it or next is the first beat.

Left out: the millisecond that a start should be ahead of its first clock (from memory), song position.

Source: 24 clocks a quarter note, 20.833333 ms apart at 120 BPM, start FA, continue FB, stop FC, clock F8: MIDI 1.0
Detailed Specification. Threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from rigproof.kinds import clock_tracking
from rigproof.kinds.base import (
    IRREGULAR,
    MIDI_CODES,
    NO_PULSE,
    SILENT,
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
    HIGH,
    PERIOD,
    SINCE,
    THRESHOLD_V,
    follow_clock,
    pass_time,
)
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.message_queue import COUNT, put_message, take_message
from rigproof.kinds.message_queue import SIZE as QUEUE_SIZE
from rigproof.kinds.midi_messages import CLOCK, CLOCKS_PER_QUARTER, CONTINUE, START, STOP
from rigproof.kinds.rhythms import pulses_of_steps

PPQN, RESUME = 1, 2
CLOCK_IN, RUN_IN = 0, 1
RUN_HIGH, NEXT, HAS_RUN, IS_SKIPPED, QUEUE = (
    clock_tracking.SIZE,
    clock_tracking.SIZE + 1,
    clock_tracking.SIZE + 2,
    clock_tracking.SIZE + 3,
    clock_tracking.SIZE + 4,
)
"""Run, number of the next message in the period (0: no clock yet), whether it ran before, whether the next of 48
pulses is left out, the queue."""
CHOICES = ("1", "2", "3", "4", "6", "8", "12", "24", "48")
"""Pulses a quarter note."""
TIMES = tuple(max(1, CLOCKS_PER_QUARTER // int(name)) for name in CHOICES)
"""Messages for one pulse that counts."""
EVERY_SECOND = len(CHOICES) - 1


def choice_of(ppqn: float) -> int:
    """Return a place in the list of choices."""
    return int(clamp(ppqn + 0.5, 0.0, len(CHOICES) - 1.0))


def is_owed(state: Any, times: float) -> bool:
    """Return whether the next message of the period is due."""
    is_next: bool = 0.0 < state[NEXT] < times and state[PERIOD] > 0.0
    return is_next and bool(state[SINCE] * times >= state[NEXT] * state[PERIOD])


def take_clock(state: Any, times: float) -> None:
    """Send what the last period still owes, then the first message of this one."""
    owed = int(times - state[NEXT]) if state[NEXT] > 0.0 else 0
    for _ in range(owed + 1):
        put_message(state, QUEUE, float(CLOCK))
    state[NEXT] = 1.0


def pulses_to_midi_clock(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Follow run and clock; send what is due, one message a sample."""
    clock_v, run_v = bus_v[ins[CLOCK_IN], start:stop], bus_v[ins[RUN_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    choice = choice_of(params[PPQN, 0])
    times = float(TIMES[choice])
    resumes = params[RESUME, 0] >= 0.5
    count = stop - start
    is_due = 0.0 < state[NEXT] < times and (state[SINCE] + count) * times >= (
        state[NEXT] * state[PERIOD]
    )
    if (
        state[QUEUE + COUNT] <= 0.0
        and not is_due
        and is_steady(clock_v, state[HIGH], THRESHOLD_V)
        and is_steady(run_v, state[RUN_HIGH], THRESHOLD_V)
    ):
        for n in range(count):
            out_v[n] = 0.0
        pass_time(state, count)
        return
    for n in range(count):
        run = schmitt(run_v[n], state[RUN_HIGH], THRESHOLD_V)
        if run > state[RUN_HIGH]:
            is_first = state[HAS_RUN] <= 0.0
            put_message(state, QUEUE, float(CONTINUE if resumes and not is_first else START))
            state[HAS_RUN] = 1.0
            state[IS_SKIPPED] = 0.0
        elif run < state[RUN_HIGH]:
            put_message(state, QUEUE, float(STOP))
        state[RUN_HIGH] = run
        if follow_clock(state, clock_v[n], 0.0):
            if choice < EVERY_SECOND or state[IS_SKIPPED] <= 0.0:
                take_clock(state, times)
            state[IS_SKIPPED] = 1.0 - state[IS_SKIPPED] if choice == EVERY_SECOND else 0.0
        elif is_owed(state, times):
            put_message(state, QUEUE, float(CLOCK))
            state[NEXT] += 1.0
        out_v[n] = take_message(state, QUEUE)


def prepare(setting: Setting) -> list[float]:
    """No clock yet, not running, an empty queue."""
    return [0.0] * (QUEUE + QUEUE_SIZE)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The clock messages: 24 for as many pulses of the clock as make a quarter note."""
    clock = ins[CLOCK_IN]
    choice = choice_of(setting["ppqn"])
    if clock.beat is Beat.NONE:
        return [NO_PULSE]
    if choice == EVERY_SECOND:
        return [pulses_of_steps([1, 0], clock, division=1)]
    times = TIMES[choice]
    if clock.chance < 1.0 and times > 1:
        return [IRREGULAR]
    if clock.beat is Beat.FREE and clock.hz is not None:
        return [replace(clock, hz=clock.hz * times, length_s=None)]
    if clock.per_quarter is None or clock.beat is Beat.IRREGULAR:
        return [IRREGULAR]
    if clock.beat is Beat.STEADY:
        return [Pulse.steady(clock.per_quarter * Fraction(times))]
    return [replace(clock, per_quarter=clock.per_quarter * times, length_s=None)]


KIND = Kind(
    name="pulses-to-midi-clock",
    doc=__doc__,
    inputs=(
        Port("clock", "the pulses to follow", is_control=True),
        Port("run", "a rise sends start, a fall sends stop", rest_v=5.0, is_control=True),
    ),
    outputs=(Port("out", "clock, start and stop messages", is_midi=True),),
    params=(
        Param(
            "ppqn",
            "ratio",
            0.0,
            len(CHOICES) - 1.0,
            float(CHOICES.index("4")),
            "pulses of the clock in a quarter note",
            CHOICES,
        ),
        Param(
            "resume",
            "ratio",
            0.0,
            1.0,
            0.0,
            "what a later rise of run sends",
            ("start", "continue"),
        ),
    ),
    kernel=pulses_to_midi_clock,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
