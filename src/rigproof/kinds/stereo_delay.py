"""Stereo delay: an echo for each side, locked to a clock or free, with a darker repeat each time round.

Locked (`sync` clock), each side repeats after its own note length of the measured clock, which gives `ppqn` pulses a
quarter note: the mean of up to 64 periods, an even number of them so that swing cancels, begun anew when a period
differs from the last but one, or a pair from the mean, by more than half a percent. When the clock stops, the last
tempo holds; before the first two pulses the patch's tempo does. Free, both sides repeat after `time`, halved by every
volt at the time CV. Times stop at the memory's end, `longest`. An echo comes whole samples late, at most one sample
off; a new time is cross-faded in over 10 ms, without a slide in pitch.

Feedback is the knob plus a fifth of the CV's volts, 0 to 1.1. On its way round the sound passes a 6 dB/octave low pass
(`tone`) and a soft clip from 6 V on that stays below 11 V, so that feedback over 1 sings and does not run away.
Crossed, each side feeds the other. The first echo is untouched. Memory size counts from the start; it does not move.

Left out: noise and drift of an analogue delay, tape wobble, the converters' own delay.

Source: 60 s over the tempo is a quarter note; first-order low pass (Horowitz & Hill, The Art of Electronics, 3rd ed.
(2015), ch. 1); the rest is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from math import exp, tanh
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Lag, Level, Param, Port, Setting, Span, mixed
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.units import quarter_s

NOTES: dict[str, Fraction] = {
    "1/32": Fraction(1, 8),
    "1/16 triplet": Fraction(1, 6),
    "1/16": Fraction(1, 4),
    "1/8 triplet": Fraction(1, 3),
    "dotted 1/16": Fraction(3, 8),
    "1/8": Fraction(1, 2),
    "1/4 triplet": Fraction(2, 3),
    "dotted 1/8": Fraction(3, 4),
    "1/4": Fraction(1),
    "1/2 triplet": Fraction(4, 3),
    "dotted 1/4": Fraction(3, 2),
    "1/2": Fraction(2),
    "dotted 1/2": Fraction(3),
    "1/1": Fraction(4),
}
"""Note lengths in quarter notes."""
NOTE_NAMES = tuple(NOTES)
NOTE_QUARTERS = tuple(float(quarters) for quarters in NOTES.values())

SYNC, BEATS_LEFT, BEATS_RIGHT, PPQN, TIME_S = 1, 2, 3, 4, 5
FEEDBACK, MIX, TONE_HZ, CROSSED, LONGEST_S = 6, 7, 8, 9, 10
LEFT_IN, RIGHT_IN, CLOCK_IN, TIME_IN, FEEDBACK_IN = 0, 1, 2, 3, 4

CLOCK_HIGH, HAS_CLOCK, SINCE, GAPS, NEXT_GAP, GAPS_SUM, TIME_V, SHORTER, ROOM, WRITE = (
    0, 1, 2, 3, 4, 5, 6, 7, 8, 9,
)  # fmt: skip
SIDES = 10
NOW, COMING, FADE, LOW = 0, 1, 2, 3
EACH_SIDE = 4
"""State of a side: its delay and the coming one, samples left of the fade between them, the low pass."""
RING = SIDES + 2 * EACH_SIDE
MOST_GAPS = 64
MEMORY = RING + MOST_GAPS

THRESHOLD_V = 1.0
"""The clock is high from here up. Common practice, no source. [V]"""
FULL_V = 5.0
"""A feedback CV of this much adds 1. Common practice, no source. [V]"""
MOST_FEEDBACK = 1.1
FADE_S = 0.01
"""Cross-fade from one time to another. Our choice. [s]"""
STEADY_RATIO = 0.005
STEADY_SAMPLES = 1.5
"""A clock period that differs by more than both from what was expected is a new tempo. Our choice."""
MOVES_SAMPLES = 0.7
"""A time that lies less than this from the delay in use leaves it alone: it would come out as the same or the next
whole sample. Our choice."""
KNEE_V = 6.0
LN_2 = math.log(2.0)


def soft_clip(value_v: float) -> float:
    """Return the value up to the knee, and beyond it bent so that it stays below the rail."""
    if value_v > KNEE_V:
        return KNEE_V + (RAIL_V - KNEE_V) * tanh((value_v - KNEE_V) / (RAIL_V - KNEE_V))
    if value_v < -KNEE_V:
        return -KNEE_V + (RAIL_V - KNEE_V) * tanh((value_v + KNEE_V) / (RAIL_V - KNEE_V))
    return value_v


def past_gap(state: Any, back: int) -> float:
    """Return a clock period measured before, `back` 1 being the last."""
    return float(state[RING + (int(state[NEXT_GAP]) - back + MOST_GAPS) % MOST_GAPS])


def is_new_tempo(gap: float, expected: float) -> bool:
    """Return whether a clock period is not the one that was expected."""
    away = abs(gap - expected)
    return away > STEADY_SAMPLES and away > STEADY_RATIO * expected


def note_gap(state: Any) -> None:
    """Take the time since the last clock into the mean, or begin the mean anew."""
    gap = state[SINCE]
    count = state[GAPS]
    if count > 1.0 and is_new_tempo(gap, past_gap(state, 2)):
        count = 0.0
        state[GAPS_SUM] = 0.0
    if count > 1.0 and is_new_tempo((gap + past_gap(state, 1)) / 2.0, mean_gap(state)):
        count = 1.0  # it has crept away: only the last one is worth keeping
        state[GAPS_SUM] = past_gap(state, 1)
    if count >= MOST_GAPS:
        state[GAPS_SUM] -= past_gap(state, MOST_GAPS)
    else:
        count += 1.0
    state[RING + int(state[NEXT_GAP])] = gap
    state[GAPS_SUM] += gap
    state[GAPS] = count
    state[NEXT_GAP] = float((int(state[NEXT_GAP]) + 1) % MOST_GAPS)


def mean_gap(state: Any) -> float:
    """Return the clock period: the mean of the last even number of them, so that swing cancels."""
    count = int(state[GAPS])
    if count > 1 and count % 2 == 1:
        return float((state[GAPS_SUM] - past_gap(state, count)) / (count - 1))
    return float(state[GAPS_SUM] / max(1, count))


def wanted_delay(params: Any, state: Any, side: int, free: float) -> float:
    """Return how late the echo of a side should be: by the clock, else `free`. [samples]"""
    wanted = free
    if params[SYNC, 0] < 0.5:
        wanted = state[SIDES + side * EACH_SIDE + NOW]
        if state[GAPS] > 0.0:
            quarters = NOTE_QUARTERS[int(clamp(params[BEATS_LEFT + side, 0], 0.0, 13.0) + 0.5)]
            wanted = quarters * params[PPQN, 0] * mean_gap(state)
    return clamp(wanted, 1.0, state[ROOM] - 1.0)


def is_even(bus_v: Any, ins: Any, params: Any, state: Any, start: int, stop: int) -> bool:
    """Return whether nothing moves the echoes' times over these columns, and no side is fading."""
    moved = 0
    time_v = bus_v[ins[TIME_IN], start:stop]
    last_v = state[TIME_V]
    for n in range(stop - start):
        moved |= int(clamp(time_v[n], -RAIL_V, RAIL_V) != last_v)
    free = params[TIME_S, 0] * params[RATE_HZ, 0] * state[SHORTER]
    for side in range(2):
        here = SIDES + side * EACH_SIDE
        moved |= int(state[here + FADE] > 0.0)
        away = abs(wanted_delay(params, state, side, free) - state[here + NOW])
        moved |= int(away > MOVES_SAMPLES)
    return (
        moved == 0
        and params[TIME_S, 1] == 0.0
        and is_steady(bus_v[ins[CLOCK_IN], start:stop], state[CLOCK_HIGH], THRESHOLD_V)
    )


