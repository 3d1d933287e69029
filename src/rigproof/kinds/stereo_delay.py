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
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Lag, Level, Param, Port, Setting, Span, mixed
from rigproof.kinds.clipping import clamp, limit, settle
from rigproof.kinds.edges import schmitt, steady_samples
from rigproof.kinds.elementary import two_to
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

CLOCK_HIGH, HAS_CLOCK, SINCE, GAPS, NEXT_GAP, GAPS_SUM, ROOM, WRITE = range(8)
SIDES = 8
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
HALF = 0.5001
"""From here up a part of a sample counts as a whole one; a little over a half, so that a time that lies half way but
for its rounding always goes the same way."""
KNEE_V = 6.0
TWICE_IN_OCTAVES = 2.0 / math.log(2.0)


def soft_clip(value_v: float) -> float:
    """Return the value up to the knee, and beyond it bent by a tanh so that it stays below the rail; up to 60 V.

    tanh t is 1 - 2 / (e^(2t) + 1), here within 1e-12 V of the library's and without a branch.
    """
    size_v = abs(value_v)
    over = (size_v - KNEE_V) / (RAIL_V - KNEE_V) if size_v > KNEE_V else 0.0
    bent = 1.0 - 2.0 / (two_to(TWICE_IN_OCTAVES * over) + 1.0)
    size_v = limit(size_v, 0.0, KNEE_V) + (RAIL_V - KNEE_V) * bent
    return -size_v if value_v < 0.0 else size_v


def past_gap(state: Any, back: int) -> float:
    """Return a clock period measured before, `back` 1 being the last."""
    return float(state[RING + (int(state[NEXT_GAP]) - back + MOST_GAPS) % MOST_GAPS])


def is_new_tempo(gap: float, expected: float) -> bool:
    """Return whether a clock period is not the one that was expected."""
    away = abs(gap - expected)
    return away > STEADY_SAMPLES and away > STEADY_RATIO * expected


def measure_clock(state: Any, clock_v: float) -> None:
    """Take one sample of the clock, which may begin a pulse."""
    high = schmitt(clock_v, state[CLOCK_HIGH], THRESHOLD_V)
    state[SINCE] += 1.0
    if high > state[CLOCK_HIGH]:
        if state[HAS_CLOCK] > 0.0:
            note_gap(state)
        state[HAS_CLOCK] = 1.0
        state[SINCE] = 0.0
    state[CLOCK_HIGH] = high


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


def free_delay(params: Any, volts: float, n: int) -> float:
    """Return the free time at column `n`, halved by every volt. [samples]"""
    time_s = params[TIME_S, 0] + n * params[TIME_S, 1]
    return float(time_s * params[RATE_HZ, 0] * two_to(-clamp(volts, -RAIL_V, RAIL_V)))


def locked_delay(params: Any, state: Any, side: int) -> float:
    """Return how late the echo of a side should be by the clock; where it is, until there is one. [samples]"""
    if state[GAPS] <= 0.0:
        return float(state[SIDES + side * EACH_SIDE + NOW])
    quarters = NOTE_QUARTERS[int(clamp(params[BEATS_LEFT + side, 0], 0.0, 13.0) + 0.5)]
    return float(quarters * params[PPQN, 0] * mean_gap(state))


def is_away(wanted: float, now: float) -> bool:
    """Return whether a time is one to fade to. [samples]"""
    return abs(wanted - now) > MOVES_SAMPLES


def begin_fades(params: Any, state: Any, volts: float, n: int, fade_samples: float) -> None:
    """Let every side that stands still but should not begin its fade; `volts` steer the free time at column `n`."""
    for side in range(2):
        here = SIDES + side * EACH_SIDE
        if state[here + FADE] <= 0.0:
            if params[SYNC, 0] < 0.5:
                wanted = locked_delay(params, state, side)
            else:
                wanted = free_delay(params, volts, n)
            wanted = limit(wanted, 1.0, state[ROOM] - 1.0)
            if is_away(wanted, state[here + NOW]):
                state[here + COMING] = float(math.floor(wanted + HALF))
                state[here + FADE] = fade_samples


