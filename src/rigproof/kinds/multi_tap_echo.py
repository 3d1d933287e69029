"""Multi-tap echo: one memory heard at up to sixteen places, each with its level and its side; repeats, hold, reverse.

A tap lies `place` steps back (0 stands for its own number). A step is the note length `step` of the clock, measured as
the stereo delay does (`sync` clock; until it has been measured the tempo of the patch holds), or `time` when free. Taps
come whole samples late, at most the memory's length; a new time is cross-faded in over 10 ms. `pan` is a balance: in
the middle both sides get all of a tap. `feedback` sends what the furthest tap hears round again through a 6 dB/octave
low pass (`tone`) and a soft clip that stays below the rails.

While `hold` is high nothing new is written and the stretch up to the furthest tap goes round unchanged. While `reverse`
is high every tap plays pieces as long as its own time backwards, faded in and out over 5 ms.

Left out: noise and drift of an analogue delay. The memory's size counts from the start; it does not move.

Source: 60 s over the tempo is a quarter note; repeats fall by the feedback each time, a geometric series; the rest is
common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
    RATE_HZ,
    ZERO,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Setting,
    Span,
    mixed,
)
from rigproof.kinds.clipping import clamp, limit, settle
from rigproof.kinds.delay_line import MOST_MASK, line_span
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.stereo_delay import (
    CLOCK_HIGH,
    FADE_S,
    GAPS,
    HAS_CLOCK,
    MEMORY,
    MOVES_SAMPLES,
    NOTE_NAMES,
    NOTE_QUARTERS,
    ROOM,
    SIDES,
    SINCE,
    THRESHOLD_V,
    WRITE,
    mean_gap,
    note_gap,
    soft_clip,
)
from rigproof.units import quarter_s

SYNC, STEP, PPQN, TIME_S, FEEDBACK, TONE_HZ, MIX, LONGEST_S, TAPS_FROM = 1, 2, 3, 4, 5, 6, 7, 8, 9
SIGNAL_IN, CLOCK_IN, HOLD_IN, REVERSE_IN = 0, 1, 2, 3

# The clock is measured in the places that the stereo delay has for it; its sides' places serve for what is ours.
HOLD_HIGH, REVERSE_HIGH, REVERSED, BACK, LOW_V = SIDES, SIDES + 1, SIDES + 2, SIDES + 3, SIDES + 4
TAPS = MEMORY
NOW, COMING, FADE, LEFT, RIGHT = 0, 1, 2, 3, 4
EACH = 5
"""State of a tap: its delay and the coming one, samples left of the fade between them, its gain on each side."""
MOST_TAPS = 16
LINE = TAPS + EACH * MOST_TAPS

PIECE_FADE_S = 0.005
"""Fade at both ends of a piece played backwards, and from forwards to backwards. Our choice. [s]"""
MOST_FEEDBACK = 1.1


def steps_of(place: float, number: int) -> float:
    """Return how many steps back a tap lies."""
    return place if place >= 1.0 else float(number)


def gains_of(level: float, pan: float) -> tuple[float, float]:
    """Return a tap's gain on the left and on the right: a balance."""
    return level * min(1.0, 1.0 - pan), level * min(1.0, 1.0 + pan)


def are_even(
    params: Any, state: Any, ways: int, step: float, longest: float, moves: bool, count: int
) -> bool:
    """Return whether every tap stays where it is, `step` being steady, and the memory has room for a block more."""
    moved = int(state[ROOM] < 2.0 * longest + count)
    for i in range(ways):
        here = TAPS + EACH * i
        wanted = clamp(steps_of(params[TAPS_FROM + i, 0], i + 1) * step, 1.0, longest)
        moved |= int(state[here + FADE] > 0.0)
        moved |= int(state[here + NOW] > longest)
        moved |= int(moves and abs(wanted - state[here + NOW]) > MOVES_SAMPLES)
    return moved == 0


