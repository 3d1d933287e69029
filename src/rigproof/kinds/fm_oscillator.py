"""FM oscillator: a sine whose phase is moved by a second sine. 1 V/octave, through zero.

The carrier is sin(2 pi f t + index sin(2 pi ratio f t)), so that its side bands lie at f plus and minus every multiple
of ratio times f, the n-th as strong as Bessel's J_n of the index. Whole ratios give harmonic tones, others bells. The
index is in radians: the knob plus `index-depth` for each volt at its CV, and may go through zero. A second sine of any
other source can move the phase too, through `phase`, by `phase-depth` turns a volt: the speed of the phase may then
turn round without a jump. Pitch and `fm` add up in octaves.

Nothing is band-limited: what lies beyond half the sample rate folds down. Side bands count up to about the index plus
two on either side, so the highest tone that matters lies near f (1 + ratio (index + 2)). At A4 and ratio 1 nothing is
heard to fold up to an index of 20. At A6 and ratio 2, at 48 kHz, what folds to below 5 kHz lies 129 dB down at index 3,
60 dB at index 6 and 16 dB at index 10, and what folds to anywhere 51 dB at index 3.

Left out: drift, feedback of a sine to its own phase, pitch of either sine above 0.45 of the sample rate.

Source: J. M. Chowning, The Synthesis of Complex Audio Spectra by Means of Frequency Modulation, Journal of the Audio
Engineering Society 21 (1973), 526-534 (from memory): side bands J_n(I) at the carrier plus and minus n times the
modulator; tests hold the spectrum to them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, floor
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
from rigproof.kinds.clipping import clamp
from rigproof.units import C4_HZ

TUNE_HZ, FINE, FM_DEPTH, RATIO, INDEX, INDEX_DEPTH, PHASE_DEPTH, LEVEL_V = 1, 2, 3, 4, 5, 6, 7, 8
PITCH_IN, FM_IN, INDEX_IN, PHASE_IN = 0, 1, 2, 3
CARRIER, MODULATOR, OCTAVES, FACTOR = 0, 1, 2, 3

LN_2 = math.log(2.0)
TURNS_PER_RADIAN = 0.5 / math.pi
FASTEST_TURN = 0.45
"""Most of a wave in one sample."""


def sine_of_turns(turns: float) -> float:
    """Return sin(2 pi turns) for any number of turns, within 1e-11.

    Source: Taylor's series to the 15th power on a quarter turn; what it leaves out is below 6.1e-12.
    """
    x = turns - floor(turns + 0.5)
    x = 0.5 - x if x > 0.25 else x
    x = -0.5 - x if x < -0.25 else x
    x *= 6.283185307179586
    s = x * x
    series = 1.0 / 6227020800.0 - s / 1307674368000.0
    series = 1.0 / 362880.0 + s * (-1.0 / 39916800.0 + s * series)
    series = -1.0 / 6.0 + s * (1.0 / 120.0 + s * (-1.0 / 5040.0 + s * series))
    return x * (1.0 + s * series)


def fm_oscillator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Turn both phases; bend the carrier's by the modulator's sine."""
    pitch_v, fm_v = bus_v[ins[PITCH_IN], start:stop], bus_v[ins[FM_IN], start:stop]
    index_v, phase_v = bus_v[ins[INDEX_IN], start:stop], bus_v[ins[PHASE_IN], start:stop]
    out_v, modulator_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    sample_s = 1.0 / params[RATE_HZ, 0]
    tune_step, fine_step, depth_step = (
        params[TUNE_HZ, 1],
        params[FINE, 1] / 12.0,
        params[FM_DEPTH, 1],
    )
    ratio_step, index_step = params[RATIO, 1], params[INDEX, 1]
    index_depth_step, phase_depth_step = params[INDEX_DEPTH, 1], params[PHASE_DEPTH, 1]
    level_step = params[LEVEL_V, 1]
    tune_hz = params[TUNE_HZ, 0] + start * tune_step
    fine = params[FINE, 0] / 12.0 + start * fine_step
    depth = params[FM_DEPTH, 0] + start * depth_step
    ratio_0 = params[RATIO, 0] + start * ratio_step
    index_0 = params[INDEX, 0] + start * index_step
    index_depth = params[INDEX_DEPTH, 0] + start * index_depth_step
    phase_depth = params[PHASE_DEPTH, 0] + start * phase_depth_step
    level_0 = params[LEVEL_V, 0] + start * level_step
    carrier, modulator = state[CARRIER], state[MODULATOR]
    octaves, factor = state[OCTAVES], state[FACTOR]
    for n in range(stop - start):
        wanted = clamp(pitch_v[n], -RAIL_V, RAIL_V) + fine + n * fine_step
        wanted += clamp(fm_v[n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
        if wanted != octaves:
            octaves = wanted
            factor = exp(LN_2 * octaves)
        turn = (tune_hz + n * tune_step) * factor * sample_s
        carrier += min(turn, FASTEST_TURN)
        carrier -= floor(carrier)
        modulator += min(turn * (ratio_0 + n * ratio_step), FASTEST_TURN)
        modulator -= floor(modulator)
        out_v[n] = carrier
        modulator_v[n] = modulator
    # The phases stand in the outputs' rows; the sines wait for nothing, so that they make vector code.
    for n in range(stop - start):
        index = clamp(index_v[n], -RAIL_V, RAIL_V) * (index_depth + n * index_depth_step)
        index += index_0 + n * index_step
        moved = clamp(phase_v[n], -RAIL_V, RAIL_V) * (phase_depth + n * phase_depth_step)
        bend = sine_of_turns(modulator_v[n])
        level_v = level_0 + n * level_step
        out_v[n] = level_v * sine_of_turns(out_v[n] + moved + TURNS_PER_RADIAN * index * bend)
        modulator_v[n] = level_v * bend
    state[CARRIER], state[MODULATOR] = carrier, modulator
    state[OCTAVES], state[FACTOR] = octaves, factor


def prepare(setting: Setting) -> list[float]:
    """Both sines at the start of a wave."""
    return [0.0, 0.0, 0.0, 1.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak of a sine, whatever its phase does."""
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)] * 2


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A sine's crest; a bent sine's too, but where the ratio is a small whole number side bands meet: summed there."""
    level_v, ratio = setting["level"], setting["ratio"]
    index = setting["index"] + setting["index-depth"] * ins[INDEX_IN].clipped(-RAIL_V, RAIL_V).dc_v
    sine = Level.swing(level_v, crest_ratio=math.sqrt(2.0))
    turns = next((t for t in (1, 2, 3, 4) if abs(ratio * t - round(ratio * t)) < 1e-9), None)
    if turns is None:
        return [sine, sine]
    points = 512 * turns
    at = [2.0 * math.pi * turns * i / points for i in range(points)]
    wave = [math.sin(x + index * math.sin(ratio * x)) for x in at]
    mean = sum(wave) / points
    power = sum(v * v for v in wave) / points
    rms_v = level_v * math.sqrt(max(power - mean**2, 0.0))
    return [Level(-level_v, level_v, level_v * mean, rms_v), sine]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Waves come at a pitch of their own, which the pitch input decides."""
    return [Pulse(Beat.FREE)] * 2


KIND = Kind(
    name="fm-oscillator",
    doc=__doc__,
    inputs=(
        Port("pitch", "1 V/octave", is_control=True),
        Port("fm", "`fm-depth` octaves a volt", is_control=True),
        Port("index", "`index-depth` radians a volt", is_control=True),
        Port("phase", "moves the carrier's phase, `phase-depth` turns a volt", is_control=True),
    ),
    outputs=(
        Port("out", "the carrier, bent"),
        Port("modulator", "the sine that bends it"),
    ),
    params=(
        Param("tune", "Hz", 1.0, 20_000.0, C4_HZ, "frequency at 0 V"),
        Param("fine", "semitones", -12.0, 12.0, 0.0, "added to the tune"),
        Param("fm-depth", "octaves", -2.0, 2.0, 0.0, "octaves for each volt at `fm`"),
        Param("ratio", "ratio", 0.0, 16.0, 1.0, "modulator's frequency over the carrier's"),
        Param("index", "ratio", -20.0, 20.0, 1.0, "how far the phase is bent, in radians"),
        Param("index-depth", "ratio", -5.0, 5.0, 1.0, "radians for each volt at `index`"),
        Param("phase-depth", "ratio", -1.0, 1.0, 0.1, "turns for each volt at `phase`"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of both sines"),
    ),
    kernel=fm_oscillator,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
