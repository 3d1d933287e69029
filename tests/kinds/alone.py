"""Shorthand for tests of one section: parameters as keywords, spectra of whole cycles."""

from typing import Any

import numpy as np

from rigproof.kinds.base import Kind
from tests.kinds.running import Floats, play, setting_of


def run(
    kind: Kind,
    samples: int,
    *,
    rate_hz: float = 48_000.0,
    ins: dict[str, Any] | None = None,
    **values: float,
) -> dict[str, Floats]:
    """Run a fresh section; `_` in a parameter's name stands for `-`."""
    named = {name.replace("_", "-"): value for name, value in values.items()}
    return play(kind, setting_of(kind, values=named, rate_hz=rate_hz), samples, ins)


def components_v(wave_v: Floats) -> Floats:
    """Peak volts of every component that fits a whole number of times; exact for a wave that repeats in it."""
    found = np.abs(np.fft.rfft(wave_v)) * 2.0 / wave_v.size
    found[0] /= 2.0
    return np.asarray(found)


def gain_db(impulse: Floats, hz: float, rate_hz: float = 48_000.0) -> float:
    """Gain of an impulse response at one frequency."""
    turns = np.exp(-2j * np.pi * hz / rate_hz * np.arange(impulse.size))
    return float(20.0 * np.log10(abs(np.dot(impulse, turns))))
