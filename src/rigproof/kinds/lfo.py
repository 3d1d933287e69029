"""LFO: sine, triangle, saw and square below audio rate, running freely or locked to a clock; with a phase reset.

Free: `rate`, times two for each volt at the rate input (`rate-depth` octaves a volt). Synced: `ratio` cycles for each
pulse of the clock. Two pulses tell the period; at every pulse the speed is chosen so that the phase is right at the
next one, so a steady clock is met exactly and a changing one without jumps. Until two pulses have come, and while
sync is off, it runs freely. The first pulse, and the first after a reset, are where a cycle starts. All waves start a
cycle together: sine and triangle rise from the middle, the saw from the bottom, the square is high first. Unipolar
waves go from 0 V to `level` instead of minus to plus.

Left out: rounding of the steps (nothing is band-limited: above some 100 Hz use an oscillator), a clock's loss: it
keeps its last speed.

Source: Fourier series and crest factors of the waves (any calculus text); frequency as the rate of phase (definition);
thresholds and levels are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from math import floor
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
    RATE_HZ,
    Beat,
    Kind,
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
from rigproof.kinds.waves import sine_of_turn
from rigproof.units import quarter_s

SPEED_HZ, RATE_DEPTH, LEVEL_V, POLARITY, SYNC, RATIO = 1, 2, 3, 4, 5, 6
RATE_IN, CLOCK_IN, RESET_IN = 0, 1, 2
SINE_OUT, TRIANGLE_OUT, SAW_OUT, SQUARE_OUT = 0, 1, 2, 3
PHASE, CLOCK_HIGH, RESET_HIGH, SINCE, PERIOD, COUNT, LOCKED_TURN = 0, 1, 2, 3, 4, 5, 6

FASTEST_TURN = 0.45
THRESHOLD_V = 1.0
LONGEST = 1e9
"""Samples after which nobody counts any more."""
RATIOS = (
    "1/32", "1/24", "1/16", "1/12", "1/8", "1/6", "1/4", "1/3", "1/2", "2/3", "3/4", "1",
    "4/3", "3/2", "2", "3", "4", "6", "8", "12", "16", "24", "32",
)  # fmt: skip
"""Cycles for each pulse of the clock."""
RATIO_VALUES = tuple(float(Fraction(name)) for name in RATIOS)
CYCLE = 96.0
"""Pulses after which every ratio has come back to the start of a cycle."""
FRESH = -1.0
"""`COUNT` when the next pulse is where a cycle starts."""


def write_turns(turns: Any, rate_v: Any, params: Any, start: int) -> None:
    """Write by how much of a cycle the phase turns in each sample while it runs freely."""
    sample_s = 1.0 / params[RATE_HZ, 0]
    speed_step, depth_step = params[SPEED_HZ, 1], params[RATE_DEPTH, 1]
    speed_hz = params[SPEED_HZ, 0] + start * speed_step
    depth = params[RATE_DEPTH, 0] + start * depth_step
    for n in range(turns.shape[0]):
        octaves = clamp(rate_v[n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
        turn = (speed_hz + n * speed_step) * two_to(octaves) * sample_s
        turns[n] = limit(turn, 0.0, FASTEST_TURN)


def follow(clock_v: Any, reset_v: Any, turns: Any, phases: Any, params: Any, state: Any) -> None:
    """Write the phases where the clock or the reset moves, sample by sample."""
    is_synced = params[SYNC, 0] >= 0.5
    ratio = RATIO_VALUES[int(clamp(params[RATIO, 0] + 0.5, 0.0, len(RATIO_VALUES) - 1.0))]
    phase = state[PHASE]
    for n in range(turns.shape[0]):
        turn = turns[n]
        if is_synced and state[PERIOD] > 0.0:
            turn = state[LOCKED_TURN]
        phase += turn
        if phase >= 1.0:
            phase -= 1.0
        reset_high = schmitt(clamp(reset_v[n], -100.0, 100.0), state[RESET_HIGH], THRESHOLD_V)
        if reset_high > state[RESET_HIGH]:
            phase = 0.0
            state[COUNT] = FRESH
        state[RESET_HIGH] = reset_high
        if state[SINCE] < LONGEST:
            state[SINCE] += 1.0
        clock_high = schmitt(clamp(clock_v[n], -100.0, 100.0), state[CLOCK_HIGH], THRESHOLD_V)
        if clock_high > state[CLOCK_HIGH]:
            if is_synced and state[SINCE] < LONGEST:
                state[PERIOD] = state[SINCE]
            state[SINCE] = 0.0
            if state[COUNT] < 0.0:
                state[COUNT] = 0.0
                if is_synced and state[PERIOD] == 0.0:
                    phase = 0.0
            else:
                state[COUNT] = state[COUNT] + 1.0 if state[COUNT] < CYCLE - 1.0 else 0.0
            if state[PERIOD] > 0.0:
                behind = state[COUNT] * ratio - phase
                behind -= floor(behind + 0.5)
                state[LOCKED_TURN] = clamp((ratio + behind) / state[PERIOD], 0.0, FASTEST_TURN)
        state[CLOCK_HIGH] = clock_high
        phases[n] = phase
    state[PHASE] = phase


def lfo(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Turn the phase freely or towards the next pulse; write four waves."""
    turns, phases = bus_v[outs[SAW_OUT], start:stop], bus_v[outs[SINE_OUT], start:stop]
    clock_v, reset_v = bus_v[ins[CLOCK_IN], start:stop], bus_v[ins[RESET_IN], start:stop]
    write_turns(turns, bus_v[ins[RATE_IN], start:stop], params, start)
    is_clock_steady = is_steady(clock_v, state[CLOCK_HIGH], THRESHOLD_V)
    if is_clock_steady and is_steady(reset_v, state[RESET_HIGH], THRESHOLD_V):
        is_locked = params[SYNC, 0] >= 0.5 and state[PERIOD] > 0.0
        locked_turn = state[LOCKED_TURN]
        phase = state[PHASE]
        for n in range(stop - start):
            phase += locked_turn if is_locked else turns[n]
            phase = phase - 1.0 if phase >= 1.0 else phase
            phases[n] = phase
        state[PHASE] = phase
        state[SINCE] = min(state[SINCE] + (stop - start), LONGEST)
    else:
        follow(clock_v, reset_v, turns, phases, params, state)
    level_step = params[LEVEL_V, 1]
    level_0 = params[LEVEL_V, 0] + start * level_step
    is_unipolar = params[POLARITY, 0] >= 0.5
    share, middle_share = (0.5, 0.5) if is_unipolar else (1.0, 0.0)
    triangle_v, square_v = (
        bus_v[outs[TRIANGLE_OUT], start:stop],
        bus_v[outs[SQUARE_OUT], start:stop],
    )
    saw_v, sine_v = bus_v[outs[SAW_OUT], start:stop], bus_v[outs[SINE_OUT], start:stop]
    for n in range(stop - start):
        scale_v = share * (level_0 + n * level_step)
        middle_v = middle_share * (level_0 + n * level_step)
        phase = phases[n]
        quarter = 4.0 * phase
        falling = 2.0 - quarter if phase < 0.75 else quarter - 4.0
        triangle_v[n] = middle_v + scale_v * (quarter if phase < 0.25 else falling)
        saw_v[n] = middle_v + scale_v * (2.0 * phase - 1.0)
        square_v[n] = middle_v + (scale_v if phase < 0.5 else -scale_v)
    for n in range(stop - start):
        now_v = level_0 + n * level_step
        sine_v[n] = middle_share * now_v + share * now_v * sine_of_turn(phases[n])


