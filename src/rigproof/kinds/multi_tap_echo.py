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
    BLOCK,
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
from rigproof.kinds.edges import schmitt, steady_samples
from rigproof.kinds.stereo_delay import (
    CLOCK_HIGH,
    FADE_S,
    GAPS,
    HALF,
    KNEE_V,
    MEMORY,
    NOTE_NAMES,
    NOTE_QUARTERS,
    ROOM,
    SIDES,
    SINCE,
    THRESHOLD_V,
    WRITE,
    blend,
    is_away,
    mean_gap,
    measure_clock,
    soft_clip,
)
from rigproof.units import quarter_s

SYNC, STEP, PPQN, TIME_S, FEEDBACK, TONE_HZ, MIX, LONGEST_S, TAPS_FROM = 1, 2, 3, 4, 5, 6, 7, 8, 9
SIGNAL_IN, CLOCK_IN, HOLD_IN, REVERSE_IN = 0, 1, 2, 3

# The clock is measured in the places that the stereo delay has for it; its sides' places serve for what is ours.
HOLD_HIGH, REVERSE_HIGH, REVERSED, BACK, LOW_V = SIDES, SIDES + 1, SIDES + 2, SIDES + 3, SIDES + 4
"""`REVERSED` counts up to the samples of the fade from forwards to backwards, `BACK` those since it began."""
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


def step_of(params: Any, state: Any, n: int) -> float:
    """Return the step at column `n`: the clock's note length, or the free time. [samples]"""
    if params[SYNC, 0] < 0.5:
        quarters = NOTE_QUARTERS[int(clamp(params[STEP, 0], 0.0, 13.0) + 0.5)]
        return float(quarters * params[PPQN, 0] * mean_gap(state))
    return float((params[TIME_S, 0] + n * params[TIME_S, 1]) * params[RATE_HZ, 0])


def wanted_delay(params: Any, tap: int, step: float, longest: float) -> float:
    """Return how late a tap should be. [samples]"""
    return limit(steps_of(params[TAPS_FROM + tap, 0], tap + 1) * step, 1.0, longest)


def begin_fades(
    params: Any, state: Any, ways: int, n: int, longest: float, fade_samples: float
) -> None:
    """Let every tap that stands still but should not begin its fade, at column `n`."""
    if params[SYNC, 0] < 0.5 and state[GAPS] <= 0.0:
        return
    step = step_of(params, state, n)
    for i in range(ways):
        here = TAPS + EACH * i
        if state[here + FADE] <= 0.0:
            wanted = wanted_delay(params, i, step, longest)
            if is_away(wanted, state[here + NOW]):
                state[here + COMING] = float(math.floor(wanted + HALF))
                state[here + FADE] = fade_samples


def still_samples(params: Any, state: Any, ways: int, start: int, most: int, longest: float) -> int:
    """Return for how many samples from column `start`, `most` at most, no fade begins or ends."""
    count = most
    glides = params[SYNC, 0] >= 0.5 and params[TIME_S, 1] != 0.0
    for i in range(ways):
        here = TAPS + EACH * i
        if state[here + FADE] > 0.0:
            count = min(count, int(state[here + FADE]))
        elif glides:
            for n in range(1, count):
                wanted = wanted_delay(params, i, step_of(params, state, start + n), longest)
                if is_away(wanted, state[here + NOW]):
                    count = n
                    break
    return count


def furthest_tap(state: Any, ways: int) -> int:
    """Return where the state of the furthest tap begins; of several, the last."""
    found = TAPS
    for here in range(TAPS + EACH, TAPS + EACH * ways, EACH):
        if state[here + NOW] >= state[found + NOW]:
            found = here
    return found


def straight_samples(state: Any, tap: int, most: int) -> int:
    """Return how many samples of a tap, `most` at most, can be read before any is written, and all in one piece."""
    room = int(state[ROOM])
    mask = room - 1
    write = int(state[WRITE])
    now = int(state[tap + NOW])
    count = min(most, room - write, now, room - ((write - now) & mask))
    if state[tap + FADE] > 0.0:
        coming = int(state[tap + COMING])
        count = min(count, coming, room - ((write - coming) & mask))
    return count


def go_round(state: Any, tap: int, count: int, shut: float, fade_samples: float) -> None:
    """Write what comes round of the furthest tap: as it was while held, else behind the low pass."""
    write = int(state[WRITE])
    mask = int(state[ROOM]) - 1
    opening = 1.0 - shut
    low_v = state[LOW_V]
    holds = state[HOLD_HIGH] > 0.0
    place = LINE + ((write - int(state[tap + NOW])) & mask)
    now_v = state[place : place + count]
    to_v = state[LINE + write : LINE + write + count]
    left = state[tap + FADE]
    if left > 0.0:
        place = LINE + ((write - int(state[tap + COMING])) & mask)
        coming_v = state[place : place + count]
        for n in range(count):
            share = (left - 1.0 - n) / fade_samples
            tap_v = share * now_v[n] + (1.0 - share) * coming_v[n]
            low_v = shut * low_v + opening * tap_v
            to_v[n] = tap_v if holds else low_v
    else:
        for n in range(count):
            tap_v = now_v[n]
            low_v = shut * low_v + opening * tap_v
            to_v[n] = tap_v if holds else low_v
    state[LOW_V] = settle(low_v)


