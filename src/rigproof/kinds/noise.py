"""Noise: white and pink at once, the same in every render of the same patch.

White is flat and even: every voltage up to `level` comes equally often. Pink falls by 3.01 dB an octave from 15 Hz to
20 kHz within a quarter of a dB, made of seven poles and zeros two octaves apart; its RMS is a quarter of `level`, and
its rare peaks beyond are cut off. Left out: the bursts and the hum of real noise. White repeats after 2^32 samples, a
day at 48 kHz.

Source: 1/f noise by poles and zeros in turn at equal ratios, a staircase that falls half of the way (S. Orfanidis,
Introduction to Signal Processing, 1996, appendix on 1/f noise; from memory); RMS of an even spread is its peak over
sqrt 3 (definition).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Any

from rigproof.kinds.base import Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.randomness import TWO_32, first_seed, next_random

LEVEL_V = 1
SEED, SCALE, STAGES = 0, 1, 2
PAIRS = 7
STAGE_COUNT = PAIRS + 1
POLE, ZERO, LAST_IN, LAST_OUT = 0, 1, 2, 3
STAGE_SIZE = 4

LOWEST_HZ = 7.0
"""The first pole."""
SPACING_RATIO = 4.0
"""From one pole to the next; a zero stands halfway, an octave above its pole."""
TOP_ZERO = -0.08
"""A last zero against the rise near half the sample rate; found by trial, and held by a test."""
PINK_CREST_RATIO = 4.0
"""Peak over RMS at which pink noise is cut off."""


def noise(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Draw white, filter it pink."""
    white_out, pink_out = outs[0], outs[1]
    level_0, level_step = params[LEVEL_V, 0], params[LEVEL_V, 1]
    seed = state[SEED]
    scale = state[SCALE]
    for n in range(start, stop):
        level_v = level_0 + n * level_step
        seed = next_random(seed)
        white = 2.0 * seed / TWO_32 - 1.0
        bus_v[white_out, n] = level_v * white
        x = white
        for stage in range(STAGE_COUNT):
            at = STAGES + STAGE_SIZE * stage
            y = x - state[at + ZERO] * state[at + LAST_IN] + state[at + POLE] * state[at + LAST_OUT]
            state[at + LAST_IN] = x
            state[at + LAST_OUT] = y
            x = y
        bus_v[pink_out, n] = level_v * clamp(scale * x, -1.0, 1.0)
    state[SEED] = seed


@cache
def _pink(rate_hz: float) -> tuple[float, list[tuple[float, float]]]:
    """Return the scale that makes a quarter of full RMS, and pole and zero of each stage."""
    import numpy as np

    pairs = []
    for pair in range(PAIRS):
        pole_hz = LOWEST_HZ * SPACING_RATIO**pair
        zero_hz = pole_hz * math.sqrt(SPACING_RATIO)
        pairs.append((_decay(pole_hz, rate_hz), _decay(zero_hz, rate_hz)))
    pairs.append((0.0, TOP_ZERO))
    z = np.exp(-2j * np.pi * np.fft.rfftfreq(1 << 18))
    gain = np.ones(z.size, dtype=complex)
    for pole, zero in pairs:
        gain *= (1.0 - zero * z) / (1.0 - pole * z)
    white_rms = 1.0 / math.sqrt(3.0)
    root = math.sqrt(float(np.mean(np.abs(gain) ** 2)))
    return 1.0 / (PINK_CREST_RATIO * white_rms * root), pairs


def _decay(hz: float, rate_hz: float) -> float:
    """Return by how much a pole at `hz` decays in one sample."""
    return math.exp(-2.0 * math.pi * hz / rate_hz)


def prepare(setting: Setting) -> list[float]:
    """Seed from the patch and the section's name; the filter at rest."""
    scale, pairs = _pink(setting.rate_hz)
    stages = [number for pole, zero in pairs for number in (pole, zero, 0.0, 0.0)]
    return [first_seed(setting.seed, setting.name), scale, *stages]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The peak."""
    level_v = setting.span("level").hi
    return [Span(-level_v, level_v)] * 2


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """White by its even spread, pink as it is scaled."""
    level_v = setting["level"]
    return [
        Level.swing(level_v, crest_ratio=math.sqrt(3.0)),
        Level.swing(level_v, crest_ratio=PINK_CREST_RATIO),
    ]


KIND = Kind(
    name="noise",
    doc=__doc__,
    outputs=(
        Port("white", "equally loud in every hertz"),
        Port("pink", "equally loud in every octave"),
    ),
    params=(Param("level", "V", 0.0, 10.0, 5.0, "peak of both"),),
    kernel=noise,
    prepare=prepare,
    interval=interval,
    level=level,
)
