"""Wavetable oscillator: eight waves in a row, and a voltage that moves from one to the next. 1 V/octave.

`bank` chooses the row: `shapes` (sine, triangle, saws, square, ever narrower pulses up and down), `organ` (a few
harmonics), `vowels` (a saw with a resonance that climbs) or `folds` (a sine folded over and over). `position` stands at
a wave or between two, which are then mixed; 5 V at its CV move it over the whole row. Pitch and `fm` add up in octaves.

Every half octave has its own tables, with the harmonics that lie below half the sample rate, and the two nearest are
mixed, so that nothing folds down and the highest harmonics, where there are many, fade in and out between 17 and 24 kHz
(at 48 kHz). What straight lines between the points of a table leave lies at least 80 dB down from 1 kHz up, and 65 dB
for the brightest waves at 50 Hz. Every wave is scaled to the same peak.

Left out: sync; drift; pitch above 0.45 of the sample rate; harmonics beyond the 512th, which only counts below
47 Hz. Fast `fm` and a position that moves at audio rate make side bands, and those may fold.

Source: band-limited tables, one for each range of pitch: common practice, no source; the waves see `wave_banks`;
1 V/octave by definition.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, log
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
    RATE_HZ,
    Beat,
    Kind,
    Level,
    Option,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.wave_banks import (
    BANKS,
    LEVELS,
    LEVELS_PER_OCTAVE,
    MOST_HARMONICS,
    POINTS,
    WAVES,
    WIDTH,
    harmonics_of,
    strengths,
    tables,
)
from rigproof.model.sheet import RawValue
from rigproof.units import C4_HZ, hz_from_pitch_v

TUNE_HZ, FINE, FM_DEPTH, POSITION, LEVEL_V = 1, 2, 3, 4, 5
PITCH_IN, FM_IN, POSITION_IN = 0, 1, 2
PHASE, OCTAVES, RATIO, LAST_HZ, BASE, TABLES = 0, 1, 2, 3, 4, 5

LN_2 = math.log(2.0)
FASTEST_TURN = 0.45
"""Most of a wave in one sample."""
FULL_V = 5.0
"""A CV of this much moves over the whole row. Common practice, no source. [V]"""


def tables_above(turn: float) -> float:
    """Return which table, counted from the fullest, is the fullest that may be read, for a phase that turns this fast
    a sample; the part behind the point says how far it has faded into the next.

    Table 1 begins to be needed where harmonic 512 reaches half the sample rate; from there half an octave a table. Each
    has faded away by the time that its own highest harmonic would be too high.
    """
    return 1.0 + LEVELS_PER_OCTAVE / LN_2 * log(2.0 * MOST_HARMONICS * turn)


def wavetable_oscillator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Turn the phase; read two waves in two tables each, along straight lines."""
    pitch_v, fm_v = bus_v[ins[PITCH_IN], start:stop], bus_v[ins[FM_IN], start:stop]
    position_v, out_v = bus_v[ins[POSITION_IN], start:stop], bus_v[outs[0], start:stop]
    sample_s = 1.0 / params[RATE_HZ, 0]
    tune_step, fine_step = params[TUNE_HZ, 1], params[FINE, 1] / 12.0
    depth_step, place_step, level_step = (
        params[FM_DEPTH, 1],
        params[POSITION, 1],
        params[LEVEL_V, 1],
    )
    tune_hz = params[TUNE_HZ, 0] + start * tune_step
    fine = params[FINE, 0] / 12.0 + start * fine_step
    depth = params[FM_DEPTH, 0] + start * depth_step
    place_0 = params[POSITION, 0] + start * place_step
    level_0 = params[LEVEL_V, 0] + start * level_step
    phase, octaves, ratio = state[PHASE], state[OCTAVES], state[RATIO]
    last_hz, base = state[LAST_HZ], state[BASE]
    for n in range(stop - start):
        wanted = clamp(pitch_v[n], -RAIL_V, RAIL_V) + fine + n * fine_step
        wanted += clamp(fm_v[n], -RAIL_V, RAIL_V) * (depth + n * depth_step)
        if wanted != octaves:
            octaves = wanted
            ratio = exp(LN_2 * octaves)
        hz = tune_hz + n * tune_step
        if hz != last_hz:
            last_hz = hz
            base = tables_above(hz * sample_s)
        phase += min(hz * ratio * sample_s, FASTEST_TURN)
        phase = phase - 1.0 if phase >= 1.0 else phase
        place = place_0 + n * place_step + clamp(position_v[n], -RAIL_V, RAIL_V) / FULL_V
        place = clamp(place, 0.0, 1.0) * (WAVES - 1)
        wave = (
            min(int(place), WAVES - 2) & 7
        )  # the masks tell the compiler that no index is negative
        mix = place - wave
        step = clamp(base + LEVELS_PER_OCTAVE * octaves, 0.0, LEVELS - 1.0)
        level = min(int(step), LEVELS - 2) & 31
        fade = step - level
        spot = phase * POINTS
        point = int(spot) & (POINTS - 1)
        part = spot - point
        rich = TABLES + (level * WAVES + wave) * WIDTH + point
        poor = rich + WAVES * WIDTH
        a = state[rich] + part * (state[rich + 1] - state[rich])
        b = state[rich + WIDTH] + part * (state[rich + WIDTH + 1] - state[rich + WIDTH])
        c = state[poor] + part * (state[poor + 1] - state[poor])
        d = state[poor + WIDTH] + part * (state[poor + WIDTH + 1] - state[poor + WIDTH])
        low = a + mix * (b - a)
        high = c + mix * (d - c)
        out_v[n] = (level_0 + n * level_step) * (low + fade * (high - low))
    state[PHASE], state[OCTAVES], state[RATIO] = phase, octaves, ratio
    state[LAST_HZ], state[BASE] = last_hz, base


