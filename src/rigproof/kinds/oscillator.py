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
from math import exp
from typing import Any

from rigproof.kinds.base import (
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
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
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

PHASE, SLOT, IS_HIGH, LAST_WIDTH, SYNC_HIGH, OCTAVES, RATIO = 0, 1, 2, 3, 4, 5, 6
SAW, TRIANGLE, SINE, PULSE = 8, 8 + POINTS, 8 + 2 * POINTS, 8 + 3 * POINTS
STEPS = 8 + 4 * POINTS + STEP_TABLE
CORNERS = 8 + 4 * POINTS + CORNER_TABLE

LN_2 = math.log(2.0)
FASTEST_TURN = 0.45
"""Most of a wave in one sample."""
WIDTH_RATIO_PER_V = 0.1
NARROWEST, WIDEST = 0.01, 0.99
SYNC_V = 1.0


def switch_pulse(state: Any, slot: int, late: float) -> None:
    """Turn the pulse over, `late` samples ago."""
    add_lack(state, STEPS, PULSE, slot, clamp(late, 0.0, 1.0), 2.0 - 4.0 * state[IS_HIGH])
    state[IS_HIGH] = 1.0 - state[IS_HIGH]


def advance(
    state: Any,
    slot: int,
    phase: float,
    turn: float,
    length: float,
    after: float,
    width_0: float,
    width_1: float,
) -> float:
    """Go on by `length` of a sample that ends `after` before the present one; return the new phase.

    `turn` is the change of phase in a whole sample; the width goes from `width_0` to `width_1`.
    """
    end = phase + turn * length
    if phase < 0.5 <= end:
        add_lack(
            state, CORNERS, TRIANGLE, slot, clamp(after + (end - 0.5) / turn, 0.0, 1.0), -8.0 * turn
        )
    if end < 1.0:
        gap_0 = phase - width_0
        gap_1 = end - width_1
        if (gap_1 >= 0.0) == (state[IS_HIGH] == 1.0):
            moved = gap_1 - gap_0
            part = gap_1 / moved if moved > 1e-12 or moved < -1e-12 else 0.0
            switch_pulse(state, slot, after + length * clamp(part, 0.0, 1.0))
        return end
    end -= 1.0
    late = after + end / turn
    if state[IS_HIGH] == 1.0:
        switch_pulse(state, slot, min(late + (1.0 - width_1) / turn, after + length))
    late = clamp(late, 0.0, 1.0)
    add_lack(state, STEPS, SAW, slot, late, -2.0)
    add_lack(state, CORNERS, TRIANGLE, slot, late, 8.0 * turn)
    switch_pulse(state, slot, late)
    if end >= width_1:
        switch_pulse(state, slot, after + (end - width_1) / turn)
    return end


def start_anew(state: Any, slot: int, phase: float, turn: float, late: float) -> None:
    """Take all waves from `phase` to the start, `late` samples ago."""
    add_lack(state, STEPS, SAW, slot, late, -2.0 * phase)
    if phase < 0.5:
        add_lack(state, STEPS, TRIANGLE, slot, late, -4.0 * phase)
    else:
        add_lack(state, STEPS, TRIANGLE, slot, late, 4.0 * (phase - 1.0))
        add_lack(state, CORNERS, TRIANGLE, slot, late, 8.0 * turn)
    add_lack(state, STEPS, SINE, slot, late, -sine_of_turn(phase))
    add_lack(state, CORNERS, SINE, slot, late, 2.0 * math.pi * turn * (1.0 - cosine_of_turn(phase)))
    if state[IS_HIGH] == 0.0:
        switch_pulse(state, slot, late)


def oscillator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Turn the phase, write each wave as it stands, round its jumps and corners."""
    pitch_in, fm_in, width_in, sync_in = ins[PITCH_IN], ins[FM_IN], ins[WIDTH_IN], ins[SYNC_IN]
    saw_out, triangle_out = outs[SAW_OUT], outs[TRIANGLE_OUT]
    sine_out, pulse_out = outs[SINE_OUT], outs[PULSE_OUT]
    sample_s = 1.0 / params[RATE_HZ, 0]
    tune_hz, tune_step = params[TUNE_HZ, 0], params[TUNE_HZ, 1]
    fine, fine_step = params[FINE, 0] / 12.0, params[FINE, 1] / 12.0
    depth, depth_step = params[FM_DEPTH, 0], params[FM_DEPTH, 1]
    width_0, width_step = params[WIDTH, 0], params[WIDTH, 1]
    level_0, level_step = params[LEVEL_V, 0], params[LEVEL_V, 1]
    phase = state[PHASE]
    slot = int(state[SLOT])
    octaves = state[OCTAVES]
    ratio = state[RATIO]
    width_before = state[LAST_WIDTH]
    was_high = state[SYNC_HIGH]
    sync_before_v = clamp(bus_v[sync_in, start - 1], -RAIL_V, RAIL_V)
    for n in range(start, stop):
        wanted = clamp(bus_v[pitch_in, n], -RAIL_V, RAIL_V) + fine + n * fine_step
        wanted += clamp(bus_v[fm_in, n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
        if wanted != octaves:
            octaves = wanted
            ratio = exp(LN_2 * octaves)
        turn = min((tune_hz + n * tune_step) * ratio * sample_s, FASTEST_TURN)
        width = width_0 + n * width_step
        width += WIDTH_RATIO_PER_V * clamp(bus_v[width_in, n], -RAIL_V, RAIL_V)
        width = clamp(width, NARROWEST, WIDEST)
        sync_v = clamp(bus_v[sync_in, n], -RAIL_V, RAIL_V)
        is_high = schmitt(sync_v, was_high, SYNC_V)
        end = phase + turn
        if is_high > was_high:
            rise_v = sync_v - sync_before_v
            late = clamp((sync_v - SYNC_V) / rise_v, 0.0, 1.0) if rise_v > 1e-9 else 0.0
            phase = advance(state, slot, phase, turn, 1.0 - late, late, width_before, width)
            start_anew(state, slot, phase, turn, late)
            phase = advance(state, slot, 0.0, turn, late, 0.0, width, width)
        elif (
            end < 1.0 and (end < 0.5) == (phase < 0.5) and (end < width) == (state[IS_HIGH] == 1.0)
        ):
            phase = end  # nothing happens within this sample, as in most
        else:
            phase = advance(state, slot, phase, turn, 1.0, 0.0, width_before, width)
        was_high = is_high
        sync_before_v = sync_v
        width_before = width
        half = 4.0 * phase - 1.0
        state[SAW + slot] += 2.0 * phase - 1.0
        state[TRIANGLE + slot] += half if phase < 0.5 else 2.0 - half
        state[SINE + slot] += sine_of_turn(phase)
        state[PULSE + slot] += 2.0 * state[IS_HIGH] - 1.0
        level_v = level_0 + n * level_step
        bound_v = min(OVERSHOOT_RATIO * level_v, RAIL_V)
        done = (slot + AHEAD) & (POINTS - 1)
        bus_v[saw_out, n] = clamp(level_v * state[SAW + done], -bound_v, bound_v)
        bus_v[triangle_out, n] = clamp(level_v * state[TRIANGLE + done], -bound_v, bound_v)
        bus_v[sine_out, n] = clamp(level_v * state[SINE + done], -bound_v, bound_v)
        bus_v[pulse_out, n] = clamp(level_v * state[PULSE + done], -bound_v, bound_v)
        state[SAW + done] = 0.0
        state[TRIANGLE + done] = 0.0
        state[SINE + done] = 0.0
        state[PULSE + done] = 0.0
        slot = (slot + 1) & (POINTS - 1)
    state[PHASE] = phase
    state[SLOT] = slot
    state[OCTAVES] = octaves
    state[RATIO] = ratio
    state[LAST_WIDTH] = width_before
    state[SYNC_HIGH] = was_high


def prepare(setting: Setting) -> list[float]:
    """Start at the bottom of the saw, nothing in the rings."""
    first = [0.0] * STEPS
    first[IS_HIGH] = 1.0
    first[LAST_WIDTH] = clamp(setting["width"], NARROWEST, WIDEST)
    first[RATIO] = 1.0
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
