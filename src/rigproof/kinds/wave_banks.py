"""Banks of single waves for the wavetable oscillator: which harmonics each wave holds, and tables free of aliasing.

A wave is told by the strengths of its harmonics, all of them sines that start together. For every half octave of pitch
there is a table with the harmonics that fit below half the sample rate, so nothing can fold down. One gain a wave, the
same in all its tables, brings the highest peak of any of them to 1.

Source: Fourier series of triangle, saw and pulse (any calculus text); a sine folded by a sine, sin(g sin x), has the
harmonics 2 J_n(g) at odd n (Jacobi and Anger's expansion, any text on Bessel functions); the other banks are ours.
"""

from __future__ import annotations

from functools import cache
from math import cos, exp, pi, sin, sqrt
from typing import Any

WAVES = 8
"""Waves of a bank."""
POINTS = 2048
"""Points of a table. Read along straight lines, a harmonic h loses sinc^2(h / 2048), which is made up for beforehand,
and has images of about (h / 2048)^2 of its strength."""
WIDTH = POINTS + 1
"""Numbers of a table; the first point comes again at the end."""
MOST_HARMONICS = 512
"""Harmonics of the fullest table: up to half of 48 kHz at 47 Hz."""
LEVELS_PER_OCTAVE = 2
LEVELS = 20
"""Tables of a wave, from `MOST_HARMONICS` down to 1."""


def harmonics_of(level: int) -> int:
    """Return how many harmonics the tables of a level hold."""
    return max(1, int(MOST_HARMONICS * 2.0 ** (-level / LEVELS_PER_OCTAVE) + 1e-9))


def _shapes(wave: int, n: int) -> float:
    """Sine, triangle, soft saw, saw, square, and pulses up and down that grow narrower."""
    if wave == 0:
        return 1.0 if n == 1 else 0.0
    if wave == 1:
        return (-1.0) ** (n // 2) / n**2 if n % 2 else 0.0
    if wave == 2:
        return exp(-n / 6.0) / n
    if wave == 3:
        return 1.0 / n
    if n % 2 == 0:
        return 0.0
    duty = (0.5, 0.25, 0.125, 0.0625)[wave - 4]  # up so long, and down so long half a wave later
    return (-1.0) ** (n // 2) * sin(pi * n * duty) / n


def _organ(wave: int, n: int) -> float:
    """Few harmonics, as pipes and drawbars are mixed."""
    mixed = (
        (1,), (1, 2), (1, 3), (1, 2, 4), (1, 3, 5), (1, 2, 3, 4, 6, 8), (1, 5, 9, 13),
        (1, 2, 3, 4, 5, 6, 8, 10, 12, 16),
    )[wave]  # fmt: skip
    return 1.0 / sqrt(n) if n in mixed else 0.0


def _vowels(wave: int, n: int) -> float:
    """A saw with a resonance that moves up from the second to the 24th harmonic."""
    centre = (2.0, 3.0, 4.0, 6.0, 9.0, 12.0, 17.0, 24.0)[wave]
    return (0.3 + 4.0 * exp(-(((n - centre) / (0.15 * centre + 0.7)) ** 2))) / n


def _folds(wave: int, n: int) -> float:
    """A sine folded by a sine, ever more: sin(g sin x), g from a half to 6.5."""
    if n % 2 == 0 or n > 63:  # beyond n = 63 J_n(6.5) is nothing
        return 0.0
    return _bessel(n, FOLDS[wave])


FOLDS = (0.5, 1.0, 1.7, 2.5, 3.5, 4.5, 5.5, 6.5)
"""How far each wave of the bank `folds` is folded."""
BANKS = {"shapes": _shapes, "organ": _organ, "vowels": _vowels, "folds": _folds}


def _bessel(n: int, x: float) -> float:
    """Return Bessel's J_n(x) by its integral; the sum over a whole turn is exact for all that is less than 256."""
    steps = 256
    turns = (2.0 * pi * i / steps for i in range(steps))
    return sum(cos(n * t - x * sin(t)) for t in turns) / steps


GAINS = {
    "shapes": (0.999999, 0.811073, 0.896105, 0.52147, 0.999999, 1.060657, 1.075157, 1.078719),
    "organ": (0.999999, 0.673499, 0.874314, 0.639999, 0.742489, 0.440678, 0.485917, 0.361909),
    "vowels": (0.261418, 0.318014, 0.360676, 0.418263, 0.469154, 0.498983, 0.528903, 0.552494),
    "folds": (4.127649, 2.272464, 1.730805, 1.968905, 1.994814, 1.52493, 1.673477, 1.874257),
}
"""What brings the highest peak of each wave's tables to 1, or a millionth below. Worked out once, so that levels can be
told without making tables; a test makes them and compares."""


@cache
def strengths(bank: str, wave: int) -> tuple[float, ...]:
    """Return the strength of every harmonic of a wave from 1, scaled as the tables are."""
    gain = GAINS[bank][wave]
    return tuple(gain * BANKS[bank](wave, n) for n in range(1, MOST_HARMONICS + 1))


@cache
def tables(bank: str) -> Any:
    """Return float64[LEVELS * WAVES * WIDTH], level by level, wave by wave."""
    import numpy as np

    found = np.zeros((LEVELS, WAVES, WIDTH))
    lift = 1.0 / np.sinc(np.arange(1, MOST_HARMONICS + 1) / POINTS) ** 2
    for wave in range(WAVES):
        lifted = np.array(strengths(bank, wave)) * lift
        for level in range(LEVELS):
            count = harmonics_of(level)
            spectrum = np.zeros(POINTS // 2 + 1, dtype=complex)
            spectrum[1 : count + 1] = lifted[:count] * -0.5j * POINTS
            found[level, wave, :POINTS] = np.fft.irfft(spectrum, POINTS)
    found[:, :, POINTS] = found[:, :, 0]
    flat = found.reshape(-1)
    flat.flags.writeable = False
    return flat
