"""Oscillator: saw, triangle, sine and pulse at once, 1 V/octave, with exponential FM, pulse-width CV and hard sync.

The waves are band-limited: every jump and corner, also one made by sync or a moving width, is rounded by the short low
pass of `waves`, so they come out 4 samples late and ring up to 14 % past a jump. The saw rises, the triangle turns up
where the saw jumps, the pulse is high for the first `width` of the saw's rise. Sync starts all waves anew when its
input rises through 1 V, placed between the samples. Pitch and `fm` add up in octaves.

Left out: drift, warm-up, tracking errors, cross-talk between oscillators, the phase a real one happens to have when
the case is switched on (here 0), pitch above 0.45 of the sample rate, width below 1 or above 99 %.

Source: Fourier series of the four waves (any calculus text); 1 V/octave by definition; pulse-width scale of 10 % a
volt and 5 V peak are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    COLUMNS,
    RAIL_V,
    RATE_HZ,
    Beat,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp, limit
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.elementary import two_to
from rigproof.kinds.waves import (
    AHEAD,
    CORNER_TABLE,
    OVERSHOOT_RATIO,
    POINTS,
    STEP_TABLE,
    add_lack,
    cosine_of_turn,
    sine_of_turn,
    step_tables,
)
from rigproof.units import C4_HZ

TUNE_HZ, FINE, FM_DEPTH, WIDTH, LEVEL_V = 1, 2, 3, 4, 5
PITCH_IN, FM_IN, WIDTH_IN, SYNC_IN = 0, 1, 2, 3
SAW_OUT, TRIANGLE_OUT, SINE_OUT, PULSE_OUT = 0, 1, 2, 3

PHASE, IS_HIGH, LAST_WIDTH, SYNC_HIGH = 0, 1, 2, 3
WAITING = COLUMNS + POINTS
"""Numbers of each wave that can be touched in one call; behind the first `POINTS` they are zero between calls."""
SAW, TRIANGLE, SINE, PULSE = 8, 8 + WAITING, 8 + 2 * WAITING, 8 + 3 * WAITING
STEPS = 8 + 4 * WAITING + STEP_TABLE
CORNERS = 8 + 4 * WAITING + CORNER_TABLE

FASTEST_TURN = 0.45
"""Most of a wave in one sample."""
WIDTH_RATIO_PER_V = 0.1
NARROWEST, WIDEST = 0.01, 0.99
SYNC_V = 1.0


def switch_pulse(state: Any, at: int, late: float) -> None:
    """Turn the pulse over, `late` samples before the one that comes in at place `at` of this call."""
    add_lack(state, STEPS, PULSE + at, clamp(late, 0.0, 1.0), 2.0 - 4.0 * state[IS_HIGH])
    state[IS_HIGH] = 1.0 - state[IS_HIGH]


def advance(
    state: Any,
    at: int,
    phase: float,
    turn: float,
    length: float,
    after: float,
    width_0: float,
    width_1: float,
) -> float:
    """Go on by `length` of a sample that ends `after` before the one at place `at`; return the new phase.

    `turn` is the change of phase in a whole sample; the width goes from `width_0` to `width_1`.
    """
    end = phase + turn * length
    if phase < 0.5 <= end:
        add_lack(
            state, CORNERS, TRIANGLE + at, clamp(after + (end - 0.5) / turn, 0.0, 1.0), -8.0 * turn
        )
    if end < 1.0:
        gap_0 = phase - width_0
        gap_1 = end - width_1
        if (gap_1 >= 0.0) == (state[IS_HIGH] == 1.0):
            moved = gap_1 - gap_0
            part = gap_1 / moved if moved > 1e-12 or moved < -1e-12 else 0.0
            switch_pulse(state, at, after + length * clamp(part, 0.0, 1.0))
        return end
    end -= 1.0
    late = after + end / turn
    if state[IS_HIGH] == 1.0:
        switch_pulse(state, at, min(late + (1.0 - width_1) / turn, after + length))
    late = clamp(late, 0.0, 1.0)
    add_lack(state, STEPS, SAW + at, late, -2.0)
    add_lack(state, CORNERS, TRIANGLE + at, late, 8.0 * turn)
    switch_pulse(state, at, late)
    if end >= width_1:
        switch_pulse(state, at, after + (end - width_1) / turn)
    return end


def start_anew(state: Any, at: int, phase: float, turn: float, late: float) -> None:
    """Take all waves from `phase` to the start, `late` samples ago."""
    add_lack(state, STEPS, SAW + at, late, -2.0 * phase)
    if phase < 0.5:
        add_lack(state, STEPS, TRIANGLE + at, late, -4.0 * phase)
    else:
        add_lack(state, STEPS, TRIANGLE + at, late, 4.0 * (phase - 1.0))
        add_lack(state, CORNERS, TRIANGLE + at, late, 8.0 * turn)
    add_lack(state, STEPS, SINE + at, late, -sine_of_turn(phase))
    add_lack(state, CORNERS, SINE + at, late, 2.0 * math.pi * turn * (1.0 - cosine_of_turn(phase)))
    if state[IS_HIGH] == 0.0:
        switch_pulse(state, at, late)


def write_turns(turns: Any, pitch_v: Any, fm_v: Any, params: Any, start: int) -> None:
    """Write by how much of a wave the phase turns in each sample."""
    sample_s = 1.0 / params[RATE_HZ, 0]
    tune_step, fine_step, depth_step = (
        params[TUNE_HZ, 1],
        params[FINE, 1] / 12.0,
        params[FM_DEPTH, 1],
    )
    tune_hz = params[TUNE_HZ, 0] + start * tune_step
    fine = params[FINE, 0] / 12.0 + start * fine_step
    depth = params[FM_DEPTH, 0] + start * depth_step
    for n in range(turns.shape[0]):
        octaves = clamp(pitch_v[n], -RAIL_V, RAIL_V) + fine + n * fine_step
        octaves += clamp(fm_v[n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
        turn = (tune_hz + n * tune_step) * two_to(octaves) * sample_s
        turns[n] = limit(turn, 0.0, FASTEST_TURN)


def turn_synced(
    state: Any, sync_v: Any, sync_before_v: float, turns: Any, widths: Any, phases: Any, highs: Any
) -> None:
    """Turn the phase sample by sample, and start anew at each rise of the sync."""
    phase = state[PHASE]
    width_before = state[LAST_WIDTH]
    was_high = state[SYNC_HIGH]
    before_v = sync_before_v
    for n in range(turns.shape[0]):
        turn, width = turns[n], widths[n]
        now_v = clamp(sync_v[n], -RAIL_V, RAIL_V)
        is_high = schmitt(now_v, was_high, SYNC_V)
        if is_high > was_high:
            rise_v = now_v - before_v
            late = clamp((now_v - SYNC_V) / rise_v, 0.0, 1.0) if rise_v > 1e-9 else 0.0
            phase = advance(state, n, phase, turn, 1.0 - late, late, width_before, width)
            start_anew(state, n, phase, turn, late)
            phase = advance(state, n, 0.0, turn, late, 0.0, width, width)
        else:
            phase = advance(state, n, phase, turn, 1.0, 0.0, width_before, width)
        was_high = is_high
        before_v = now_v
        width_before = width
        phases[n] = phase
        highs[n] = 2.0 * state[IS_HIGH] - 1.0
    state[PHASE] = phase
    state[LAST_WIDTH] = width_before
    state[SYNC_HIGH] = was_high


def turn_freely(state: Any, turns: Any, widths: Any, phases: Any, highs: Any) -> None:
    """Turn the phase where there is no sync; in most samples nothing else happens."""
    phase = state[PHASE]
    width_before = state[LAST_WIDTH]
    high = 2.0 * state[IS_HIGH] - 1.0
    for n in range(turns.shape[0]):
        turn, width = turns[n], widths[n]
        end = phase + turn
        if end < 1.0 and (end < 0.5) == (phase < 0.5) and (end < width) == (high > 0.0):
            phase = end
        else:
            phase = advance(state, n, phase, turn, 1.0, 0.0, width_before, width)
            high = 2.0 * state[IS_HIGH] - 1.0
        width_before = width
        phases[n] = phase
        highs[n] = high
    state[PHASE] = phase
    state[LAST_WIDTH] = width_before


def come_out(out_v: Any, waiting: Any, level_v: float, level_step: float) -> None:
    """Write one wave out, keep what still waits, and clear the rest."""
    count = out_v.shape[0]
    for n in range(count):
        now_v = level_v + n * level_step
        bound_v = min(OVERSHOOT_RATIO * now_v, RAIL_V)
        out_v[n] = limit(now_v * waiting[n], -bound_v, bound_v)
    for i in range(POINTS):
        waiting[i] = waiting[count + i]
    for i in range(count):
        waiting[POINTS + i] = 0.0


def oscillator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Turn the phase and round every jump and corner, then write the waves; rows serve as paper until then."""
    turns, widths = bus_v[outs[SAW_OUT], start:stop], bus_v[outs[TRIANGLE_OUT], start:stop]
    phases, highs = bus_v[outs[SINE_OUT], start:stop], bus_v[outs[PULSE_OUT], start:stop]
    width_v, sync_v = bus_v[ins[WIDTH_IN], start:stop], bus_v[ins[SYNC_IN], start:stop]
    write_turns(
        turns, bus_v[ins[PITCH_IN], start:stop], bus_v[ins[FM_IN], start:stop], params, start
    )
    width_step = params[WIDTH, 1]
    width_0 = params[WIDTH, 0] + start * width_step
    for n in range(stop - start):
        width = width_0 + n * width_step + WIDTH_RATIO_PER_V * clamp(width_v[n], -RAIL_V, RAIL_V)
        widths[n] = limit(width, NARROWEST, WIDEST)
    if is_steady(sync_v, state[SYNC_HIGH], SYNC_V):
        turn_freely(state, turns, widths, phases, highs)
    else:
        before_v = clamp(bus_v[ins[SYNC_IN], start - 1], -RAIL_V, RAIL_V)
        turn_synced(state, sync_v, before_v, turns, widths, phases, highs)
    saw, triangle = state[SAW : SAW + WAITING], state[TRIANGLE : TRIANGLE + WAITING]
    sine, pulse = state[SINE : SINE + WAITING], state[PULSE : PULSE + WAITING]
    for n in range(stop - start):
        half = 4.0 * phases[n] - 1.0
        saw[AHEAD + n] += 2.0 * phases[n] - 1.0
        triangle[AHEAD + n] += half if half < 1.0 else 2.0 - half
        pulse[AHEAD + n] += highs[n]
    for n in range(stop - start):
        sine[AHEAD + n] += sine_of_turn(phases[n])
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    come_out(bus_v[outs[SAW_OUT], start:stop], saw, level_v, level_step)
    come_out(bus_v[outs[TRIANGLE_OUT], start:stop], triangle, level_v, level_step)
    come_out(bus_v[outs[SINE_OUT], start:stop], sine, level_v, level_step)
    come_out(bus_v[outs[PULSE_OUT], start:stop], pulse, level_v, level_step)


