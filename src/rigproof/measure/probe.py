"""A probe at a jack: what a stretch of voltage looks like, which frequencies are in it, and how strong it is.

Source: F. J. Harris, On the use of windows for harmonic analysis with the discrete Fourier transform, Proc. IEEE 66
(1978): the Hann window's coherent gain is 0.5, and half of a sine stands at its positive frequency, so a sine of
amplitude A on a bin is 0.25 A times the length of the window.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SILENCE_V = 1e-9
"""What is below this is written as this in a spectrum, so that silence has a level. [V]"""


@dataclass(frozen=True, slots=True)
class Strength:
    """How strong a stretch is. [V]"""

    lo_v: float
    hi_v: float
    dc_v: float
    rms_v: float
    """About the mean."""


def strength(volts: Floats) -> Strength:
    """Return how strong a stretch is; raises `ValueError` for an empty one."""
    if not volts.size:
        raise ValueError("at least one sample")
    return Strength(float(volts.min()), float(volts.max()), float(volts.mean()), float(volts.std()))


def outline(volts: Floats, columns: int) -> tuple[Floats, Floats]:
    """Return the lowest and highest voltage in each of at most `columns` equal parts of a stretch.

    Nothing is left out, so a pulse of one sample shows however long the stretch is.

    >>> outline(np.array([0.0, 1.0, -1.0, 2.0]), 2)
    (array([ 0., -1.]), array([1., 2.]))
    """
    count = min(columns, len(volts))
    if count < 1:
        return np.zeros(0), np.zeros(0)
    starts = np.arange(count) * len(volts) // count
    return np.minimum.reduceat(volts, starts), np.maximum.reduceat(volts, starts)


def spectrum(volts: Floats, rate_hz: float) -> tuple[Floats, Floats]:
    """Return the frequencies [Hz] of a stretch and the amplitude of each [dB against a sine of 1 V peak]."""
    if len(volts) < 2:
        return np.zeros(0), np.zeros(0)
    window = np.hanning(len(volts) + 1)[:-1]
    amplitude = np.abs(np.fft.rfft((volts - volts.mean()) * window)) / (0.5 * 0.5 * len(volts))
    hz: Floats = np.fft.rfftfreq(len(volts), 1.0 / rate_hz).astype(np.float64)
    return (
        hz,
        20.0 * np.log10(np.maximum(amplitude, SILENCE_V)),
    )