def repeat_evenly(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int, opening: float
) -> None:
    """Do what `stereo_delay` does, as long as the times stand still."""
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    steer_v = bus_v[ins[FEEDBACK_IN], start:stop]
    left_out_v, right_out_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    feedback_0, feedback_step = params[FEEDBACK, 0], params[FEEDBACK, 1]
    mix_0, mix_step = params[MIX, 0], params[MIX, 1]
    is_crossed = params[CROSSED, 0] > 0.5
    room = int(state[ROOM])
    left_memory = state[MEMORY : MEMORY + room]
    right_memory = state[MEMORY + room : MEMORY + 2 * room]
    write = int(state[WRITE])
    left_read = write - int(state[SIDES + NOW])
    left_read = left_read + room if left_read < 0 else left_read
    right_read = write - int(state[SIDES + EACH_SIDE + NOW])
    right_read = right_read + room if right_read < 0 else right_read
    left_low, right_low = state[SIDES + LOW], state[SIDES + EACH_SIDE + LOW]
    for n in range(stop - start):
        steer = feedback_0 + (start + n) * feedback_step
        steer += clamp(steer_v[n], -RAIL_V, RAIL_V) / FULL_V
        feedback = clamp(steer, 0.0, MOST_FEEDBACK)
        mix = clamp(mix_0 + (start + n) * mix_step, 0.0, 1.0)
        left_tap = left_memory[left_read]
        right_tap = right_memory[right_read]
        left = clamp(left_v[n], -RAIL_V, RAIL_V)
        right = clamp(right_v[n], -RAIL_V, RAIL_V)
        left_out_v[n] = clamp((1.0 - mix) * left + mix * left_tap, -RAIL_V, RAIL_V)
        right_out_v[n] = clamp((1.0 - mix) * right + mix * right_tap, -RAIL_V, RAIL_V)
        left_low = settle(left_low + opening * (left_tap - left_low))
        right_low = settle(right_low + opening * (right_tap - right_low))
        left_round = right_low if is_crossed else left_low
        right_round = left_low if is_crossed else right_low
        left_memory[write] = settle(soft_clip(left + feedback * left_round))
        right_memory[write] = settle(soft_clip(right + feedback * right_round))
        write = write + 1 if write + 1 < room else 0
        left_read = left_read + 1 if left_read + 1 < room else 0
        right_read = right_read + 1 if right_read + 1 < room else 0
    state[WRITE] = float(write)
    state[SIDES + LOW] = left_low
    state[SIDES + EACH_SIDE + LOW] = right_low
    state[SINCE] += stop - start