def repeat_evenly(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int, opening: float
) -> None:
    """Do what `multi_tap_echo` does, as long as nothing moves its taps: write first, then read tap after tap."""
    in_v = bus_v[ins[SIGNAL_IN], start:stop]
    left_v, right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    ways = (params.shape[0] - TAPS_FROM) // 3
    count = stop - start
    mask = (int(state[ROOM]) - 1) & MOST_MASK
    line = state[LINE : LINE + mask + 1]
    write = int(state[WRITE])
    feedback_step, mix_step = params[FEEDBACK, 1], params[MIX, 1]
    feedback_0 = params[FEEDBACK, 0] + start * feedback_step
    mix_0 = params[MIX, 0] + start * mix_step
    furthest = 1
    for i in range(ways):
        furthest = max(furthest, int(state[TAPS + EACH * i + NOW]))
    low_v, hold = state[LOW_V], state[HOLD_HIGH]
    for n in range(count):
        furthest_v = line[(write + n - furthest) & mask]
        low_v = settle(low_v + opening * (furthest_v - low_v))
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        fed_v = settle(soft_clip(x + (feedback_0 + n * feedback_step) * low_v))
        line[(write + n) & mask] = furthest_v if hold > 0.0 else fed_v
        left_v[n] = 0.0
        right_v[n] = 0.0
    for i in range(ways):
        here = TAPS + EACH * i
        left, right = state[here + LEFT], state[here + RIGHT]
        first = write - int(state[here + NOW])
        for n in range(count):
            tap_v = line[(first + n) & mask]
            left_v[n] += left * tap_v
            right_v[n] += right * tap_v
    for n in range(count):
        mix = mix_0 + n * mix_step
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        left_v[n] = limit((1.0 - mix) * x + mix * left_v[n], -RAIL_V, RAIL_V)
        right_v[n] = limit((1.0 - mix) * x + mix * right_v[n], -RAIL_V, RAIL_V)
    state[WRITE] = (write + count) & mask
    state[LOW_V] = low_v
    state[BACK] = 0.0
    state[SINCE] += count


