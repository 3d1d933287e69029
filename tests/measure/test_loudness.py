"""Loudness against the published signals, against a general-purpose library, and against itself in pieces."""

import math

import numpy as np
import pyloudnorm
import pytest
from scipy import signal

from rigproof.measure.loudness import HIGH_PASS, SHELF, Floats, Meter, k_weighting, measure

RATE_HZ = 48_000.0


def tone(
    parts: list[tuple[float, float]], *, hz: float = 1000.0, rate_hz: float = RATE_HZ
) -> Floats:
    """A sine whose peak level steps through (dBFS, seconds)."""
    level = np.concatenate([np.full(round(s * rate_hz), 10 ** (db / 20)) for db, s in parts])
    sine: Floats = level * np.sin(2 * np.pi * hz * np.arange(len(level)) / rate_hz)
    return sine


def both(mono: Floats) -> Floats:
    return np.stack([mono, mono])


@pytest.mark.parametrize(
    ("hz", "gain_db"),
    [
        (20, -13.2754),
        (50, -3.9341),
        (100, -1.1335),
        (200, -0.2649),
        (500, 0.0425),
        (997, 0.6910),
        (1000, 0.6977),
        (2000, 3.0713),
        (4000, 3.9680),
        (10000, 4.0419),
    ],
)
def test_weighting_has_the_gain_of_the_published_tables(hz: float, gain_db: float) -> None:
    """Source: ITU-R BS.1770-5, tables 1 and 2; gains reckoned from the tables' transfer functions to 1e-4 dB."""
    n = np.arange(len(k_weighting(RATE_HZ)))
    gain = abs(np.sum(k_weighting(RATE_HZ) * np.exp(-2j * np.pi * hz * n / RATE_HZ)))
    assert 20 * math.log10(gain) == pytest.approx(gain_db, abs=1e-4)


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 96_000.0])
def test_weighting_equals_a_recursive_filter(rate_hz: float) -> None:
    """Oracle: the tables run as a recursive filter (another library's) at 48 kHz; the response has died away."""
    response = k_weighting(rate_hz)
    assert np.abs(response[-100:]).max() < 1e-12
    if rate_hz == RATE_HZ:
        impulse = np.zeros(len(response))
        impulse[0] = 1.0
        for b, a in (SHELF, HIGH_PASS):
            impulse = signal.lfilter(b, [1.0, *a], impulse)
        assert response == pytest.approx(impulse, abs=1e-12)


@pytest.mark.parametrize("rate_hz", [44_100.0, 88_200.0, 96_000.0])
def test_weighting_is_the_same_filter_at_other_rates(rate_hz: float) -> None:
    """The analogue response is kept: below 10 kHz the gain is that at 48 kHz to a few hundredths of a dB.

    What differs is the bending of the frequency axis by the bilinear transform, largest on the shelf's slope.
    """
    for hz in (30.0, 60.0, 250.0, 1000.0, 3000.0, 8000.0):
        gains = [
            abs(
                np.sum(
                    k_weighting(r) * np.exp(-2j * np.pi * hz * np.arange(len(k_weighting(r))) / r)
                )
            )
            for r in (RATE_HZ, rate_hz)
        ]
        assert 20 * math.log10(gains[1] / gains[0]) == pytest.approx(0.0, abs=0.05), hz


@pytest.mark.parametrize(
    ("channels", "hz", "expected_lufs"),
    [(1, 997.0, -3.0103), (1, 1000.0, -3.0036), (2, 997.0, 0.0)],
)
def test_calibration(channels: int, hz: float, expected_lufs: float) -> None:
    """Source: ITU-R BS.1770-5, Annex 1: a full-scale 997 Hz sine in one front channel reads -3.01 LKFS."""
    sound = np.tile(tone([(0.0, 10.0)], hz=hz), (channels, 1))
    assert measure(sound, RATE_HZ).integrated_lufs == pytest.approx(expected_lufs, abs=2e-3)


@pytest.mark.parametrize(
    ("parts", "computed_lufs"),
    [
        ([(-23.0, 20.0)], -22.9933),
        ([(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)], -23.0139),
        ([(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)], -22.9787),
    ],
    ids=["signal 1", "signal 3", "signal 5"],
)
def test_published_signals(parts: list[tuple[float, float]], computed_lufs: float) -> None:
    """Source: EBU Tech 3341, table 1, signals 1, 3 and 5: -23.0 +/- 0.1 LUFS; nearer, an independent reckoning."""
    read = measure(both(tone(parts)), RATE_HZ)
    assert read.integrated_lufs == pytest.approx(-23.0, abs=0.1)
    assert read.integrated_lufs == pytest.approx(computed_lufs, abs=2e-3)