def prepare(setting: Setting) -> list[float]:
    """Start at the bottom of the saw, nothing waiting to come out."""
    first = [0.0] * STEPS
    first[IS_HIGH] = 1.0
    first[LAST_WIDTH] = clamp(setting["width"], NARROWEST, WIDEST)
    return [*first, *step_tables()]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Peak and ringing; a sine that is never synced does not ring."""
    level_v = setting.span("level").hi
    rings_v = min(OVERSHOOT_RATIO * level_v, RAIL_V)
    is_synced = ins[SYNC_IN].hi >= SYNC_V  # a steady voltage too, once, at the first sample
    rings = Span(-rings_v, rings_v)
    return [rings, rings, rings if is_synced else Span(-level_v, level_v), rings]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Crest factors of the waves; ringing is not counted, nor sync."""
    level_v = setting["level"]
    width = min(max(setting["width"] + WIDTH_RATIO_PER_V * ins[WIDTH_IN].dc_v, NARROWEST), WIDEST)
    return [
        Level.swing(level_v, crest_ratio=math.sqrt(3.0)),
        Level.swing(level_v, crest_ratio=math.sqrt(3.0)),
        Level.swing(level_v, crest_ratio=math.sqrt(2.0)),
        Level(
            -level_v,
            level_v,
            level_v * (2.0 * width - 1.0),
            2.0 * level_v * math.sqrt(width * (1.0 - width)),
        ),
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """All waves come at a pitch of their own, which the pitch input decides."""
    return [Pulse(Beat.FREE)] * 4


def delay(setting: Setting) -> list[Lag]:
    """The samples by which the waves are late."""
    late_s = AHEAD / setting.rate_hz
    return [
        Lag(i.name, o.name, late_s, late_s, is_signal=False)
        for i in KIND.inputs
        for o in KIND.outputs
    ]


KIND = Kind(
    name="oscillator",
    doc=__doc__,
    inputs=(
        Port("pitch", "1 V/octave", is_control=True),
        Port("fm", "`fm-depth` octaves a volt, up to audio rate", is_control=True),
        Port("width", "pulse width, 10 % a volt", is_control=True),
        Port("sync", "starts the wave anew when it rises through 1 V", is_control=True),
    ),
    outputs=(
        Port("saw", "rises, then jumps down"),
        Port("triangle", "rises and falls in straight lines"),
        Port("sine", "the fundamental alone"),
        Port("pulse", "high for `width` of the time"),
    ),
    params=(
        Param("tune", "Hz", 1.0, 20_000.0, C4_HZ, "frequency at 0 V"),
        Param("fine", "semitones", -12.0, 12.0, 0.0, "added to the tune"),
        Param("fm-depth", "octaves", -2.0, 2.0, 0.0, "octaves for each volt at `fm`"),
        Param("width", "ratio", 0.01, 0.99, 0.5, "share of the time that the pulse is high"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of every wave"),
    ),
    kernel=oscillator,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