def still_samples(time_v: Any, params: Any, state: Any, start: int) -> int:
    """Return for how many samples the free time, steered by `time_v` from column `start`, begins no fade."""
    count = int(time_v.shape[0])
    left, right = SIDES, SIDES + EACH_SIDE
    left_waits, right_waits = state[left + FADE] <= 0.0, state[right + FADE] <= 0.0
    if params[SYNC, 0] < 0.5 or not (left_waits or right_waits):
        return count
    moved = int(params[TIME_S, 1] != 0.0)
    for n in range(count):
        moved |= int(time_v[n] != time_v[0])
    if moved == 0:
        return count
    for n in range(1, count):
        wanted = limit(free_delay(params, time_v[n], start + n), 1.0, state[ROOM] - 1.0)
        if (left_waits and is_away(wanted, state[left + NOW])) or (
            right_waits and is_away(wanted, state[right + NOW])
        ):
            return n
    return count


def place_before(state: Any, late: float) -> int:
    """Return the place in a memory that was written so many samples ago."""
    place = int(state[WRITE]) - int(late)
    return place + int(state[ROOM]) if place < 0 else place


def straight_samples(state: Any, most: int) -> int:
    """Return how many samples, `most` at most, can be read before any is written, in one piece, at one fade."""
    room = int(state[ROOM])
    count = min(most, room - int(state[WRITE]))
    for here in range(SIDES, RING, EACH_SIDE):
        now = int(state[here + NOW])
        count = min(count, now, room - place_before(state, now))
        if state[here + FADE] > 0.0:
            coming = int(state[here + COMING])
            count = min(count, coming, room - place_before(state, coming), int(state[here + FADE]))
    return count


def read_side(out_v: Any, state: Any, side: int, fade_samples: float) -> None:
    """Write the echo of a side, which may be fading from one time to another; and count its fade down."""
    count = out_v.shape[0]
    here = SIDES + side * EACH_SIDE
    memory = MEMORY + side * int(state[ROOM])
    place = memory + place_before(state, state[here + NOW])
    now_v = state[place : place + count]
    left = state[here + FADE]
    if left > 0.0:
        place = memory + place_before(state, state[here + COMING])
        coming_v = state[place : place + count]
        for n in range(count):
            share = (left - 1.0 - n) / fade_samples
            out_v[n] = share * now_v[n] + (1.0 - share) * coming_v[n]
        state[here + FADE] = left - count
        if left <= count:
            state[here + NOW] = state[here + COMING]
    else:
        for n in range(count):
            out_v[n] = now_v[n]


def come_round(
    round_v: Any, in_v: Any, steer_v: Any, feedback_0: float, feedback_step: float
) -> None:
    """Turn down what comes round, in place, add what comes in, and clip the sum softly; most lies below the knee."""
    beyond = 0
    for n in range(round_v.shape[0]):
        steer = feedback_0 + n * feedback_step + clamp(steer_v[n], -RAIL_V, RAIL_V) / FULL_V
        feedback = limit(steer, 0.0, MOST_FEEDBACK)
        sum_v = clamp(in_v[n], -RAIL_V, RAIL_V) + feedback * round_v[n]
        beyond |= int(abs(sum_v) > KNEE_V)
        round_v[n] = settle(sum_v)
    if beyond > 0:
        for n in range(round_v.shape[0]):
            round_v[n] = soft_clip(round_v[n])


def blended(wet_v: float, in_v: float, mix: float) -> float:
    """Return an echo mixed with what comes in."""
    share = limit(mix, 0.0, 1.0)
    dry_v = clamp(in_v, -RAIL_V, RAIL_V)
    return limit((1.0 - share) * dry_v + share * wet_v, -RAIL_V, RAIL_V)


def blend(out_v: Any, in_v: Any, mix_0: float, mix_step: float) -> None:
    """Mix the echo, in place, with what comes in."""
    for n in range(out_v.shape[0]):
        out_v[n] = blended(out_v[n], in_v[n], mix_0 + n * mix_step)