def come_round(to_v: Any, in_v: Any, feedback_0: float, feedback_step: float) -> None:
    """Turn down what comes round, in place, add what comes in, and clip the sum softly; most lies below the knee."""
    beyond = 0
    for n in range(to_v.shape[0]):
        sum_v = clamp(in_v[n], -RAIL_V, RAIL_V) + (feedback_0 + n * feedback_step) * to_v[n]
        beyond |= int(abs(sum_v) > KNEE_V)
        to_v[n] = settle(sum_v)
    if beyond > 0:
        for n in range(to_v.shape[0]):
            to_v[n] = soft_clip(to_v[n])


def add_forwards(
    left_v: Any,
    right_v: Any,
    state: Any,
    late: int,
    left: float,
    right: float,
    part: float,
    part_step: float,
    share: float,
    share_step: float,
) -> None:
    """Add what was written `late` samples ago, times a part, times a share that stops at 0 and at 1."""
    count = left_v.shape[0]
    mask = int(state[ROOM]) - 1
    first = (int(state[WRITE]) - late) & mask
    begin = 0
    while begin < count:
        end = min(count, begin + mask + 1 - first)  # where the memory begins anew
        tap_v = state[LINE + first : LINE + first + end - begin]
        to_left_v, to_right_v = left_v[begin:end], right_v[begin:end]
        if part == 1.0 and share == 1.0 and part_step == 0.0 and share_step == 0.0:
            for n in range(end - begin):
                to_left_v[n] += left * tap_v[n]
                to_right_v[n] += right * tap_v[n]
        else:
            for n in range(end - begin):
                gain = limit(share + (begin + n) * share_step, 0.0, 1.0)
                gain *= part + (begin + n) * part_step
                to_left_v[n] += left * gain * tap_v[n]
                to_right_v[n] += right * gain * tap_v[n]
        begin = end
        first = 0


def add_backwards(
    left_v: Any,
    right_v: Any,
    state: Any,
    late: int,
    left: float,
    right: float,
    back: float,
    piece_step: float,
    share: float,
    share_step: float,
) -> None:
    """Add pieces as long as the tap is late, backwards, `back` samples after the first began, times a share."""
    count = left_v.shape[0]
    mask = (int(state[ROOM]) - 1) & MOST_MASK
    line = state[LINE : LINE + mask + 1]
    into = int(back - late * math.floor(back / late))
    n = 0
    while n < count:
        end = min(count, n + late - into)
        first = int(state[WRITE]) + n - 2 * into - 1
        to_left_v, to_right_v = left_v[n:end], right_v[n:end]
        for k in range(end - n):
            window = limit(min(into + k + 1, late - into - k) * piece_step, 0.0, 1.0)
            gain = limit(share + (n + k) * share_step, 0.0, 1.0) * window
            piece_v = gain * line[(first - k) & mask]
            to_left_v[k] += left * piece_v
            to_right_v[k] += right * piece_v
        into = 0
        n = end


def add_taps(
    left_v: Any, right_v: Any, state: Any, ways: int, fade_samples: float, piece_fade: float
) -> None:
    """Add every tap, each on its way to a new time and all on their way from forwards to backwards or back."""
    count = left_v.shape[0]
    was, turn = state[REVERSED], 1.0 if state[REVERSE_HIGH] > 0.0 else -1.0
    back = state[BACK] + 1.0 if was > 0.0 else 0.0
    plays_forwards = was + turn < piece_fade
    plays_backwards = was + turn > 0.0
    piece_step = 1.0 / piece_fade
    share, share_step = 1.0, 0.0
    if plays_forwards:
        share, share_step = 0.0, 0.0
        if plays_backwards:
            share, share_step = (was + turn) * piece_step, turn * piece_step
    for i in range(ways):
        here = TAPS + EACH * i
        late = int(state[here + NOW])
        left, right, fade = state[here + LEFT], state[here + RIGHT], state[here + FADE]
        if (
            count == 1 and fade <= 0.0 and not plays_backwards
        ):  # in a loop of cables: no long way round
            tap_v = state[LINE + ((int(state[WRITE]) - late) & (int(state[ROOM]) - 1))]
            left_v[0] += left * tap_v
            right_v[0] += right * tap_v
            continue
        part, part_step = 1.0, 0.0
        if fade > 0.0:
            part, part_step = (fade - 1.0) / fade_samples, -1.0 / fade_samples
        if plays_forwards:
            rest, rest_step = 1.0 - share, -share_step
            add_forwards(
                left_v, right_v, state, late, left, right, part, part_step, rest, rest_step
            )
            if fade > 0.0:
                part, part_step = 1.0 - part, -part_step
                late = int(state[here + COMING])
                add_forwards(
                    left_v, right_v, state, late, left, right, part, part_step, rest, rest_step
                )
                late = int(state[here + NOW])
        if plays_backwards:
            add_backwards(
                left_v, right_v, state, late, left, right, back, piece_step, share, share_step
            )
        if fade > 0.0:
            state[here + FADE] = fade - count
            if fade <= count:
                state[here + NOW] = state[here + COMING]
    before_last = limit(was + (count - 1.0) * turn, 0.0, piece_fade)
    state[BACK] = back + count - 1.0 if before_last > 0.0 else 0.0
    state[REVERSED] = limit(was + count * turn, 0.0, piece_fade)


