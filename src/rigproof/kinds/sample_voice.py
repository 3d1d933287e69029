"""Sample voice: a trigger plays one sound of a bank, at any pitch, through a simple envelope, mono or stereo.

`select` names the sound from 1, and 5 V at its CV reach over the whole bank; both are read at the trigger. `tune` and
the pitch CV add up in octaves and change the speed, from 5 octaves down to 3 up, band-limited (see `interpolation`).
`start` skips a share of the sound, with 1 ms of fade in. Full volume lasts for `hold`, or in gated mode as long as the
trigger is high, and then falls by 60 dB in every `decay`. A new trigger fades the sound before it out in 1 ms, so that
nothing clicks. Full scale is 5 V; like a converter the sum stops there, before the level. The level CV is linear,
unity from 5 V up.

Left out: the converter's own delay and noise, sounds played backwards or looped, a third trigger within 1 ms (it cuts
the fade of the first short).

Source: exponential decay, -60 dB after 6.907755 time constants (definition); 5 V full scale and 1 V/octave are common
practice.
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
    Level,
    Option,
    Param,
    Port,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.elementary import two_to
from rigproof.kinds.interpolation import (
    AHEAD,
    CROSSINGS,
    MOST_MASK,
    TABLES,
    halved,
    halved_frames,
    interpolation_tables,
    values_at,
)
from rigproof.model.sheet import RawValue

SELECT, TUNE, LEVEL, START, MODE, HOLD_S, DECAY_S = 1, 2, 3, 4, 5, 6, 7
TRIGGER_IN, SELECT_IN, PITCH_IN, LEVEL_IN = 0, 1, 2, 3
LEFT_OUT, RIGHT_OUT = 0, 1

TRIGGER_HIGH, SOUNDS, VOICE, FADING, BANK = 0, 1, 2, 10, 18
IS_ON, AT, DATA, FRAMES, CHANNELS, LOUD, HELD, FADE = 0, 1, 2, 3, 4, 5, 6, 7
"""State of one voice: whether it plays, its place, where its sound stands, its envelope, time since the trigger, and
the gain of its fade in or out."""
MOST_SOUNDS = 128
SOUND = 3
"""State of one sound of the bank: where its frames begin, how many, how many channels. Left comes first and then right;
behind them lie in the same way its copies at half and at a quarter of the rate."""
TABLES_AT = BANK + SOUND * MOST_SOUNDS
SPEEDS_AT = TABLES_AT + TABLES
"""Room for the speed in every sample of a block; all zero between blocks."""
DATA_AT = SPEEDS_AT + BLOCK

THRESHOLD_V = 1.0
"""A trigger counts from here up. Common practice, no source. [V]"""
FULL_V = 5.0
"""Full scale of a sound, and the CV that means all of it. Common practice, no source. [V]"""
FADE_S = 0.001
"""Fade of a sound that a new trigger ends, and of one that starts in its middle. Our choice. [s]"""
LOWEST_OCTAVES, HIGHEST_OCTAVES = -5.0, 3.0
TAU_60_DB = math.log(1000.0)
"""Time constants until -60 dB."""
FOREVER = 1e18
"""Longer than anything lasts. [samples]"""
SILENT_RATIO = 1e-6
"""Below -120 dB a decaying sound is over. Our choice."""
CREST_RATIO = 4.0
"""Peak to RMS of a percussive sound, 12 dB. Common practice, no source."""
ONE_SHOT, GATED = 0, 1


def start_voice(state: Any, select: float, select_v: float, start: float) -> None:
    """Let the playing voice fade and start the chosen sound; nothing happens without sounds."""
    sounds = int(state[SOUNDS])
    for i in range(8):
        state[FADING + i] = state[VOICE + i]
    state[FADING + FADE] = 1.0
    state[VOICE + IS_ON] = 0.0
    if sounds == 0:
        return
    chosen = math.floor(select - 0.5) + math.floor(clamp(select_v, 0.0, FULL_V) / FULL_V * sounds)
    sound = BANK + SOUND * min(max(chosen, 0), sounds - 1)
    state[VOICE + IS_ON] = 1.0
    state[VOICE + DATA] = state[sound]
    state[VOICE + FRAMES] = state[sound + 1]
    state[VOICE + CHANNELS] = state[sound + 2]
    state[VOICE + AT] = math.floor(clamp(start, 0.0, 1.0) * state[sound + 1])
    state[VOICE + LOUD] = 1.0
    state[VOICE + HELD] = 0.0
    state[VOICE + FADE] = 1.0 if state[VOICE + AT] <= 0.0 else 0.0


def write_speeds(speeds: Any, pitch_v: Any, octaves_0: float, octaves_step: float) -> None:
    """Write how many frames each sample goes on, where the pitch CV and the octaves it is added to put it."""
    count = pitch_v.shape[0]
    first_v = clamp(pitch_v[0], -RAIL_V, RAIL_V)
    moved = int(octaves_step != 0.0)
    for n in range(count):
        moved |= int(clamp(pitch_v[n], -RAIL_V, RAIL_V) != first_v)
    if moved == 0:
        speed = two_to(clamp(first_v + octaves_0, LOWEST_OCTAVES, HIGHEST_OCTAVES))
        for n in range(count):
            speeds[n] = speed
    else:
        for n in range(count):
            octaves = clamp(pitch_v[n], -RAIL_V, RAIL_V) + octaves_0 + n * octaves_step
            speeds[n] = two_to(clamp(octaves, LOWEST_OCTAVES, HIGHEST_OCTAVES))


def play_voice(
    state: Any,
    voice: int,
    speeds: Any,
    left: Any,
    right: Any,
    hold: float,
    falling: float,
    fade_step: float,
) -> None:
    """Add what one voice plays to both sides, until it is over.

    `speeds` are in frames a sample; `hold` is how many samples from the trigger the full volume lasts, `falling` what
    is left of it a sample later, `fade_step` is added to the gain of the fade.
    """
    tables = state[TABLES_AT : TABLES_AT + TABLES]
    channels = int(state[voice + CHANNELS])
    frames = int(state[voice + FRAMES])
    half_frames = halved_frames(frames)
    quarter_frames = halved_frames(half_frames)
    # Where each copy begins, and how far its right side lies behind its left.
    data = int(state[voice + DATA])
    half_at = data + channels * frames
    quarter_at = half_at + channels * half_frames
    side, half_side, quarter_side = 0, 0, 0
    if channels == 2:
        side, half_side, quarter_side = frames, half_frames, quarter_frames
    at, loud = state[voice + AT], state[voice + LOUD]
    held, fade = state[voice + HELD], state[voice + FADE]
    is_on = 1.0
    for n in range(speeds.shape[0]):
        speed = speeds[n]
        whole = int(at)
        if speed <= 1.0 and at == whole:  # on a frame: the sinc is zero at all others
            a, b = 0.0, 0.0
            if whole < frames:
                here = (data + whole) & MOST_MASK
                a, b = state[here], state[here + side]
        else:
            left_at, right_at, length, there, ratio = data, data + side, frames, at, speed
            if speed > 4.0:
                left_at, right_at, length = quarter_at, quarter_at + quarter_side, quarter_frames
                there, ratio = 0.25 * at + 1.5 * AHEAD, 0.25 * speed
            elif speed > 2.0:
                left_at, right_at, length = half_at, half_at + half_side, half_frames
                there, ratio = 0.5 * at + AHEAD, 0.5 * speed
            a, b = values_at(tables, state, left_at, right_at, length, there, ratio)
        gain = loud * fade
        left[n] += gain * a
        right[n] += gain * b
        at += speed
        if held >= hold:
            loud *= falling
        held += 1.0
        fade = min(1.0, fade + fade_step)
        if at > frames + CROSSINGS * max(1.0, speed) or loud < SILENT_RATIO or fade <= 0.0:
            is_on = 0.0
            loud = 0.0
            break
    state[voice + IS_ON] = is_on
    state[voice + AT] = at
    state[voice + LOUD] = loud
    state[voice + HELD] = held
    state[voice + FADE] = fade


def sample_voice(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Start on a trigger; read the sound, and the one that fades, at the pitch's speed, from one edge to the next."""
    trigger_v, select_v = bus_v[ins[TRIGGER_IN], start:stop], bus_v[ins[SELECT_IN], start:stop]
    pitch_v, level_v = bus_v[ins[PITCH_IN], start:stop], bus_v[ins[LEVEL_IN], start:stop]
    left, right = bus_v[outs[LEFT_OUT], start:stop], bus_v[outs[RIGHT_OUT], start:stop]
    count = stop - start
    high = state[TRIGGER_HIGH]
    for n in range(count):
        left[n] = 0.0
        right[n] = 0.0
    is_steady_here = is_steady(trigger_v, high, THRESHOLD_V)
    if is_steady_here and state[VOICE + IS_ON] <= 0.0 and state[FADING + IS_ON] <= 0.0:
        return
    rate_hz = params[RATE_HZ, 0]
    fade = 1.0 / max(1.0, FADE_S * rate_hz)
    falling = exp(-TAU_60_DB / (params[DECAY_S, 0] * rate_hz))
    tune, tune_step = params[TUNE, 0] / 12.0, params[TUNE, 1] / 12.0
    is_gated = params[MODE, 0] > 0.5
    speeds = state[SPEEDS_AT : SPEEDS_AT + count]
    write_speeds(speeds, pitch_v, tune + start * tune_step, tune_step)
    first = 0
    while first < count:
        last_high = high
        rose = False
        last = count
        if not is_steady_here:
            high = schmitt(trigger_v[first], last_high, THRESHOLD_V)
            rose = high > last_high
            last = first + 1
            while last < count:
                next_high = schmitt(trigger_v[last], high, THRESHOLD_V)
                if next_high > high or (is_gated and next_high < high):
                    break
                high = next_high
                last += 1
        if rose:
            share = params[START, 0] + (start + first) * params[START, 1]
            start_voice(state, params[SELECT, 0], select_v[first], share)
        hold = params[HOLD_S, 0] * rate_hz
        if is_gated:
            hold = FOREVER if high > 0.0 else 0.0
        for voice in range(VOICE, FADING + 1, FADING - VOICE):
            if state[voice + IS_ON] > 0.0:
                play_voice(
                    state,
                    voice,
                    speeds[first:last],
                    left[first:last],
                    right[first:last],
                    hold,
                    falling,
                    fade if voice == VOICE else -fade,
                )
        first = last
    state[TRIGGER_HIGH] = high
    gain_0 = params[LEVEL, 0] + start * params[LEVEL, 1]
    gain_step = params[LEVEL, 1]
    for n in range(count):
        speeds[n] = 0.0
        gain = FULL_V * (gain_0 + n * gain_step) * (clamp(level_v[n], 0.0, FULL_V) / FULL_V)
        left[n] = clamp(gain * clamp(left[n], -1.0, 1.0), -RAIL_V, RAIL_V)
        right[n] = clamp(gain * clamp(right[n], -1.0, 1.0), -RAIL_V, RAIL_V)