def multi_tap_echo(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Measure the clock, read every tap, write what comes in and what comes round."""
    rate_hz = params[RATE_HZ, 0]
    in_v, clock_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[CLOCK_IN], start:stop]
    hold_v, reverse_v = bus_v[ins[HOLD_IN], start:stop], bus_v[ins[REVERSE_IN], start:stop]
    left_v, right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    ways = (params.shape[0] - TAPS_FROM) // 3
    room = int(state[ROOM])
    mask = (room - 1) & MOST_MASK
    longest = params[LONGEST_S, 0] * rate_hz
    longest = clamp(longest, 1.0, 0.5 * room - 2.0)
    fade_samples = max(1.0, float(math.floor(FADE_S * rate_hz)))
    piece_step = 1.0 / (PIECE_FADE_S * rate_hz)
    tone_hz = clamp(params[TONE_HZ, 0], 1.0, 0.5 * rate_hz)
    opening = 1.0 - exp(-2.0 * math.pi * tone_hz / rate_hz)
    is_locked = params[SYNC, 0] < 0.5
    quarters = NOTE_QUARTERS[int(clamp(params[STEP, 0], 0.0, 13.0) + 0.5)]
    ppqn = params[PPQN, 0]
    for i in range(ways):
        here = TAPS + EACH * i
        level, pan = params[TAPS_FROM + ways + i, 0], params[TAPS_FROM + 2 * ways + i, 0]
        state[here + LEFT], state[here + RIGHT] = gains_of(level, pan)
    step = quarters * ppqn * mean_gap(state) if is_locked else params[TIME_S, 0] * rate_hz
    if (
        is_steady(clock_v, state[CLOCK_HIGH], THRESHOLD_V)
        and is_steady(hold_v, state[HOLD_HIGH], THRESHOLD_V)
        and is_steady(reverse_v, state[REVERSE_HIGH], THRESHOLD_V)
        and state[REVERSE_HIGH] == 0.0
        and state[REVERSED] == 0.0
        and (is_locked or params[TIME_S, 1] == 0.0)
        and are_even(
            params, state, ways, step, longest, not is_locked or state[GAPS] > 0.0, stop - start
        )
    ):
        repeat_evenly(bus_v, ins, outs, params, state, start, stop, opening)
        return
    write = int(state[WRITE])
    hold, reverse = state[HOLD_HIGH], state[REVERSE_HIGH]
    reversed_share, back, low_v = state[REVERSED], state[BACK], state[LOW_V]
    feedback_step, mix_step, time_step = params[FEEDBACK, 1], params[MIX, 1], params[TIME_S, 1]
    feedback_0 = params[FEEDBACK, 0] + start * feedback_step
    mix_0 = params[MIX, 0] + start * mix_step
    time_0 = params[TIME_S, 0] + start * time_step
    for n in range(stop - start):
        high = schmitt(clock_v[n], state[CLOCK_HIGH], THRESHOLD_V)
        state[SINCE] += 1.0
        if high > state[CLOCK_HIGH]:
            if state[HAS_CLOCK] > 0.0:
                note_gap(state)
            state[HAS_CLOCK] = 1.0
            state[SINCE] = 0.0
        state[CLOCK_HIGH] = high
        hold = schmitt(hold_v[n], hold, THRESHOLD_V)
        was_reverse = reverse
        reverse = schmitt(reverse_v[n], reverse, THRESHOLD_V)
        back = back + 1.0 if was_reverse > 0.0 else 0.0
        if reverse > 0.0:
            reversed_share = min(1.0, reversed_share + piece_step)
        else:
            reversed_share = max(0.0, reversed_share - piece_step)
        moves = not is_locked or state[GAPS] > 0.0
        step = (
            quarters * ppqn * mean_gap(state) if is_locked else (time_0 + n * time_step) * rate_hz
        )
        wet_left_v, wet_right_v = 0.0, 0.0
        furthest = 1.0
        furthest_v = 0.0
        for i in range(ways):
            here = TAPS + EACH * i
            if moves and state[here + FADE] <= 0.0:
                wanted = clamp(steps_of(params[TAPS_FROM + i, 0], i + 1) * step, 1.0, longest)
                if abs(wanted - state[here + NOW]) > MOVES_SAMPLES:
                    state[here + COMING] = float(math.floor(wanted + 0.5))
                    state[here + FADE] = fade_samples
            late = int(state[here + NOW])
            tap_v = state[LINE + ((write - late) & mask)]
            if state[here + FADE] > 0.0:
                coming_v = state[LINE + ((write - int(state[here + COMING])) & mask)]
                state[here + FADE] -= 1.0
                share = state[here + FADE] / fade_samples
                tap_v = share * tap_v + (1.0 - share) * coming_v
                if state[here + FADE] <= 0.0:
                    state[here + NOW] = state[here + COMING]
            if late >= furthest:
                furthest = late
                furthest_v = tap_v
            if reversed_share > 0.0:
                into = back - late * math.floor(back / late)
                window = min(1.0, (into + 1.0) * piece_step, (late - into) * piece_step)
                piece_v = window * state[LINE + ((write - 2 * int(into) - 1) & mask)]
                tap_v = (1.0 - reversed_share) * tap_v + reversed_share * piece_v
            wet_left_v += state[here + LEFT] * tap_v
            wet_right_v += state[here + RIGHT] * tap_v
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        low_v = settle(low_v + opening * (furthest_v - low_v))
        fed_v = settle(soft_clip(x + (feedback_0 + n * feedback_step) * low_v))
        state[LINE + write] = furthest_v if hold > 0.0 else fed_v
        mix = mix_0 + n * mix_step
        left_v[n] = clamp((1.0 - mix) * x + mix * wet_left_v, -RAIL_V, RAIL_V)
        right_v[n] = clamp((1.0 - mix) * x + mix * wet_right_v, -RAIL_V, RAIL_V)
        write = (write + 1) & mask
    state[WRITE] = write
    state[HOLD_HIGH] = hold
    state[REVERSE_HIGH] = reverse
    state[REVERSED] = reversed_share
    state[BACK] = back
    state[LOW_V] = low_v


def _tap_samples(setting: Setting) -> tuple[int, ...]:
    """Return every tap's delay at the patch's tempo, in whole samples."""
    step_s = setting["time"]
    if round(setting["sync"]) == 0:
        step_s = quarter_s(setting.tempo_bpm) * NOTE_QUARTERS[round(setting["step"])]
    longest = max(1.0, setting["longest"] * setting.rate_hz)
    places = enumerate(setting.all_values("place"), 1)
    steps = (steps_of(place, number) for number, place in places)
    return tuple(
        math.floor(min(max(s * step_s * setting.rate_hz, 1.0), longest) + 0.5) for s in steps
    )


def prepare(setting: Setting) -> Any:
    """Empty memory, twice as long as the longest tap, and the times that the patch's tempo gives."""
    import numpy as np

    longest = setting.span("longest").hi * setting.rate_hz
    room = 1 << math.ceil(2.0 * longest + 8.0).bit_length()
    state = np.zeros(LINE + room)
    state[ROOM] = room
    for i, samples in enumerate(_tap_samples(setting)):
        state[TAPS + EACH * i + NOW] = samples
        state[TAPS + EACH * i + COMING] = samples
    return state


def _gain_spans(setting: Setting) -> tuple[list[Span], list[Span]]:
    """Return what each tap's gain can be, on the left and on the right."""
    lefts: list[Span] = []
    rights: list[Span] = []
    for level, pan in zip(setting.all_spans("level"), setting.all_spans("pan"), strict=True):
        for side, found in ((-1.0, lefts), (1.0, rights)):
            ends = [min(1.0, 1.0 + side * p) for p in (pan.lo, pan.hi)]
            found.append(level * Span.around(*ends))
    return lefts, rights


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and the sum of the taps by the mix; the memory holds a geometric series, never beyond the soft clip."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    memory = line_span(source, setting.span("feedback").including(0.0), 1.0)
    mix = setting.span("mix")
    found = []
    for gains in _gain_spans(setting):
        wet = ZERO
        for gain in gains:
            wet = wet + memory * gain
        ends = [source.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
        found.append(ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V))
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Taps and repeats are unlike: powers add, up to the soft clip."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    feedback, mix = setting["feedback"], setting["mix"]
    memory = line_span(Span(source.lo_v, source.hi_v), Span(0.0, feedback), 1.0)
    if feedback >= 1.0:  # it sings: all the room is used, evenly
        middle_v = (memory.lo + memory.hi) / 2.0
        held = Level(memory.lo, memory.hi, middle_v, memory.width / math.sqrt(8.0))
    else:
        held = Level(
            memory.lo,
            memory.hi,
            source.dc_v / (1.0 - feedback),
            source.rms_v / math.sqrt(1.0 - feedback**2),
        ).clipped(memory.lo, memory.hi)
    found = []
    pairs = list(zip(setting.all_values("level"), setting.all_values("pan"), strict=True))
    spans = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    for side, span in enumerate(spans):
        taps = [held.scaled(mix * gains_of(gain, pan)[side]) for gain, pan in pairs]
        both = mixed([source.scaled(1.0 - mix), *taps])
        found.append(both.clipped(span.lo, span.hi))
    return found


def delay(setting: Setting) -> list[Lag]:
    """The nearest and the furthest tap that a side hears, at the patch's tempo; dry sound comes at once."""
    mix = setting.span("mix")
    lefts, rights = _gain_spans(setting)
    found = []
    for side, gains in (("left", lefts), ("right", rights)):
        heard = [
            samples / setting.rate_hz
            for samples, gain in zip(_tap_samples(setting), gains, strict=True)
            if gain != ZERO and mix.hi > 0.0
        ]
        dry = [0.0] if mix.lo < 1.0 or not heard else []
        found.append(Lag("in", side, min(heard + dry), max(heard + dry)))
    found += [
        Lag(steering, side, is_signal=False)
        for steering in ("clock", "hold", "reverse")
        for side in ("left", "right")
    ]
    return found


KIND = Kind(
    name="multi-tap-echo",
    doc=__doc__,
    inputs=(
        Port("in", "what is repeated"),
        Port("clock", "the clock that sets the step", is_control=True),
        Port("hold", "while high, the memory goes round unchanged", is_control=True),
        Port("reverse", "while high, the taps play backwards", is_control=True),
    ),
    outputs=(Port("left", "dry and taps"), Port("right", "dry and taps")),
    params=(
        Param("sync", "ratio", 0.0, 1.0, 0.0, "what sets the step", choices=("clock", "free")),
        Param("step", "ratio", 0.0, 13.0, 5.0, "note length of a step", NOTE_NAMES),
        Param("ppqn", "steps", 0.25, 96.0, 4.0, "pulses a quarter note at the clock input"),
        Param("time", "s", 0.001, 5.0, 0.25, "free step"),
        Param("feedback", "ratio", 0.0, MOST_FEEDBACK, 0.3, "share that comes round again"),
        Param("tone", "Hz", 100.0, 20_000.0, 6_000.0, "low pass of each time round"),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 1 only taps"),
        Param("longest", "s", 0.05, 20.0, 4.0, "memory"),
        Param("place", "steps", 0.0, 16.0, 0.0, "steps back; 0 for the tap's number", many=True),
        Param("level", "ratio", -1.0, 1.0, 0.6, "gain of one tap", many=True),
        Param("pan", "ratio", -1.0, 1.0, 0.0, "balance of one tap, -1 left", many=True),
    ),
    kernel=multi_tap_echo,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
    ways=(1, MOST_TAPS, 4),
)
