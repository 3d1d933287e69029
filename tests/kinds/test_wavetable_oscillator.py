"""The wavetable oscillator against Fourier series, Bessel functions, equal temperament and the fold."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.special import jv

from rigproof.kinds.base import Level
from rigproof.kinds.wave_banks import BANKS, FOLDS, LEVELS, WAVES, harmonics_of, strengths, tables
from rigproof.kinds.wavetable_oscillator import KIND, check_bank
from tests.kinds.alone import components_v
from tests.kinds.running import Floats, play, setting_of

SECOND = 48_000
EVERY_BANK = pytest.mark.parametrize("bank", BANKS)


def wave_v(
    bank: str, wave: float, hz: float, samples: int = SECOND, ins: Any = None, **rest: float
) -> Floats:
    """A steady tone, `wave` being a place in the row from 0 to 7."""
    named = {"tune": hz, "position": wave / (WAVES - 1), **rest}
    return play(KIND, setting_of(KIND, values=named, options={"bank": bank}), samples, ins)["out"]


# Source: Fourier series of unit waves (any calculus text), against the fundamental: saw 1/n, square 1/n and triangle
# 1/n^2 for odd n; a pulse of width d up and, half a wave later, down: sin(pi n d)/n for odd n.
SERIES: dict[int, Callable[[int], float]] = {
    0: lambda n: 1.0 if n == 1 else 0.0,
    1: lambda n: n % 2 / n**2,
    3: lambda n: 1.0 / n,
    4: lambda n: n % 2 / n,
    5: lambda n: n % 2 / n * abs(math.sin(math.pi * n / 4)) / math.sin(math.pi / 4),
    7: lambda n: n % 2 / n * abs(math.sin(math.pi * n / 16)) / math.sin(math.pi / 16),
}


@pytest.mark.parametrize("wave", SERIES)
@pytest.mark.parametrize("hz", [53, 441, 1760])
def test_harmonics_are_the_fourier_series(wave: int, hz: int) -> None:
    """Up to 13 kHz within 0.01 dB."""
    found_v = components_v(wave_v("shapes", wave, hz))
    for n in range(1, 13_000 // hz + 1):
        expected = SERIES[wave](n)
        if expected < 1e-9:
            assert found_v[n * hz] < 1e-4
        elif expected > 1e-3:
            assert abs(20 * math.log10(found_v[n * hz] / found_v[hz] / expected)) < 0.01


@pytest.mark.parametrize("wave", range(WAVES))
def test_folded_sines_have_bessel_functions_for_harmonics(wave: int) -> None:
    """Source: sin(g sin x) = 2 sum J_n(g) sin(n x) over odd n; J_n from an independent library."""
    told = np.array(strengths("folds", wave))
    n = np.arange(1, told.size + 1)
    expected = np.where(n % 2 == 1, jv(n, FOLDS[wave]), 0.0)
    np.testing.assert_allclose(told / told[0], expected / expected[0], atol=1e-10)


def folded_db(found_v: Floats, hz: int, below_hz: int) -> float:
    """The strongest component that is no harmonic, below a frequency, against the strongest harmonic."""
    strongest_v = found_v[hz::hz].max()
    found_v = found_v.copy()
    found_v[::hz] = 0.0
    return float(20 * np.log10(found_v[:below_hz].max() / strongest_v))


@EVERY_BANK
@pytest.mark.parametrize("wave", [0.0, 3.0, 3.5, 4.0, 7.0])
@pytest.mark.parametrize("hz", [1760, 4187])
def test_little_folds_down(bank: str, wave: float, hz: int) -> None:
    """A6 at 48 kHz must keep what folds to below 5 kHz at -60 dB or less; it does much better, up to 24 kHz.

    4187 Hz is no divisor of the sample rate.
    """
    found_v = components_v(wave_v(bank, wave, hz))
    assert folded_db(found_v, hz, 5_000) < -85.0
    assert folded_db(found_v, hz, 24_000) < -80.0


@pytest.mark.parametrize("wave", [3.0, 7.0])
@pytest.mark.parametrize("hz", [53, 111, 441])
def test_little_folds_down_from_the_fuller_tables(wave: float, hz: int) -> None:
    assert folded_db(components_v(wave_v("shapes", wave, hz)), hz, 24_000) < -65.0


def test_the_fold_test_can_fail() -> None:
    """The fullest saw table at 1760 Hz: harmonic 27 folds to 480 Hz, 28.6 dB down."""
    table = tables("shapes").reshape(LEVELS, WAVES, -1)[0, 3]
    found = np.interp(np.arange(SECOND) * 1760 / SECOND % 1.0 * 2048, np.arange(2049), table)
    assert -32.0 < folded_db(components_v(found), 1760, 5_000) < -20.0


def test_pitch_is_equal_temperament_at_one_volt_an_octave() -> None:
    """Source: A4 = 440 Hz (ISO 16); 0.75 V above middle C. All of the tone lies on whole multiples of 440 Hz."""
    tone = play(KIND, setting_of(KIND), SECOND, {"pitch": 0.75})["out"]
    found_v = components_v(tone)
    assert found_v[440] == pytest.approx(5.0, rel=1e-3)
    assert np.delete(found_v, 440).max() < 5.0 * 1e-4
    up = play(KIND, setting_of(KIND, values={"fm-depth": 0.5}), 640, {"fm": 2.0})["out"]
    fine = play(KIND, setting_of(KIND, values={"fine": 12.0}), 640)["out"]
    np.testing.assert_allclose(up, fine, atol=1e-9)


def test_halfway_between_two_waves_is_their_mean_and_five_volts_is_the_whole_row() -> None:
    a, b, middle = (wave_v("vowels", wave, 220.0, 4800) for wave in (2.0, 3.0, 2.5))
    np.testing.assert_allclose(middle, (a + b) / 2.0, atol=1e-9)
    by_cv = wave_v("vowels", 0.0, 220.0, 4800, {"position": 5.0 * 2.5 / 7.0})
    np.testing.assert_allclose(by_cv, middle, atol=1e-9)
    np.testing.assert_array_equal(
        wave_v("vowels", 7.0, 220.0, 4800), wave_v("vowels", 0.0, 220.0, 4800, {"position": 5.0})
    )


@EVERY_BANK
def test_every_wave_has_the_same_peak(bank: str) -> None:
    peaks = np.abs(tables(bank).reshape(LEVELS, WAVES, -1)).max(axis=(0, 2))
    assert peaks.max() <= 1.0
    np.testing.assert_allclose(peaks, 1.0, atol=4e-6)


def test_tables_hold_what_fits_below_half_the_sample_rate() -> None:
    """Everything heard is a harmonic, and the highest lies where the ear ends, also between two tables."""
    assert (harmonics_of(0), harmonics_of(2), harmonics_of(LEVELS - 1)) == (512, 256, 1)
    for hz in (46.0, 47.5, 100.0, 439.0, 1000.0, 2001.0):
        found_v = components_v(wave_v("shapes", 3.0, hz, 2 * SECOND))
        lines = np.flatnonzero(found_v > 2e-3) / 2.0
        assert np.allclose(lines / hz, np.round(lines / hz))
        assert lines.max() > 16_500.0


def test_a_glide_through_the_tables_makes_no_jump() -> None:
    """Six octaves in a second on the sine: its slope stays what its frequency makes it."""
    pitch_v = np.linspace(-3.0, 3.0, SECOND)
    sine = wave_v("shapes", 0.0, 261.6256, SECOND, {"pitch": pitch_v})
    phase = np.cumsum(261.6256 * 2.0**pitch_v / SECOND)
    np.testing.assert_allclose(sine, 5.0 * np.sin(2 * np.pi * phase), atol=1e-4)


@EVERY_BANK
@pytest.mark.parametrize("step", range(-1, LEVELS - 2))
def test_tables_fade_into_each_other_without_a_jump(bank: str, step: int) -> None:
    """Just below and just above the pitch where the next two tables take over."""
    hz = SECOND / 1024 * 2.0 ** (step / 2)
    below, above = (wave_v(bank, 3.4, hz * (1.0 + by), 128) for by in (-1e-9, 1e-9))
    np.testing.assert_allclose(below, above, atol=1e-5)


@EVERY_BANK
@pytest.mark.parametrize("wave", [0.0, 2.6, 5.0])
def test_levels_are_the_power_of_the_harmonics(bank: str, wave: float) -> None:
    values = {"tune": 220.0, "position": wave / 7.0}
    told = KIND.level([Level()] * 3, setting_of(KIND, values=values, options={"bank": bank}))[0]
    found = wave_v(bank, wave, 220.0)
    assert found.std() == pytest.approx(told.rms_v, rel=0.005)
    assert abs(found.mean()) < 1e-3
    assert np.abs(found).max() <= 5.0


def test_only_banks_there_are_can_be_chosen() -> None:
    assert all(check_bank(name) is None for name in BANKS)
    assert check_bank("choir") is not None
    assert check_bank(3) is not None
