"""MIDI clock to pulses: 24 clock messages a quarter note become pulses, each output with its own number a quarter.

Start sets the count to the beginning, and the next clock message is the first beat: every output fires with it. Stop
ends the pulses, continue goes on where it was, a song position (in sixteenths) moves the count. `stopped` says whether
clock messages that come while it is stopped make pulses too. `run` is high from start or continue to stop; `reset`
gives a trigger at start, before the first clock. Pulses are as even as the messages come: a shared line makes them
late. A pulse lasts `width`, at most half the way to the next as last measured.

Left out: the smoothing that some converters put against uneven messages.

Source: 24 clocks a quarter note, start, continue, stop, song position in sixteenths of 6 clocks: MIDI 1.0 Detailed
Specification; that the first clock after start is the first beat, from memory. Length of a pulse: our choice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from rigproof.kinds.base import (
    NO_PULSE,
    RATE_HZ,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.midi_messages import (
    CLOCK,
    CLOCKS_PER_BEAT,
    CLOCKS_PER_QUARTER,
    CONTINUE,
    SONG_POSITION,
    START,
    STOP,
    data1_of,
    data2_of,
    is_quiet,
    message_bytes,
    status_of,
)
from rigproof.kinds.rhythms import pulses_of_steps
from rigproof.units import quarter_s

STOPPED, LEVEL_V, WIDTH_S, PPQN = 1, 2, 3, 4
IS_RUNNING, POSITION, SINCE, PERIOD, HAS_CLOCK, RESET_LEFT, LEFT = 0, 1, 2, 3, 4, 5, 6
LONGEST = 1e9
"""Samples after which nobody counts any more."""
CHOICES = ("24", "12", "8", "6", "4", "3", "2", "3/2", "1", "3/4", "1/2", "1/4", "1/8", "1/16")
"""Pulses a quarter note."""
CLOCKS_EACH = tuple(int(CLOCKS_PER_QUARTER / Fraction(name)) for name in CHOICES)
"""Clock messages for one pulse."""
TURN = 384.0
"""Clock messages after which every output is back at its first pulse."""


def clocks_each(ppqn: float) -> int:
    """Return the clock messages for one pulse, for a place in the list of choices."""
    return CLOCKS_EACH[int(clamp(ppqn + 0.5, 0.0, len(CLOCKS_EACH) - 1.0))]


def hear_message(state: Any, message: float, width: float) -> bool:
    """Do what a message says; return whether it is a clock."""
    status = status_of(message)
    if status == CLOCK:
        if state[HAS_CLOCK] > 0.0 and state[SINCE] < LONGEST:
            state[PERIOD] = state[SINCE]
        state[HAS_CLOCK] = 1.0
        state[SINCE] = 0.0
        return True
    if status == START:
        state[IS_RUNNING] = 1.0
        state[POSITION] = TURN - 1.0
        state[RESET_LEFT] = width
    elif status == CONTINUE:
        state[IS_RUNNING] = 1.0
    elif status == STOP:
        state[IS_RUNNING] = 0.0
    elif status == SONG_POSITION:
        sixteenths = data1_of(message) + 128.0 * data2_of(message)
        state[POSITION] = (CLOCKS_PER_BEAT * sixteenths + TURN - 1.0) % TURN
    return False


def midi_clock_to_pulses(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Count clock messages; fire the outputs whose turn it is."""
    ways = outs.shape[0] - 2
    in_v = bus_v[ins[0], start:stop]
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    width = max(1.0, math.floor(params[WIDTH_S, 0] * params[RATE_HZ, 0] + 0.5))
    plays_stopped = params[STOPPED, 0] >= 0.5
    quiet = is_quiet(in_v)
    is_idle = quiet and state[RESET_LEFT] <= 0.0
    for o in range(ways):
        is_idle = is_idle and state[LEFT + o] <= 0.0
    if is_idle:
        for o in range(ways + 2):
            out_v = bus_v[outs[o], start:stop]
            high = state[IS_RUNNING] if o == ways else 0.0
            for n in range(stop - start):
                out_v[n] = high * (level_v + n * level_step)
        state[SINCE] = min(state[SINCE] + (stop - start), LONGEST)
        return
    for n in range(stop - start):
        state[SINCE] = min(state[SINCE] + 1.0, LONGEST)
        is_clock = False
        if not quiet and in_v[n] != 0.0 and message_bytes(in_v[n]) > 0:
            is_clock = hear_message(state, in_v[n], width)
        plays = is_clock and (state[IS_RUNNING] > 0.0 or plays_stopped)
        if plays:
            state[POSITION] = (state[POSITION] + 1.0) % TURN
        high_v = level_v + n * level_step
        for o in range(ways):
            if plays:
                each = clocks_each(params[PPQN + o, 0])
                if int(state[POSITION]) % each == 0:
                    longest = 0.5 * each * state[PERIOD] if state[PERIOD] > 0.0 else width
                    state[LEFT + o] = max(1.0, math.floor(min(width, longest) + 0.5))
            is_high = state[LEFT + o] > 0.0
            bus_v[outs[o], start + n] = high_v if is_high else 0.0
            state[LEFT + o] = max(0.0, state[LEFT + o] - 1.0)
        bus_v[outs[ways], start + n] = high_v if state[IS_RUNNING] > 0.0 else 0.0
        bus_v[outs[ways + 1], start + n] = high_v if state[RESET_LEFT] > 0.0 else 0.0
        state[RESET_LEFT] = max(0.0, state[RESET_LEFT] - 1.0)


def prepare(setting: Setting) -> list[float]:
    """Stopped, before the first beat."""
    return [0.0, TURN - 1.0, 0.0, 0.0, 0.0, 0.0, *[0.0] * setting.ways]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high is the level."""
    return [setting.span("level").including(0.0)] * (setting.ways + 2)


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle, its share of the time as at the patch's tempo; run is high while it plays."""
    high = setting["level"]
    found = []
    for value in setting.all_values("ppqn"):
        gap_s = quarter_s(setting.tempo_bpm) * clocks_each(value) / CLOCKS_PER_QUARTER
        share = min(0.5, setting["width"] / gap_s)
        found.append(Level(0.0, high, high * share, high * math.sqrt(share * (1.0 - share))))
    return [*found, Level(0.0, high, high, 0.0), Level(0.0, high, 0.0, 0.0)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One pulse for so many of the clock messages that come, while it runs."""
    found = []
    for value in setting.all_values("ppqn"):
        each = clocks_each(value)
        length_s = setting.span("width").lo
        if ins[0].per_quarter:
            gap_s = quarter_s(setting.tempo_bpm) / float(ins[0].per_quarter) * each
            length_s = min(length_s, 0.5 * gap_s)
        found.append(pulses_of_steps([1, *[0] * (each - 1)], ins[0], division=1, length_s=length_s))
    return [*found, NO_PULSE, NO_PULSE]


KIND = Kind(
    name="midi-clock-to-pulses",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(
        Port("out", "so many pulses a quarter note", many=True),
        Port("run", "high from start to stop"),
        Port("reset", "a trigger at start"),
    ),
    params=(
        Param("stopped", "ratio", 0.0, 1.0, 0.0, "clocks while stopped", ("silent", "pulses")),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a pulse"),
        Param(
            "width", "s", 1e-4, 1.0, 0.005, "length of a pulse, at most half the way to the next"
        ),
        Param(
            "ppqn",
            "ratio",
            0.0,
            len(CHOICES) - 1.0,
            float(CHOICES.index("4")),
            "pulses a quarter note",
            CHOICES,
            many=True,
        ),
    ),
    kernel=midi_clock_to_pulses,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 8, 2),
)