def stereo_delay(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Stretch by stretch, in which no time moves: read both echoes, write what comes in and what comes round."""
    rate_hz = params[RATE_HZ, 0]
    room = int(state[ROOM])
    fade_samples = max(1.0, float(math.floor(FADE_S * rate_hz)))
    tone_hz = clamp(params[TONE_HZ, 0], 1.0, 0.5 * rate_hz)
    shut = exp(-2.0 * math.pi * tone_hz / rate_hz)
    opening = 1.0 - shut
    is_crossed = params[CROSSED, 0] > 0.5
    feedback_step, mix_step = params[FEEDBACK, 1], params[MIX, 1]
    at = start
    while at < stop:
        measure_clock(state, bus_v[ins[CLOCK_IN], at])
        begin_fades(params, state, bus_v[ins[TIME_IN], at], at, fade_samples)
        count = stop - at
        if count > 1:
            rest_v = bus_v[ins[CLOCK_IN], at + 1 : stop]
            count = 1 + steady_samples(rest_v, state[CLOCK_HIGH], THRESHOLD_V)
            count = still_samples(bus_v[ins[TIME_IN], at : at + count], params, state, at)
            count = straight_samples(state, count)
        end = at + count
        left_out_v, right_out_v = bus_v[outs[0], at:end], bus_v[outs[1], at:end]
        for side in range(2):
            read_side(bus_v[outs[side], at:end], state, side, fade_samples)
        write = MEMORY + int(state[WRITE])
        left_round_v = state[write : write + count]
        right_round_v = state[write + room : write + room + count]
        # What leaves the low pass of a side is put where it is to be kept.
        left_to_v, right_to_v = left_round_v, right_round_v
        if is_crossed:
            left_to_v, right_to_v = right_round_v, left_round_v
        left_low_v, right_low_v = state[SIDES + LOW], state[SIDES + EACH_SIDE + LOW]
        for n in range(count):
            left_low_v = shut * left_low_v + opening * left_out_v[n]
            right_low_v = shut * right_low_v + opening * right_out_v[n]
            left_to_v[n] = left_low_v
            right_to_v[n] = right_low_v
        state[SIDES + LOW], state[SIDES + EACH_SIDE + LOW] = settle(left_low_v), settle(right_low_v)
        steer_v = bus_v[ins[FEEDBACK_IN], at:end]
        feedback_0 = params[FEEDBACK, 0] + at * feedback_step
        left_v, right_v = bus_v[ins[LEFT_IN], at:end], bus_v[ins[RIGHT_IN], at:end]
        come_round(left_round_v, left_v, steer_v, feedback_0, feedback_step)
        come_round(right_round_v, right_v, steer_v, feedback_0, feedback_step)
        mix_0 = params[MIX, 0] + at * mix_step
        blend(left_out_v, left_v, mix_0, mix_step)
        blend(right_out_v, right_v, mix_0, mix_step)
        write = int(state[WRITE]) + count
        state[WRITE] = float(write - room if write >= room else write)
        state[SINCE] += count - 1.0
        at = end


def _room(setting: Setting) -> int:
    return math.ceil(setting["longest"] * setting.rate_hz) + 1


def _samples(setting: Setting, side: str) -> int:
    """Return the delay of a side at the patch's tempo, in whole samples."""
    wanted_s = setting["time"]
    if round(setting["sync"]) == 0:
        wanted_s = quarter_s(setting.tempo_bpm) * NOTE_QUARTERS[round(setting[f"beats-{side}"])]
    return min(max(math.floor(wanted_s * setting.rate_hz + HALF), 1), _room(setting) - 1)


def prepare(setting: Setting) -> Any:
    """Empty memory, and the times that the patch's tempo gives until the clock has been measured."""
    import numpy as np

    state = np.zeros(MEMORY + 2 * _room(setting))
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
                first.hit_v,
                math.hypot(first.under_v, heard.rms_v * math.sqrt(power)),
            ).clipped(room.lo, room.hi)
        found.append(mixed([first.scaled(1.0 - mix), wet.scaled(mix)]).clipped(-RAIL_V, RAIL_V))
    return found


def delay(setting: Setting) -> list[Lag]:
    """The first echo of each side in whole samples, at the tempo of its clock; dry sound comes at once."""
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
    timed_by="clock",
)
