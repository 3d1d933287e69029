"""Converter: late by whole samples, rounded to bits, never beyond full scale."""

import numpy as np
import pytest

from rigproof.kinds.converter import KIND
from tests.kinds.running import Floats, play, setting_of

RATE_HZ = 48_000.0


def converted(in_v: Floats, **values: float) -> Floats:
    setting = setting_of(KIND, values=values)
    return play(KIND, setting, len(in_v), {"in": in_v})["out"][: len(in_v)]


@pytest.mark.parametrize(
    ("delay_s", "samples"), [(0.0, 0), (1 / RATE_HZ, 1), (64 / RATE_HZ, 64), (0.001, 48)]
)
def test_late_by_whole_samples(delay_s: float, samples: int) -> None:
    """Source: 64 samples at 48 kHz last 1.333333 ms; 1 ms is 48 samples, computed."""
    click = np.zeros(300)
    click[10] = 5.0
    out_v = converted(click, delay=delay_s, bits=0.0)
    assert np.flatnonzero(out_v).tolist() == [10 + samples]
    lag = KIND.lags(setting_of(KIND, values={"delay": delay_s}))[0]
    assert lag.lo_s == lag.hi_s == pytest.approx(samples / RATE_HZ)


@pytest.mark.parametrize(
    ("bits", "snr_db"), [(8, 49.925712), (10, 61.966912), (12, 74.008112), (16, 98.090512)]
)
def test_noise_of_rounding(bits: int, snr_db: float) -> None:
    """Source: SNR of a full-scale sine, 20 log10(2^N sqrt(1.5)) = 6.020600 N + 1.760913 dB, computed.

    0.2 dB: the error of a sine is only nearly uniform, and the highest step is missing.
    """
    n = np.arange(48_000)
    sine = 10.0 * np.sin(2 * np.pi * 997.0 * n / RATE_HZ) * (1 - 2.0**-bits)
    error = converted(sine, delay=0.0, bits=float(bits)) - sine
    assert 10 * np.log10(np.mean(sine**2) / np.mean(error**2)) == pytest.approx(snr_db, abs=0.2)


def test_full_scale_is_the_end() -> None:
    out_v = converted(np.array([-30.0, -10.0, 0.0, 10.0, 30.0]), delay=0.0, bits=16.0)
    step_v = 20.0 / 2**16
    assert out_v.tolist() == [-10.0, -10.0, 0.0, 10.0 - step_v, 10.0 - step_v]


def test_no_bits_round_nothing() -> None:
    chance = np.random.default_rng(1).uniform(-9.0, 9.0, 500)
    assert (converted(chance, delay=0.0, bits=0.0) == chance).all()