def multi_tap_echo(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Stretch by stretch, in which no time and no gate moves: write first, then read tap after tap."""
    rate_hz = params[RATE_HZ, 0]
    clock_v, hold_v, reverse_v = bus_v[ins[CLOCK_IN]], bus_v[ins[HOLD_IN]], bus_v[ins[REVERSE_IN]]
    ways = (params.shape[0] - TAPS_FROM) // 3
    room = int(state[ROOM])
    longest = limit(params[LONGEST_S, 0] * rate_hz, 1.0, 0.5 * (room - BLOCK) - 2.0)
    fade_samples = max(1.0, float(math.floor(FADE_S * rate_hz)))
    piece_fade = max(1.0, float(math.floor(PIECE_FADE_S * rate_hz)))
    tone_hz = clamp(params[TONE_HZ, 0], 1.0, 0.5 * rate_hz)
    shut = exp(-2.0 * math.pi * tone_hz / rate_hz)
    feedback_step, mix_step = params[FEEDBACK, 1], params[MIX, 1]
    for i in range(ways):
        here = TAPS + EACH * i
        level, pan = params[TAPS_FROM + ways + i, 0], params[TAPS_FROM + 2 * ways + i, 0]
        state[here + LEFT], state[here + RIGHT] = gains_of(level, pan)
    at = start
    while at < stop:
        measure_clock(state, clock_v[at])
        state[HOLD_HIGH] = schmitt(hold_v[at], state[HOLD_HIGH], THRESHOLD_V)
        state[REVERSE_HIGH] = schmitt(reverse_v[at], state[REVERSE_HIGH], THRESHOLD_V)
        begin_fades(params, state, ways, at, longest, fade_samples)
        furthest = furthest_tap(state, ways)
        count = stop - at
        if count > 1:
            count = 1 + min(
                steady_samples(clock_v[at + 1 : stop], state[CLOCK_HIGH], THRESHOLD_V),
                steady_samples(hold_v[at + 1 : stop], state[HOLD_HIGH], THRESHOLD_V),
                steady_samples(reverse_v[at + 1 : stop], state[REVERSE_HIGH], THRESHOLD_V),
            )
            count = still_samples(params, state, ways, at, count, longest)
            count = straight_samples(state, furthest, count)
        end = at + count
        in_v = bus_v[ins[SIGNAL_IN], at:end]
        left_v, right_v = bus_v[outs[0], at:end], bus_v[outs[1], at:end]
        write = int(state[WRITE])
        go_round(state, furthest, count, shut, fade_samples)
        if state[HOLD_HIGH] == 0.0:
            to_v = state[LINE + write : LINE + write + count]
            come_round(to_v, in_v, params[FEEDBACK, 0] + at * feedback_step, feedback_step)
        for n in range(count):
            left_v[n] = 0.0
            right_v[n] = 0.0
        add_taps(left_v, right_v, state, ways, fade_samples, piece_fade)
        blend(left_v, in_v, params[MIX, 0] + at * mix_step, mix_step)
        blend(right_v, in_v, params[MIX, 0] + at * mix_step, mix_step)
        state[WRITE] = float((write + count) & (room - 1))
        state[SINCE] += count - 1.0
        at = end


def _tap_samples(setting: Setting) -> tuple[int, ...]:
    """Return every tap's delay at the patch's tempo, in whole samples."""
    step_s = setting["time"]
    if round(setting["sync"]) == 0:
        step_s = quarter_s(setting.tempo_bpm) * NOTE_QUARTERS[round(setting["step"])]
    longest = max(1.0, setting["longest"] * setting.rate_hz)
    places = enumerate(setting.all_values("place"), 1)
    steps = (steps_of(place, number) for number, place in places)
    return tuple(
        math.floor(min(max(s * step_s * setting.rate_hz, 1.0), longest) + HALF) for s in steps
    )


def prepare(setting: Setting) -> Any:
    """Empty memory, twice as long as the longest tap and a block more, and the times that the patch's tempo gives."""
    import numpy as np

    longest = setting.span("longest").hi * setting.rate_hz
    room = 1 << math.ceil(2.0 * longest + 8.0 + BLOCK).bit_length()
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
            source.hit_v,
            math.hypot(source.under_v, source.rms_v * feedback / math.sqrt(1.0 - feedback**2)),
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
    """The nearest and the furthest tap that a side hears, at the tempo of its clock; dry sound comes at once."""
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
    timed_by="clock",
    ways=(1, MOST_TAPS, 4),
)