def stereo_delay(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Read both taps, fade to a new time, write what comes in and what comes round."""
    rate_hz = params[RATE_HZ, 0]
    room = int(state[ROOM])
    fade_samples = max(1.0, float(math.floor(FADE_S * rate_hz)))
    tone_hz = clamp(params[TONE_HZ, 0], 1.0, 0.5 * rate_hz)
    opening = 1.0 - exp(-2.0 * math.pi * tone_hz / rate_hz)
    if is_even(bus_v, ins, params, state, start, stop):
        repeat_evenly(bus_v, ins, outs, params, state, start, stop, opening)
        return
    is_crossed = params[CROSSED, 0] > 0.5
    for n in range(start, stop):
        high = schmitt(bus_v[ins[CLOCK_IN], n], state[CLOCK_HIGH], THRESHOLD_V)
        state[SINCE] += 1.0
        if high > state[CLOCK_HIGH]:
            if state[HAS_CLOCK] > 0.0:
                note_gap(state)
            state[HAS_CLOCK] = 1.0
            state[SINCE] = 0.0
        state[CLOCK_HIGH] = high
        time_v = clamp(bus_v[ins[TIME_IN], n], -RAIL_V, RAIL_V)
        if time_v != state[TIME_V]:
            state[TIME_V] = time_v
            state[SHORTER] = exp(-LN_2 * time_v)
        free = (params[TIME_S, 0] + n * params[TIME_S, 1]) * rate_hz * state[SHORTER]
        feedback = clamp(
            params[FEEDBACK, 0]
            + n * params[FEEDBACK, 1]
            + clamp(bus_v[ins[FEEDBACK_IN], n], -RAIL_V, RAIL_V) / FULL_V,
            0.0,
            MOST_FEEDBACK,
        )
        mix = clamp(params[MIX, 0] + n * params[MIX, 1], 0.0, 1.0)
        write = int(state[WRITE])
        for side in range(2):
            here = SIDES + side * EACH_SIDE
            wanted = wanted_delay(params, state, side, free)
            if state[FADE + here] <= 0.0 and abs(wanted - state[NOW + here]) > MOVES_SAMPLES:
                state[COMING + here] = float(math.floor(wanted + 0.5))
                state[FADE + here] = fade_samples
            memory = MEMORY + side * room
            tap = state[memory + (write - int(state[NOW + here]) + room) % room]
            if state[FADE + here] > 0.0:
                coming = state[memory + (write - int(state[COMING + here]) + room) % room]
                state[FADE + here] -= 1.0
                share = state[FADE + here] / fade_samples
                tap = share * tap + (1.0 - share) * coming
                if state[FADE + here] <= 0.0:
                    state[NOW + here] = state[COMING + here]
            dry = clamp(bus_v[ins[LEFT_IN + side], n], -RAIL_V, RAIL_V)
            bus_v[outs[side], n] = clamp((1.0 - mix) * dry + mix * tap, -RAIL_V, RAIL_V)
            state[LOW + here] = settle(state[LOW + here] + opening * (tap - state[LOW + here]))
        for side in range(2):
            source = 1 - side if is_crossed else side
            dry = clamp(bus_v[ins[LEFT_IN + side], n], -RAIL_V, RAIL_V)
            round_v = feedback * state[SIDES + source * EACH_SIDE + LOW]
            state[MEMORY + side * room + write] = settle(soft_clip(dry + round_v))
        state[WRITE] = float((write + 1) % room)


def _room(setting: Setting) -> int:
    return math.ceil(setting["longest"] * setting.rate_hz) + 1


def _samples(setting: Setting, side: str) -> int:
    """Return the delay of a side at the patch's tempo, in whole samples."""
    wanted_s = setting["time"]
    if round(setting["sync"]) == 0:
        wanted_s = quarter_s(setting.tempo_bpm) * NOTE_QUARTERS[round(setting[f"beats-{side}"])]
    return min(max(math.floor(wanted_s * setting.rate_hz + 0.5), 1), _room(setting) - 1)


def prepare(setting: Setting) -> Any:
    """Empty memory, and the times that the patch's tempo gives until the clock has been measured."""
    import numpy as np

    state = np.zeros(MEMORY + 2 * _room(setting))
    state[SHORTER] = 1.0
    state[ROOM] = _room(setting)
    for i, side in enumerate(("left", "right")):
        state[SIDES + i * EACH_SIDE + NOW] = _samples(setting, side)
        state[SIDES + i * EACH_SIDE + COMING] = _samples(setting, side)
    return state


def _memory_span(ins: Sequence[Span], feedback: float) -> Span:
    """Return what the memory can hold: geometric series of what comes in, never beyond the soft clip."""
    hi = max(0.0, *(x.hi for x in ins))
    lo = min(0.0, *(x.lo for x in ins))
    if feedback < 1.0:
        return Span(lo / (1.0 - feedback), hi / (1.0 - feedback)).clipped(-RAIL_V, RAIL_V)
    return Span(-RAIL_V if lo < 0.0 else 0.0, RAIL_V if hi > 0.0 else 0.0)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and wet by the mix; neither the low pass nor a cross-fade leaves what the memory holds."""
    sides = [x.clipped(-RAIL_V, RAIL_V) for x in ins[:2]]
    by_cv = ins[FEEDBACK_IN].clipped(-RAIL_V, RAIL_V).scaled(1.0 / FULL_V)
    feedback = (setting.span("feedback") + by_cv).clipped(0.0, MOST_FEEDBACK).hi
    crossed = setting.span("path").hi > 0.5
    mix = setting.span("mix")
    found = []
    for dry in sides:
        wet = _memory_span(sides if crossed else [dry], feedback)
        ends = [dry.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
        found.append(ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V))
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Echoes are unlike what they repeat: their powers add, up to the soft clip."""
    cv = ins[FEEDBACK_IN].dc_v / FULL_V
    feedback = min(max(setting["feedback"] + cv, 0.0), MOST_FEEDBACK)
    crossed = round(setting["path"]) == 1
    mix = setting["mix"]
    found = []
    for side in range(2):
        first = ins[side]
        heard = mixed([ins[0].scaled(0.5), ins[1].scaled(0.5)]) if crossed else first
        ends = [Span(x.lo_v, x.hi_v) for x in (ins[:2] if crossed else (first,))]
        room = _memory_span(ends, feedback)
        if feedback >= 1.0:
            # It sings: all the room is used, evenly.
            wet = Level(room.lo, room.hi, (room.lo + room.hi) / 2.0, room.width / math.sqrt(8.0))
        else:
            again = 1.0 / (1.0 - feedback) - 1.0
            power = 1.0 / (1.0 - feedback**2) - 1.0
            wet = Level(
                room.lo,
                room.hi,
                first.dc_v + heard.dc_v * again,
                math.hypot(first.rms_v, heard.rms_v * math.sqrt(power)),
            ).clipped(room.lo, room.hi)
        found.append(mixed([first.scaled(1.0 - mix), wet.scaled(mix)]).clipped(-RAIL_V, RAIL_V))
    return found


def delay(setting: Setting) -> list[Lag]:
    """The first echo of each side in whole samples, at the patch's tempo; dry sound comes at once."""
    times = {side: _samples(setting, side) / setting.rate_hz for side in ("left", "right")}
    found = []
    for side, time_s in times.items():
        lo_s = 0.0 if setting.span("mix").lo < 1.0 else time_s
        hi_s = time_s if setting.span("mix").hi > 0.0 else 0.0
        found.append(Lag(side, side, lo_s, hi_s))
    if round(setting["path"]) == 1:
        both = sum(times.values())
        found += [Lag("left", "right", both, both), Lag("right", "left", both, both)]
    found += [
        Lag(steering, side, is_signal=False)
        for steering in ("clock", "time", "feedback")
        for side in times
    ]
    return found


KIND = Kind(
    name="stereo-delay",
    doc=__doc__,
    inputs=(
        Port("left", "what is repeated"),
        Port("right", "what is repeated"),
        Port("clock", "the clock that sets the times", is_control=True),
        Port("time", "a volt halves the free time", is_control=True),
        Port("feedback", "5 V add 1 to the feedback", is_control=True),
    ),
    outputs=(Port("left", "dry and echoes"), Port("right", "dry and echoes")),
    params=(
        Param("sync", "ratio", 0.0, 1.0, 0.0, "what sets the times", choices=("clock", "free")),
        Param("beats-left", "ratio", 0.0, 13.0, 7.0, "note length of the left side", NOTE_NAMES),
        Param("beats-right", "ratio", 0.0, 13.0, 8.0, "note length of the right side", NOTE_NAMES),
        Param("ppqn", "steps", 0.25, 96.0, 4.0, "pulses a quarter note at the clock input"),
        Param("time", "s", 0.001, 20.0, 0.375, "free time"),
        Param("feedback", "ratio", 0.0, MOST_FEEDBACK, 0.4, "share that comes round again"),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 1 only echoes"),
        Param("tone", "Hz", 100.0, 20_000.0, 6_000.0, "low pass of each time round"),
        Param(
            "path", "ratio", 0.0, 1.0, 0.0, "how sides feed back", choices=("straight", "crossed")
        ),
        Param("longest", "s", 0.05, 20.0, 2.0, "memory"),
    ),
    kernel=stereo_delay,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