def prepare(setting: Setting) -> Any:
    """Put the bank's tables into the state; the phase stands at the start of a wave."""
    import numpy as np

    return np.concatenate([[0.0, 0.0, 1.0, -1.0, 0.0], tables(str(setting.options["bank"]))])


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak: every table stays within it, and so does what lies between two."""
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The power of the harmonics that are heard where pitch and position stand; a moving position is not counted."""
    octaves = ins[PITCH_IN].dc_v + setting["fine"] / 12.0 + setting["fm-depth"] * ins[FM_IN].dc_v
    hz = hz_from_pitch_v(min(max(octaves, -30.0), 30.0), at_zero_hz=setting["tune"])
    step = tables_above(max(min(hz / setting.rate_hz, FASTEST_TURN), 1e-9))
    count = harmonics_of(min(max(int(step), 0), LEVELS - 1))
    place = setting["position"] + ins[POSITION_IN].clipped(-RAIL_V, RAIL_V).dc_v / FULL_V
    place = min(max(place, 0.0), 1.0) * (WAVES - 1)
    wave = min(int(place), WAVES - 2)
    mix = place - wave
    bank = str(setting.options["bank"])
    power = sum(
        ((1.0 - mix) * a + mix * b) ** 2 / 2.0
        for a, b in zip(
            strengths(bank, wave)[:count], strengths(bank, wave + 1)[:count], strict=True
        )
    )
    level_v = setting["level"]
    return [Level(-level_v, level_v, 0.0, level_v * math.sqrt(min(power, 1.0)))]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Waves come at a pitch of their own, which the pitch input decides."""
    return [Pulse(Beat.FREE)]


def check_bank(value: RawValue) -> str | None:
    """Return what was expected when a value names no bank."""
    return None if isinstance(value, str) and value in BANKS else f"one of {', '.join(BANKS)}"


KIND = Kind(
    name="wavetable-oscillator",
    doc=__doc__,
    inputs=(
        Port("pitch", "1 V/octave", is_control=True),
        Port("fm", "`fm-depth` octaves a volt", is_control=True),
        Port("position", "5 V move over the whole row of waves", is_control=True),
    ),
    outputs=(Port("out", "the wave at the position"),),
    params=(
        Param("tune", "Hz", 1.0, 20_000.0, C4_HZ, "frequency at 0 V"),
        Param("fine", "semitones", -12.0, 12.0, 0.0, "added to the tune"),
        Param("fm-depth", "octaves", -2.0, 2.0, 0.0, "octaves for each volt at `fm`"),
        Param("position", "ratio", 0.0, 1.0, 0.0, "place in the row of waves"),
        Param("level", "V", 0.0, 10.0, 5.0, "peak of every wave"),
    ),
    options=(Option("bank", "shapes", "the row of waves", check=check_bank),),
    kernel=wavetable_oscillator,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
