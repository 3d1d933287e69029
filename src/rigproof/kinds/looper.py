"""Looper: records a stereo stretch by a gate, plays it round and round, adds to it, clears it.

Recording lasts as long as `record` is high, at most `longest`, and wipes what was there; when it ends the loop plays
from its top. It plays while `play` is high, as it is when nothing is plugged in, and begins at its top each time. While
`overdub` is high what comes in is added at the same place to `keep` times what was there, up to the rails. A rise at
`clear` empties it. Each top sends a 5 ms pulse to `top`.

With `sync` clock, recording begins and ends, and playing begins, at the next rise of the clock, so that the loop is a
whole number of clock pulses long to the sample; free, all happens at once. `seam` fades the ends of the loop where it
is played; at 0 it is played bit by bit as recorded. The memory's size counts from the start; it does not move.

Left out: undo, half speed, loops stretched to a new tempo.

Source: none needed: what was put in comes out; gates by threshold are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RAIL_V,
    RATE_HZ,
    ZERO,
    Beat,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
    mixed,
)
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.delay_line import line_span
from rigproof.kinds.edges import schmitt

SYNC, DRY, LEVEL, KEEP, SEAM_S, LONGEST_S = 1, 2, 3, 4, 5, 6
LEFT_IN, RIGHT_IN, RECORD_IN, PLAY_IN, OVERDUB_IN, CLEAR_IN, CLOCK_IN = 0, 1, 2, 3, 4, 5, 6

ROOM, RECORD_HIGH, PLAY_HIGH, OVERDUB_HIGH, CLEAR_HIGH, CLOCK_HIGH = 0, 1, 2, 3, 4, 5
RECORDS, PLAYS, LENGTH, PLACE, PULSE_LEFT = 6, 7, 8, 9, 10
"""Whether it records and plays, how long the loop is, where in it we are, samples left of the pulse."""
FULL = 11
"""The memory ran out while `record` was still high: the next recording waits for the next gate."""
LINES = 12

THRESHOLD_V = 1.0
"""A gate is high from here up. Common practice, no source. [V]"""
PULSE_V, PULSE_S = 5.0, 0.005


def looper(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Read the gates, then record, play or add."""
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    record_v, play_v = bus_v[ins[RECORD_IN], start:stop], bus_v[ins[PLAY_IN], start:stop]
    overdub_v, clear_v = bus_v[ins[OVERDUB_IN], start:stop], bus_v[ins[CLEAR_IN], start:stop]
    clock_v, top_v = bus_v[ins[CLOCK_IN], start:stop], bus_v[outs[2], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    is_free = params[SYNC, 0] > 0.5
    dry_step, level_step, keep_step = params[DRY, 1], params[LEVEL, 1], params[KEEP, 1]
    dry_0 = params[DRY, 0] + start * dry_step
    level_0 = params[LEVEL, 0] + start * level_step
    keep_0 = params[KEEP, 0] + start * keep_step
    seam = max(1e-9, params[SEAM_S, 0] * params[RATE_HZ, 0])
    pulse_samples = math.floor(PULSE_S * params[RATE_HZ, 0] + 0.5)
    room = int(state[ROOM])
    record, play, overdub = state[RECORD_HIGH], state[PLAY_HIGH], state[OVERDUB_HIGH]
    clear, clock = state[CLEAR_HIGH], state[CLOCK_HIGH]
    records, plays, full = state[RECORDS] > 0.0, state[PLAYS] > 0.0, state[FULL] > 0.0
    length, place, pulse_left = int(state[LENGTH]), int(state[PLACE]), state[PULSE_LEFT]
    for n in range(stop - start):
        was_clear, was_clock = clear, clock
        record = schmitt(record_v[n], record, THRESHOLD_V)
        play = schmitt(play_v[n], play, THRESHOLD_V)
        overdub = schmitt(overdub_v[n], overdub, THRESHOLD_V)
        clear = schmitt(clear_v[n], clear, THRESHOLD_V)
        clock = schmitt(clock_v[n], clock, THRESHOLD_V)
        now = is_free or clock > was_clock
        full = full and record > 0.0
        if clear > was_clear:
            records = False
            plays = False
            length = 0
            place = 0
            full = record > 0.0
        if records and ((now and record == 0.0) or place >= room):
            full = record > 0.0
            records = False
            length = place
            place = 0
            plays = play > 0.0
        elif not records and now and record > 0.0 and not full:
            records = True
            plays = False
            length = 0
            place = 0
        if play == 0.0:
            plays = False
        elif not plays and not records and length > 0 and now:
            plays = True
            place = 0
        left = clamp(left_v[n], -RAIL_V, RAIL_V)
        right = clamp(right_v[n], -RAIL_V, RAIL_V)
        dry = dry_0 + n * dry_step
        out_left, out_right = dry * left, dry * right
        if records:
            state[LINES + place] = settle(left)
            state[LINES + room + place] = settle(right)
            place += 1
        elif plays:
            if place == 0:
                pulse_left = pulse_samples
            gain = min(1.0, (place + 1.0) / seam, (length - place) / seam)
            gain *= level_0 + n * level_step
            loop_left, loop_right = state[LINES + place], state[LINES + room + place]
            out_left += gain * loop_left
            out_right += gain * loop_right
            if overdub > 0.0:
                keep = keep_0 + n * keep_step
                state[LINES + place] = settle(clamp(keep * loop_left + left, -RAIL_V, RAIL_V))
                state[LINES + room + place] = settle(
                    clamp(keep * loop_right + right, -RAIL_V, RAIL_V)
                )
            place += 1
            if place >= length:
                place = 0
        out_left_v[n] = clamp(out_left, -RAIL_V, RAIL_V)
        out_right_v[n] = clamp(out_right, -RAIL_V, RAIL_V)
        top_v[n] = PULSE_V if pulse_left > 0.0 else 0.0
        pulse_left = max(0.0, pulse_left - 1.0)
    state[RECORD_HIGH] = record
    state[PLAY_HIGH] = play
    state[OVERDUB_HIGH] = overdub
    state[CLEAR_HIGH] = clear
    state[CLOCK_HIGH] = clock
    state[RECORDS] = 1.0 if records else 0.0
    state[PLAYS] = 1.0 if plays else 0.0
    state[FULL] = 1.0 if full else 0.0
    state[LENGTH] = length
    state[PLACE] = place
    state[PULSE_LEFT] = pulse_left


def prepare(setting: Setting) -> Any:
    """Start with nothing recorded."""
    import numpy as np

    room = max(1, math.floor(setting["longest"] * setting.rate_hz + 0.5))
    state = np.zeros(LINES + 2 * room)
    state[ROOM] = room
    return state


def _memory(source: Span, ins: Sequence[Span], setting: Setting) -> Span:
    """Return what the memory can hold: what came in, added to itself where overdubs can be."""
    if ins[RECORD_IN].hi < THRESHOLD_V:
        return ZERO
    if ins[OVERDUB_IN].hi < THRESHOLD_V:
        return source.including(0.0)
    return line_span(source, setting.span("keep").including(0.0), 1.0)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry plus what the memory can hold."""
    found = []
    for side in (LEFT_IN, RIGHT_IN):
        source = ins[side].clipped(-RAIL_V, RAIL_V)
        loop = _memory(source, ins, setting) * setting.span("level").including(0.0)
        total = source * setting.span("dry") + loop
        found.append(total.clipped(-RAIL_V, RAIL_V))
    has_loop = ins[RECORD_IN].hi >= THRESHOLD_V and ins[PLAY_IN].hi >= THRESHOLD_V
    return [*found, Span(0.0, PULSE_V) if has_loop else ZERO]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Once something is recorded: dry and the loop are unlike, powers add. One pass of overdub is counted."""
    spans = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    has_loop = spans[2] != ZERO
    found = []
    for side in (LEFT_IN, RIGHT_IN):
        source = ins[side].clipped(-RAIL_V, RAIL_V)
        parts = [source.scaled(setting["dry"])]
        if has_loop:
            parts.append(source.scaled(setting["level"]))
            if ins[OVERDUB_IN].hi_v >= THRESHOLD_V:
                parts.append(source.scaled(setting["level"] * setting["keep"]))
        found.append(mixed(parts).clipped(spans[side].lo, spans[side].hi))
    return [*found, Level(0.0, spans[2].hi, 0.0, 0.0)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Tops come as often as the loop is long, which only the hands know."""
    return [NO_PULSE, NO_PULSE, NO_PULSE if ins[RECORD_IN].beat is Beat.NONE else IRREGULAR]


def delay(setting: Setting) -> list[Lag]:
    """Dry sound comes at once; the loop when it comes round."""
    steering = ("record", "play", "overdub", "clear", "clock")
    return [Lag("left", "left"), Lag("right", "right")] + [
        Lag(name, target, is_signal=False)
        for name in steering
        for target in ("left", "right", "top")
    ]


KIND = Kind(
    name="looper",
    doc=__doc__,
    inputs=(
        Port("left", "what is recorded"),
        Port("right", "what is recorded"),
        Port("record", "records while high", is_control=True),
        Port("play", "plays while high", rest_v=5.0, is_control=True),
        Port("overdub", "adds while high", is_control=True),
        Port("clear", "a rise empties it", is_control=True),
        Port("clock", "what all waits for, where `sync` says so", is_control=True),
    ),
    outputs=(
        Port("left", "dry and loop"),
        Port("right", "dry and loop"),
        Port("top", "a pulse each time the loop begins"),
    ),
    params=(
        Param("sync", "ratio", 0.0, 1.0, 0.0, "what gates wait for", choices=("clock", "free")),
        Param("dry", "ratio", 0.0, 1.0, 1.0, "gain of what comes in"),
        Param("level", "ratio", 0.0, 1.0, 1.0, "gain of the loop"),
        Param("keep", "ratio", 0.0, 1.0, 1.0, "what an overdub keeps of what was there"),
        Param("seam", "s", 0.0, 0.05, 0.002, "fade at both ends of the loop"),
        Param("longest", "s", 0.1, 60.0, 20.0, "memory"),
    ),
    kernel=looper,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
