"""Granular player: up to eight short grains of what was just heard, each from its own place, at its own side.

The last `memory` seconds are kept. A grain begins `density` times a second (never at 0) and at every rise of `trigger`;
while all eight sound, none is added. It starts `position` of the memory back, a fifth more for each volt at
`position`, and up to `spray` seconds further by chance; it lasts `size` and is faded in and out by the square of a
sine. It plays `semitones` higher, and an octave for each volt at `pitch`, three octaves up or down at the most; a fast
grain starts far enough back not to overtake the present. `spread` throws grains to the sides by chance, as a balance.

While `freeze` is high nothing new is kept and grains go on being taken from what is there. The memory's size counts
from the start; it does not move.

Left out: backward grains, other windows; shifted up, what lands above half the sample rate folds back.

Source: D. Gabor's grains, Acoustical Quanta and the Theory of Hearing, Nature 159, 1947 (from memory); raised-cosine
windows half a size apart add up to 1 (trigonometry).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, floor
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
from rigproof.kinds.delay_line import MOST_MASK, NEAREST, between, read_line, ring_size
from rigproof.kinds.edges import schmitt
from rigproof.kinds.randomness import TWO_32, first_seed, next_random
from rigproof.kinds.waves import sine_of_turn

POSITION, SPRAY_S, SIZE_S, DENSITY_HZ, SEMITONES, SPREAD, LEVEL, MIX, MEMORY_S = range(1, 10)
SIGNAL_IN, POSITION_IN, PITCH_IN, TRIGGER_IN, FREEZE_IN = 0, 1, 2, 3, 4

ROOM, WRITE, TRIGGER_HIGH, FREEZE_HIGH, SEED, NEXT = 0, 1, 2, 3, 4, 5
"""State: `NEXT` counts up to 1, where the next grain begins."""
GRAINS = 6
AGE, TOTAL, LATE, SPEED, LEFT, RIGHT = 0, 1, 2, 3, 4, 5
EACH = 6
"""State of a grain: samples played and in all (0: none), where it reads, how fast, and its gain on each side."""
MOST_GRAINS = 8
WINDOW = GRAINS + EACH * MOST_GRAINS
"""Room for the window of one grain over a block; zero between calls."""
LINE = WINDOW + BLOCK

SPARE = BLOCK + 8.0
"""A grain reads no further back than all of the line but this, as a whole block may have been written before it."""
LN_2 = math.log(2.0)
MOST_OCTAVES = 3.0
FULL_V = 5.0
"""A position CV of this much goes through all of the memory. Common practice, no source. [V]"""
THRESHOLD_V = 1.0
"""A gate is high from here up. Common practice, no source. [V]"""


def begin_grain(
    state: Any, late: float, spray: float, size: float, speed: float, spread: float, frozen: float
) -> None:
    """Start a grain in the first free place, if there is one; times in samples."""
    for grain in range(MOST_GRAINS):
        here = GRAINS + EACH * grain
        if state[here + TOTAL] > 0.0:
            continue
        state[SEED] = next_random(state[SEED])
        away = spray * state[SEED] / TWO_32
        state[SEED] = next_random(state[SEED])
        side = spread * (2.0 * state[SEED] / TWO_32 - 1.0)
        total = max(2.0, float(floor(size + 0.5)))
        overtakes = (speed - 1.0 + frozen) * total
        nearest = NEAREST + max(0.0, overtakes)
        farthest = state[ROOM] - SPARE
        start = max(NEAREST + floor(late + away + 0.5), nearest)
        state[here + AGE] = 0.0
        state[here + TOTAL] = total
        state[here + LATE] = min(start, farthest)
        state[here + SPEED] = speed
        state[here + LEFT] = min(1.0, 1.0 - side)
        state[here + RIGHT] = min(1.0, 1.0 + side)
        return


def play_grains(state: Any, in_v: Any, left_v: Any, right_v: Any, frozen: float) -> None:
    """Keep what comes in, unless frozen, and write what all grains play, as long as none begins.

    A grain reads no nearer than `NEAREST`, so it does not matter that all of `in_v` is kept before.
    """
    count = in_v.shape[0]
    room = int(state[ROOM])
    mask = (room - 1) & MOST_MASK
    write = int(state[WRITE])
    on = 0 if frozen > 0.0 else 1
    if on == 1:
        for n in range(count):
            state[LINE + ((write + n) & mask)] = settle(clamp(in_v[n], -RAIL_V, RAIL_V))
        state[WRITE] = (write + count) & mask
    for n in range(count):
        left_v[n] = 0.0
        right_v[n] = 0.0
    window = state[WINDOW : WINDOW + count]
    for here in range(GRAINS, WINDOW, EACH):
        total, age, late = state[here + TOTAL], state[here + AGE], state[here + LATE]
        if total <= 0.0:
            continue
        left, right = state[here + LEFT], state[here + RIGHT]
        turn = 0.5 / total
        away = on - state[here + SPEED]
        most = min(count, int(total - age))
        for n in range(most):
            fade = sine_of_turn(turn * (age + n))
            window[n] = fade * fade
        for n in range(most):
            place = limit(late, NEAREST, room - SPARE)
            grain_v = window[n] * read_line(state, LINE, mask, write + on * n, place)
            left_v[n] += left * grain_v
            right_v[n] += right * grain_v
            late += away
        state[here + LATE] = late
        state[here + AGE] = age + most
        if age + most >= total:
            state[here + TOTAL] = 0.0
    for n in range(count):
        window[n] = 0.0


def play_sample(state: Any, x: float, frozen: float) -> tuple[float, float]:
    """Return what `play_grains` writes, for a single sample `x`, without its long way round: for a loop of cables."""
    room = int(state[ROOM])
    mask = (room - 1) & MOST_MASK
    write = int(state[WRITE])
    left_v, right_v = 0.0, 0.0
    for here in range(GRAINS, WINDOW, EACH):
        total = state[here + TOTAL]
        if total > 0.0:
            fade = sine_of_turn(0.5 / total * state[here + AGE])
            late = state[here + LATE]
            place = limit(late, NEAREST, room - SPARE)
            grain_v = fade * fade * read_line(state, LINE, mask, write, place)
            left_v += state[here + LEFT] * grain_v
            right_v += state[here + RIGHT] * grain_v
            state[here + LATE] = late + ((1.0 - frozen) - state[here + SPEED])
            state[here + AGE] += 1.0
            if state[here + AGE] >= total:
                state[here + TOTAL] = 0.0
    if frozen == 0.0:
        state[LINE + write] = settle(clamp(x, -RAIL_V, RAIL_V))
        state[WRITE] = (write + 1) & mask
    return left_v, right_v


def granular(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Play the grains from one beginning to the next, then mix."""
    rate_hz = params[RATE_HZ, 0]
    in_v, position_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[POSITION_IN], start:stop]
    pitch_v, trigger_v = bus_v[ins[PITCH_IN], start:stop], bus_v[ins[TRIGGER_IN], start:stop]
    freeze_v = bus_v[ins[FREEZE_IN], start:stop]
    left_v, right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    density_step = params[DENSITY_HZ, 1] / rate_hz
    density_0 = params[DENSITY_HZ, 0] / rate_hz + start * density_step
    level_step, mix_step = params[LEVEL, 1], params[MIX, 1]
    level_0 = params[LEVEL, 0] + start * level_step
    mix_0 = params[MIX, 0] + start * mix_step
    memory = params[MEMORY_S, 0] * rate_hz
    trigger, freeze, soon = state[TRIGGER_HIGH], state[FREEZE_HIGH], state[NEXT]
    count = stop - start
    first = 0
    for n in range(count + 1):
        begins, was_freeze = False, freeze
        if n < count:
            was_trigger = trigger
            trigger = schmitt(trigger_v[n], trigger, THRESHOLD_V)
            freeze = schmitt(freeze_v[n], freeze, THRESHOLD_V)
            soon += density_0 + n * density_step
            begins = soon >= 1.0 or trigger > was_trigger
        if n > first and (n == count or begins or freeze != was_freeze):
            if n == first + 1:
                left_v[first], right_v[first] = play_sample(state, in_v[first], was_freeze)
            else:
                play_grains(state, in_v[first:n], left_v[first:n], right_v[first:n], was_freeze)
            first = n
        if begins:
            soon -= 1.0 if soon >= 1.0 else 0.0
            back = params[POSITION, 0] + clamp(position_v[n], -RAIL_V, RAIL_V) / FULL_V
            octaves = params[SEMITONES, 0] / 12.0 + clamp(pitch_v[n], -RAIL_V, RAIL_V)
            speed = exp(LN_2 * clamp(octaves, -MOST_OCTAVES, MOST_OCTAVES))
            begin_grain(
                state,
                clamp(back, 0.0, 1.0) * memory,
                params[SPRAY_S, 0] * rate_hz,
                params[SIZE_S, 0] * rate_hz,
                speed,
                params[SPREAD, 0],
                freeze,
            )
    for n in range(count):
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        mix = mix_0 + n * mix_step
        wet = mix * (level_0 + n * level_step)
        left_v[n] = clamp((1.0 - mix) * x + wet * left_v[n], -RAIL_V, RAIL_V)
        right_v[n] = clamp((1.0 - mix) * x + wet * right_v[n], -RAIL_V, RAIL_V)
    state[TRIGGER_HIGH] = trigger
    state[FREEZE_HIGH] = freeze
    state[NEXT] = soon