def test_signal_4_needs_both_gates() -> None:
    """Source: EBU Tech 3341, signal 4: as signal 3 with -72 dBFS at both ends; without gating it reads -25.1268."""
    parts = [(-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)]
    sound = both(tone(parts))
    assert measure(sound, RATE_HZ).integrated_lufs == pytest.approx(-23.0, abs=0.1)
    ungated = -0.691 + 10 * math.log10(2 * np.mean(sound[0] ** 2) * 10**0.06977)
    assert ungated == pytest.approx(-25.1268, abs=0.02)  # so the gates are what brings it to -23


def test_signal_6_weighs_the_surrounds() -> None:
    """Source: EBU Tech 3341, signal 6: five channels, -23.0 +/- 0.1 LUFS; independent reckoning -23.0163."""
    levels = (-28.0, -28.0, -24.0, -30.0, -30.0)
    read = measure(np.stack([tone([(db, 20.0)]) for db in levels]), RATE_HZ)
    assert read.integrated_lufs == pytest.approx(-23.0163, abs=2e-3)


def test_short_term_and_momentary_of_repeated_bursts() -> None:
    """Source: EBU Tech 3341, signals 9 and 12: S and M stay at -23.0 +/- 0.1 LUFS."""
    nine = measure(both(tone([(-20.0, 1.34), (-30.0, 1.66)] * 5)), RATE_HZ)
    assert nine.short_term_max_lufs == pytest.approx(-23.0, abs=0.1)
    twelve = measure(both(tone([(-20.0, 0.18), (-30.0, 0.22)] * 25)), RATE_HZ)
    assert twelve.momentary_max_lufs == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize(
    ("levels_db", "range_lu"),
    [
        ((-20, -30), 10),
        ((-20, -15), 5),
        ((-40, -20), 20),
        ((-50, -35, -20, -35, -50), 15),
    ],
)
def test_loudness_range(levels_db: tuple[int, ...], range_lu: float) -> None:
    """Source: EBU Tech 3342, minimum-requirement signals of 20 s steps: +/- 1 LU."""
    read = measure(both(tone([(float(db), 20.0) for db in levels_db])), RATE_HZ)
    assert read.range_lu == pytest.approx(range_lu, abs=1.0)


@pytest.mark.parametrize(
    ("divisor", "degrees", "peak", "true_dbtp", "sample_dbfs"),
    [
        (4, 0.0, 0.50, -6.0, -6.0206),
        (6, 60.0, 0.50, -6.0, -7.2700),
        (4, 45.0, 1.41, 3.0, -0.0259),
    ],
    ids=["signal 15", "signal 17", "signal 19"],
)
def test_true_peak(
    divisor: int, degrees: float, peak: float, true_dbtp: float, sample_dbfs: float
) -> None:
    """Source: EBU Tech 3341, signals 15, 17 and 19: +0.2, -0.4 dB; the tones fade in so that no edge overshoots."""
    n = np.arange(24_000)
    fade = np.clip(n / 4_800, 0, 1) * np.clip((24_000 - n) / 4_800, 0, 1)
    sound = (
        peak
        * np.sin(2 * np.pi * n / divisor + math.radians(degrees))
        * np.sin(fade * np.pi / 2) ** 2
    )
    read = measure(both(sound), RATE_HZ)
    assert true_dbtp - 0.4 <= read.true_peak_dbtp <= true_dbtp + 0.2
    assert read.peak_dbfs == pytest.approx(sample_dbfs, abs=2e-3)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_agrees_with_another_library(rate_hz: int) -> None:
    """Oracle: pyloudnorm, whose filter is an approximation of its own: within 0.1 LU on noise with a slow swell."""
    rng = np.random.default_rng(7)
    sound = rng.normal(0.0, 0.1, (2, 12 * rate_hz))
    sound *= 0.55 + 0.45 * np.sin(2 * np.pi * np.arange(12 * rate_hz) / (5 * rate_hz))
    theirs = pyloudnorm.Meter(rate_hz).integrated_loudness(sound.T)
    assert measure(sound, float(rate_hz)).integrated_lufs == pytest.approx(theirs, abs=0.1)


def test_pieces_of_any_size_read_the_same() -> None:
    rng = np.random.default_rng(3)
    sound = rng.normal(0.0, 0.2, (2, 200_000))
    whole = measure(sound, RATE_HZ)
    meter = Meter(RATE_HZ)
    at = 0
    while at < sound.shape[1]:
        step = int(rng.integers(1, 30_000))
        meter.add(sound[:, at : at + step])
        at += step
    pieces = meter.read()
    assert pieces.integrated_lufs == pytest.approx(whole.integrated_lufs, abs=1e-9)
    assert pieces.true_peak_dbtp == pytest.approx(whole.true_peak_dbtp, abs=1e-9)
    assert pieces.rms_dbfs == pytest.approx(20 * math.log10(np.sqrt(np.mean(sound**2))), abs=1e-9)


def test_silence_reads_minus_infinity() -> None:
    read = measure(np.zeros((2, 96_000)), RATE_HZ)
    assert read.integrated_lufs == read.true_peak_dbtp == read.rms_dbfs == -math.inf
    assert measure(np.zeros((2, 0)), RATE_HZ).peak_dbfs == -math.inf