def prepare(setting: Setting) -> Any:
    """Put the tables, every sound, side after side, and its copies into the state; no voice plays."""
    import numpy as np

    head = np.zeros(BANK + SOUND * MOST_SOUNDS)
    head[SOUNDS] = min(len(setting.sounds), MOST_SOUNDS)
    parts = []
    data = DATA_AT
    for i, sound in enumerate(setting.sounds[:MOST_SOUNDS]):
        frames = np.nan_to_num(np.asarray(sound, dtype=np.float64), posinf=0.0, neginf=0.0)
        frames = frames.reshape(len(frames), -1)[:, :2]
        head[BANK + SOUND * i : BANK + SOUND * (i + 1)] = data, frames.shape[0], frames.shape[1]
        half = halved(frames)
        for copy in (frames, half, halved(half)):
            parts.append(copy.T.reshape(-1))
            data += copy.size
    return np.concatenate([head, interpolation_tables(), np.zeros(BLOCK), *parts])


def _peak_v(setting: Setting, level_v: Span) -> float:
    return min(RAIL_V, setting.span("level").hi * level_v.clipped(0.0, FULL_V).hi)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Full scale times the level and its CV, then the rails, whatever the sounds; silence without a trigger."""
    if ins[TRIGGER_IN].hi < THRESHOLD_V:
        return [ZERO] * 2
    peak = _peak_v(setting, ins[LEVEL_IN])
    return [Span(-peak, peak)] * 2


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A percussive sound that uses full scale; silence without a trigger."""
    if ins[TRIGGER_IN].hi_v < THRESHOLD_V:
        return [Level()] * 2
    cv = ins[LEVEL_IN]
    peak_v, top_v = (
        min(RAIL_V, setting["level"] * min(max(v, 0.0), FULL_V)) for v in (cv.hi_v, cv.top_v)
    )
    return [Level(-peak_v, peak_v, 0.0, top_v / CREST_RATIO, top_v)] * 2


