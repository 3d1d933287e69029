"""Chorus: a stereo sound and up to four copies a side, each late by a time that a slow sine moves.

A copy is `time` late, plus and minus half of `depth`. The copies of a side lie evenly round the sine's turn, the right
side's a quarter turn ahead, so that the sides drift apart and a mono sound (`source` mono: both sides hear the left
input) turns wide. The copies of a side are averaged.

A copy whose delay moves by d samples a sample sounds (1 - d) times as high: a depth of 4 ms at 0.8 Hz bends it by up to
17 cents either way.

Left out: the loss of highs in an analogue line, noise, feedback.

Source: Doppler shift of a moving delay, f (1 - d tau/dt) (from the definition of phase); times and depths are common
practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    BLOCK,
    RAIL_V,
    RATE_HZ,
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
from rigproof.kinds.delay_line import (
    MOST_MASK,
    MOST_OVERSHOOT,
    NEAREST,
    between,
    overshoot_at,
    read_line,
    ring_size,
)
from rigproof.kinds.waves import cosine_of_turn, sine_of_turn

RATE, DEPTH_S, TIME_S, MIX, VOICES, SOURCE = 1, 2, 3, 4, 5, 6
ROOM, WRITE, TURN = 0, 1, 2
LINES = 3
ROWS = 2
"""Rows of a block behind the lines, for sine and cosine of the turn; zero between calls."""

MOST_TIME_S, MOST_DEPTH_S = 0.04, 0.02
VOICE_NAMES = ("1", "2", "3", "4")
MOST_VOICES = len(VOICE_NAMES)
_TURNS = [voice / voices for voices in range(1, MOST_VOICES + 1) for voice in range(MOST_VOICES)]
COSINES = tuple(math.cos(2.0 * math.pi * turn) for turn in _TURNS)
SINES = tuple(math.sin(2.0 * math.pi * turn) for turn in _TURNS)
"""Where the copies lie on the turn, `MOST_VOICES` numbers for each number of copies."""


def chorus(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Write both lines, then average what each side's copies read, one copy after another."""
    rate_hz = params[RATE_HZ, 0]
    room = int(state[ROOM])
    mask = (room - 1) & MOST_MASK
    turn_step = params[RATE, 0] / rate_hz
    voices = int(clamp(params[VOICES, 0], 0.0, 3.0) + 0.5) + 1
    is_mono = params[SOURCE, 0] > 0.5
    share = 1.0 / voices
    longest = rate_hz * (MOST_TIME_S + MOST_DEPTH_S)
    first = (voices - 1) * MOST_VOICES
    left_v, right_v = bus_v[ins[0], start:stop], bus_v[ins[0 if is_mono else 1], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    half_step, middle_step = 0.5 * rate_hz * params[DEPTH_S, 1], rate_hz * params[TIME_S, 1]
    mix_step = params[MIX, 1]
    half_0 = 0.5 * rate_hz * params[DEPTH_S, 0] + start * half_step
    middle_0 = rate_hz * params[TIME_S, 0] + start * middle_step
    mix_0 = params[MIX, 0] + start * mix_step
    write, turn = int(state[WRITE]), state[TURN]
    count = stop - start
    rows = LINES + 2 * room
    sines, cosines = state[rows : rows + count], state[rows + BLOCK : rows + BLOCK + count]
    line_left, line_right = state[LINES : LINES + room], state[LINES + room : rows]
    # Copies lie behind what is written here, so all of it can be written first.
    for n in range(count):
        at = (write + n) & mask
        line_left[at] = settle(clamp(left_v[n], -RAIL_V, RAIL_V))
        line_right[at] = settle(clamp(right_v[n], -RAIL_V, RAIL_V))
        sines[n] = turn
        turn += turn_step
        turn = turn - 1.0 if turn >= 1.0 else turn
    for n in range(count):
        cosines[n] = cosine_of_turn(sines[n])
        sines[n] = sine_of_turn(sines[n])
        out_left_v[n] = 0.0
        out_right_v[n] = 0.0
    for voice in range(first, first + voices):
        at_cosine, at_sine = COSINES[voice], SINES[voice]
        for n in range(count):
            half = half_0 + n * half_step
            middle = middle_0 + n * middle_step
            # The sine of a sum of angles; the right side's angle is a quarter turn more.
            late = middle + half * (sines[n] * at_cosine + cosines[n] * at_sine)
            late = limit(late, NEAREST, longest)
            out_left_v[n] += read_line(line_left, 0, mask, write + n, late)
            late = middle + half * (cosines[n] * at_cosine - sines[n] * at_sine)
            late = limit(late, NEAREST, longest)
            out_right_v[n] += read_line(line_right, 0, mask, write + n, late)
    for n in range(count):
        mix = mix_0 + n * mix_step
        left, right = clamp(left_v[n], -RAIL_V, RAIL_V), clamp(right_v[n], -RAIL_V, RAIL_V)
        out_left_v[n] = limit((1.0 - mix) * left + mix * share * out_left_v[n], -RAIL_V, RAIL_V)
        out_right_v[n] = limit((1.0 - mix) * right + mix * share * out_right_v[n], -RAIL_V, RAIL_V)
        sines[n], cosines[n] = 0.0, 0.0
    state[TURN] = turn
    state[WRITE] = (write + count) & mask


def prepare(setting: Setting) -> Any:
    """Start with empty lines and the sine at its upward zero."""
    import numpy as np

    room = ring_size(setting.rate_hz * (MOST_TIME_S + MOST_DEPTH_S) + BLOCK)
    state = np.zeros(LINES + 2 * room + ROWS * BLOCK)
    state[ROOM] = room
    return state


def _late_span(setting: Setting) -> Span:
    """Return the delay. [samples]"""
    half = setting.span("depth").hi / 2.0
    late_s = setting.span("time") + Span(-half, half)
    longest = setting.rate_hz * (MOST_TIME_S + MOST_DEPTH_S)
    return late_s.scaled(setting.rate_hz).clipped(NEAREST, longest)


def _sources(setting: Setting) -> list[tuple[int, ...]]:
    """Return which inputs each side can hear."""
    span = setting.span("source")
    mono, stereo = span.hi >= 0.5, span.lo <= 0.5
    right = ((0,) if mono else ()) + ((1,) if stereo else ())
    return [(0,), right]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and wet by the mix; a mean of copies leaves no more than one of them does."""
    late = _late_span(setting)
    overshoot = overshoot_at(late.lo) if late.is_point else MOST_OVERSHOOT
    mix = setting.span("mix")
    found = []
    for heard in _sources(setting):
        dry = ins[heard[0]].clipped(-RAIL_V, RAIL_V)
        for i in heard[1:]:
            dry = dry.hull(ins[i].clipped(-RAIL_V, RAIL_V))
        wet = between(dry.including(0.0), overshoot)
        ends = [dry.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
        found.append(ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V))
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The sound and its copies are as good as unlike: powers add; a steady part stays as it is."""
    mix, voices = setting["mix"], round(setting["voices"]) + 1
    found = []
    for side in range(2):
        source = ins[0 if round(setting["source"]) == 1 else side].clipped(-RAIL_V, RAIL_V)
        share = 1.0 / math.sqrt(float(voices))
        wet = Level(source.lo_v, source.hi_v, source.dc_v, source.rms_v * share)
        wet = wet.hit_like(source, share).scaled(mix)
        found.append(mixed([source.scaled(1.0 - mix), wet]).clipped(-RAIL_V, RAIL_V))
    return found


def delay(setting: Setting) -> list[Lag]:
    """The shortest and longest delay of a copy; dry sound comes at once."""
    late, mix = _late_span(setting), setting.span("mix")
    lo_s = 0.0 if mix.lo < 1.0 else late.lo / setting.rate_hz
    hi_s = late.hi / setting.rate_hz if mix.hi > 0.0 else 0.0
    right = "left" if round(setting["source"]) == 1 else "right"
    return [Lag("left", "left", lo_s, hi_s), Lag(right, "right", lo_s, hi_s)]


KIND = Kind(
    name="chorus",
    doc=__doc__,
    inputs=(
        Port("left", "the sound, or both sides' sound"),
        Port("right", "the sound"),
    ),
    outputs=(Port("left", "the sound and its copies"), Port("right", "the sound and its copies")),
    params=(
        Param("rate", "Hz", 0.0, 10.0, 0.8, "of the sine; 0 holds it"),
        Param("depth", "s", 0.0, MOST_DEPTH_S, 0.004, "from the shortest to the longest delay"),
        Param("time", "s", 0.001, MOST_TIME_S, 0.012, "mean delay"),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 1 only copies"),
        Param("voices", "ratio", 0.0, 3.0, 1.0, "copies of each side", VOICE_NAMES),
        Param("source", "ratio", 0.0, 1.0, 0.0, "what the right side hears", ("stereo", "mono")),
    ),
    kernel=chorus,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