def prepare(setting: Setting) -> list[float]:
    """Start at the start of a cycle, no pulse seen."""
    return [0.0, 0.0, 0.0, LONGEST, 0.0, FRESH, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak, or from 0 V to it; both where a switch may be moved."""
    level_v, polarity = setting.span("level").hi, setting.span("polarity")
    lo_v = 0.0 if polarity.lo >= 0.5 else -level_v
    return [Span(lo_v, level_v)] * 4


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Crest factors of the waves, about the middle."""
    level_v = setting["level"]
    crests = (math.sqrt(2.0), math.sqrt(3.0), math.sqrt(3.0), 1.0)
    if setting["polarity"] >= 0.5:
        return [
            Level.swing(level_v / 2.0, crest_ratio=c).scaled(1.0, level_v / 2.0) for c in crests
        ]
    return [Level.swing(level_v, crest_ratio=c) for c in crests]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One pulse a cycle from every wave that rises through a threshold: the clock's times the ratio, or its own.

    Its own is told as with 0 V at the rate input.
    """
    clock, reset = ins[CLOCK_IN], ins[RESET_IN]
    if setting["sync"] < 0.5 or clock.beat is Beat.NONE:
        if reset.beat is not Beat.NONE:
            return [Pulse(Beat.IRREGULAR)] * 4
        hz = setting["rate"]
        return [Pulse(Beat.FREE, length_s=0.5 / hz, hz=hz)] * 4
    ratio = Fraction(RATIOS[round(setting["ratio"])])
    if clock.beat is Beat.STEADY and clock.per_quarter:
        per_quarter = clock.per_quarter * ratio
        half_s = quarter_s(setting.tempo_bpm) / float(per_quarter) / 2.0
        return [Pulse.steady(per_quarter, length_s=half_s)] * 4
    if clock.beat is Beat.FREE and clock.hz:
        hz = clock.hz * float(ratio)
        return [Pulse(Beat.FREE, length_s=0.5 / hz, hz=hz)] * 4
    return [Pulse(Beat.IRREGULAR)] * 4


KIND = Kind(
    name="lfo",
    doc=__doc__,
    inputs=(
        Port("rate", "`rate-depth` octaves a volt", is_control=True),
        Port("clock", "sets the speed when sync is on", is_control=True),
        Port("reset", "starts a cycle when it rises through 1 V", is_control=True),
    ),
    outputs=(
        Port("sine", "rises from the middle"),
        Port("triangle", "rises from the middle in straight lines"),
        Port("saw", "rises from the bottom, then jumps down"),
        Port("square", "high for the first half"),
    ),
    params=(
        Param("rate", "Hz", 0.001, 200.0, 1.0, "cycles a second when it runs freely"),
        Param("rate-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `rate`"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of every wave"),
        Param(
            "polarity", "ratio", 0.0, 1.0, 0.0, "about 0 V, or from 0 V up", ("bipolar", "unipolar")
        ),
        Param("sync", "ratio", 0.0, 1.0, 0.0, "follows the clock", ("off", "on")),
        Param(
            "ratio",
            "ratio",
            0.0,
            len(RATIOS) - 1.0,
            float(RATIOS.index("1")),
            "cycles a pulse",
            RATIOS,
        ),
    ),
    kernel=lfo,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