def prepare(setting: Setting) -> Any:
    """Start with an empty memory; spray and side by the seed of the patch."""
    import numpy as np

    behind_s = setting.span("memory").hi + setting.span("spray").hi
    room = ring_size(behind_s * setting.rate_hz + SPARE)
    state = np.zeros(LINE + room)
    state[ROOM] = room
    state[SEED] = first_seed(setting.seed, setting.name)
    return state


def _most_grains(ins: Sequence[Span], setting: Setting) -> int:
    """Return how many grains can sound at once."""
    if ins[TRIGGER_IN].hi >= THRESHOLD_V:
        return MOST_GRAINS
    density_hz = setting.span("density").hi
    if density_hz == 0.0:
        return 0
    # A grain is rounded to whole samples, and is two samples at least.
    longest = max(2.0, setting.span("size").hi * setting.rate_hz + 0.5)
    return min(MOST_GRAINS, math.floor(longest * density_hz / setting.rate_hz) + 1)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and wet by the mix; wet is as many grains as can sound at once, with the cubic's overshoot."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    grains = between(source.including(0.0)).scaled(float(_most_grains(ins, setting)))
    wet = grains * setting.span("level")
    mix = setting.span("mix")
    ends = [source.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
    return [ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V)] * 2


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Grains are unlike: powers add, three eighths of the sound's for each that sounds; steady parts add by a half.

    Triggered grains are not counted, as nobody can say how many come.
    """
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    overlap = min(setting["density"] * setting["size"], float(MOST_GRAINS))
    share = 1.0 - setting["spread"] / 4.0
    gain = math.sqrt(
        0.375 * overlap * (1.0 - setting["spread"] / 2.0 + setting["spread"] ** 2 / 6.0)
    )
    wet = Level(
        source.lo_v,
        source.hi_v,
        source.dc_v * overlap / 2.0 * share,
        source.rms_v * gain,
    ).hit_like(source, gain)
    wet = wet.scaled(setting["level"] * setting["mix"])
    spans = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    both = mixed([source.scaled(1.0 - setting["mix"]), wet])
    lo_v, hi_v = min(both.lo_v, both.dc_v), max(both.hi_v, both.dc_v)
    held = Level(lo_v, hi_v, both.dc_v, both.rms_v).hit_like(both, 1.0)
    return [held.clipped(span.lo, span.hi) for span in spans]


def delay(setting: Setting) -> list[Lag]:
    """From the position to the end of the spray, with nothing at `position`; dry sound comes at once."""
    mix, near_s = setting.span("mix"), NEAREST / setting.rate_hz
    back = setting.span("position") * setting.span("memory")
    lo_s = 0.0 if mix.lo < 1.0 else near_s + back.lo
    hi_s = near_s + back.hi + setting.span("spray").hi if mix.hi > 0.0 else 0.0
    return [Lag("in", side, lo_s, hi_s) for side in ("left", "right")] + [
        Lag(steering, side, is_signal=False)
        for steering in ("position", "pitch", "trigger", "freeze")
        for side in ("left", "right")
    ]


KIND = Kind(
    name="granular",
    doc=__doc__,
    inputs=(
        Port("in", "what grains are taken from"),
        Port("position", "5 V go back through all of the memory", is_control=True),
        Port("pitch", "an octave a volt", is_control=True),
        Port("trigger", "a rise begins a grain", is_control=True),
        Port("freeze", "while high, nothing new is kept", is_control=True),
    ),
    outputs=(Port("left", "dry and grains"), Port("right", "dry and grains")),
    params=(
        Param("position", "ratio", 0.0, 1.0, 0.2, "how far back, of the memory"),
        Param("spray", "s", 0.0, 2.0, 0.05, "how much further by chance"),
        Param("size", "s", 0.002, 1.0, 0.12, "length of a grain"),
        Param("density", "Hz", 0.0, 200.0, 16.0, "grains a second; 0 leaves it to the trigger"),
        Param("semitones", "semitones", -36.0, 36.0, 0.0, "shift at 0 V"),
        Param("spread", "ratio", 0.0, 1.0, 0.5, "how far to the sides by chance"),
        Param("level", "ratio", 0.0, 2.0, 1.0, "gain of the grains"),
        Param("mix", "ratio", 0.0, 1.0, 0.5, "0 is dry, 1 only grains"),
        Param("memory", "s", 0.1, 20.0, 2.0, "what is kept"),
    ),
    kernel=granular,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