def check_files(value: RawValue) -> str | None:
    """Return what was expected when a value is no list of sound files."""
    if (
        isinstance(value, tuple)
        and len(value) <= MOST_SOUNDS
        and all(isinstance(name, str) for name in value)
    ):
        return None
    return f"a list of up to {MOST_SOUNDS} sound files"


KIND = Kind(
    name="sample-voice",
    doc=__doc__,
    inputs=(
        Port("trigger", "a rise plays the sound", is_control=True),
        Port("select", "5 V reach over the whole bank", is_control=True),
        Port("pitch", "1 V/octave", is_control=True),
        Port("level", "5 V is unity", rest_v=5.0, is_control=True),
    ),
    outputs=(Port("left", "the sound"), Port("right", "its other side, the same for a mono sound")),
    params=(
        Param("select", "steps", 1.0, float(MOST_SOUNDS), 1.0, "the sound, from 1"),
        Param("tune", "semitones", -60.0, 36.0, 0.0, "transposition"),
        Param("level", "ratio", 0.0, 2.0, 1.0, "gain; at 1 full scale is 5 V"),
        Param("start", "ratio", 0.0, 1.0, 0.0, "share of the sound to skip"),
        Param("mode", "ratio", 0.0, 1.0, 0.0, "what ends the hold", choices=("one-shot", "gated")),
        Param("hold", "s", 0.0, 60.0, 60.0, "time at full volume in one-shot mode"),
        Param("decay", "s", 0.001, 60.0, 0.5, "time to fall by 60 dB after the hold"),
    ),
    options=(Option("files", (), "the bank: sound files of the project", check=check_files),),
    kernel=sample_voice,
    prepare=prepare,
    interval=interval,
    level=level,
)
