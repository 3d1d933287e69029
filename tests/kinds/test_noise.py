"""Noise: its RMS, its spread, its slope, and that it comes again."""

import math

import numpy as np
import pytest

from rigproof.kinds.noise import KIND
from tests.kinds.alone import run
from tests.kinds.running import Floats, play, setting_of

SAMPLES = 1 << 19
OCTAVES_HZ = [20.0 * 2.0**i for i in range(10)]


@pytest.fixture(scope="module")
def waves() -> dict[str, Floats]:
    return run(KIND, SAMPLES)


def octave_powers_db(wave: Floats, rate_hz: float = 48_000.0) -> Floats:
    """Power in each octave from 20 Hz to 20480 Hz."""
    power = np.abs(np.fft.rfft(wave * np.hanning(wave.size))) ** 2
    hz = np.fft.rfftfreq(wave.size, 1 / rate_hz)
    bands = [power[(hz >= lo) & (hz < 2 * lo)].sum() for lo in OCTAVES_HZ]
    return np.asarray(10 * np.log10(bands))


def test_white_has_the_rms_of_an_even_spread(waves: dict[str, Floats]) -> None:
    """Source: RMS of an even spread is peak/sqrt 3. Tolerance: four standard errors of the estimate."""
    white = waves["white"]
    assert white.std() == pytest.approx(5.0 / math.sqrt(3.0), rel=4 * 0.45 / math.sqrt(SAMPLES))
    assert abs(white.mean()) < 4 * 5.0 / math.sqrt(3.0 * SAMPLES)
    counts = np.histogram(white, bins=20, range=(-5.0, 5.0))[0]
    assert np.abs(counts / SAMPLES * 20 - 1.0).max() < 4 * math.sqrt(20 / SAMPLES) * 1.1


def test_white_neighbours_know_nothing_of_each_other(waves: dict[str, Floats]) -> None:
    white = waves["white"] / waves["white"].std()
    for lag in (1, 2, 3, 10, 100, 1024):
        assert abs(float(np.mean(white[lag:] * white[:-lag]))) < 5 / math.sqrt(SAMPLES)


def test_white_is_equal_in_every_hertz(waves: dict[str, Floats]) -> None:
    """Every octave has twice the width, so 3.0103 dB more power."""
    slope = np.diff(octave_powers_db(waves["white"]))
    assert slope.mean() == pytest.approx(3.0103, abs=0.15)


def test_pink_is_equal_in_every_octave(waves: dict[str, Floats]) -> None:
    """Source: definition of pink noise, power as 1/f. Tolerance: 1.5 dB where an octave has few lines."""
    powers = octave_powers_db(waves["pink"])
    assert np.abs(powers - powers.mean()).max() < 1.5
    assert np.abs(powers[4:] - powers[4:].mean()).max() < 0.3


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 96_000.0])
def test_pink_filter_falls_by_three_decibels_an_octave(rate_hz: float) -> None:
    """The filter itself: its impulse response against 1/sqrt f, from 15 Hz to 20 kHz, within 0.3 dB."""
    state = np.asarray(KIND.prepare(setting_of(KIND, rate_hz=rate_hz)))
    hz = np.geomspace(15.0, 20_000.0, 400)
    z = np.exp(-2j * np.pi * hz / rate_hz)
    gain = np.ones(hz.size, dtype=complex)
    for pole, zero in state[2:].reshape(-1, 4)[:, :2]:
        gain *= (1 - zero * z) / (1 - pole * z)
    off_db = 20 * np.log10(np.abs(gain)) + 10 * np.log10(hz)
    assert off_db.max() - off_db.min() < 0.5


def test_pink_has_the_level_told(waves: dict[str, Floats]) -> None:
    assert waves["pink"].std() == pytest.approx(5.0 / 4.0, rel=0.03)
    assert np.mean(np.abs(waves["pink"]) >= 5.0) < 3e-4


def test_the_same_seed_gives_the_same_noise() -> None:
    first, again = (play(KIND, setting_of(KIND, seed=7), 640)["white"] for _ in range(2))
    other = play(KIND, setting_of(KIND, seed=8), 640)["white"]
    elsewhere = play(KIND, setting_of(KIND, seed=7, name="another.section"), 640)["white"]
    np.testing.assert_array_equal(first, again)
    assert np.abs(np.corrcoef([first, other, elsewhere]) - np.eye(3)).max() < 0.2
