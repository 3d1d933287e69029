"""The limiter: nothing passes the ceiling, nothing is clipped on the way, and the wait is as long as it says."""

import math

import numpy as np
import pytest

from rigproof.kinds.base import Level, Span
from rigproof.kinds.limiter import KIND
from tests.kinds.alone import run
from tests.kinds.running import Floats, setting_of

RATE = 48_000


def bursts(samples: int, seed: int = 4) -> Floats:
    rng = np.random.default_rng(seed)
    wave = rng.uniform(-1.0, 1.0, samples)
    wave[rng.integers(0, samples, 40)] *= 11.0
    wave[samples // 2 : samples // 2 + 900] *= 9.0
    return np.clip(wave, -11.0, 11.0)  # as cables carry it


@pytest.mark.parametrize(
    ("look_ahead_s", "wait"), [(0.0, 0), (0.001, 48), (0.002, 96), (0.01, 480)]
)
def test_soft_sound_passes_whole_after_the_wait(look_ahead_s: float, wait: int) -> None:
    wave = np.random.default_rng(1).uniform(-5.0, 5.0, 4800)
    out = run(KIND, 4800, ins={"left": wave, "right": -wave}, look_ahead=look_ahead_s)
    # A sum of ones over their number may be rounded once.
    np.testing.assert_allclose(out["left"][wait:], wave[: 4800 - wait], rtol=1e-15)
    np.testing.assert_allclose(out["right"][wait:], -wave[: 4800 - wait], rtol=1e-15)
    lags = KIND.lags(setting_of(KIND, values={"look-ahead": look_ahead_s}))
    assert [lag.lo_s for lag in lags] == pytest.approx([wait / RATE] * 2)


@pytest.mark.parametrize("wait", [0, 1, 17, 96, 480])
def test_the_gain_is_the_mean_of_the_minima(wait: int) -> None:
    """Second, slower computation in plain numpy, sample by sample."""
    samples = 9600
    wave = bursts(samples)
    out = run(KIND, samples, ins={"left": wave}, ceiling=2.0, look_ahead=wait / RATE, release=0.001)
    needed = np.minimum(1.0, 2.0 / np.maximum(np.abs(wave), 1e-12))
    padded = np.concatenate([np.ones(wait), needed])
    least = np.array([padded[i : i + wait + 1].min() for i in range(samples)])
    held, here = np.empty(samples), 1.0
    for i, x in enumerate(least):
        here = x if x < here else here + (1 - math.exp(-1 / 48)) * (x - here)
        held[i] = here
    padded = np.concatenate([np.ones(wait), held])
    mean = np.array([padded[i : i + wait + 1].mean() for i in range(samples)])
    late = np.concatenate([np.zeros(wait), wave])[:samples]
    np.testing.assert_allclose(out["left"], mean * late, atol=1e-7)


@pytest.mark.parametrize("wait", [0, 96])
def test_nothing_passes_the_ceiling_and_nothing_is_clipped(wait: int) -> None:
    samples = 2 * RATE
    wave = bursts(samples)
    out = run(
        KIND,
        samples,
        ins={"left": wave, "right": 0.5 * wave},
        ceiling=3.0,
        drive=12.0,
        look_ahead=wait / RATE,
    )
    peak_v = np.abs(out["left"]).max()
    assert 2.9 < peak_v <= 3.0
    # Both sides share one gain: had one been clipped, the other would not be half of it any more.
    np.testing.assert_allclose(out["right"], 0.5 * out["left"], atol=1e-7)


def test_with_a_wait_the_gain_never_jumps() -> None:
    """A mean over 97 samples moves by at most 1/97 a sample."""
    step = np.where(np.arange(4800) < 2400, 1.0, 10.0)
    out = run(KIND, 4800, ins={"left": step}, ceiling=2.0, look_ahead=0.002)["left"]
    late = np.concatenate([np.zeros(96), step])[:4800]
    gain = out[96:] / late[96:]
    assert np.abs(np.diff(gain)).max() < 1.0 / 97
    assert gain[-1] == pytest.approx(0.2, abs=1e-8)


def test_it_lets_go_with_the_release() -> None:
    """1/e of the way is left after one time constant."""
    wave = np.full(RATE, 0.1)
    wave[100] = 10.0
    out = run(KIND, RATE, ins={"left": wave}, ceiling=1.0, look_ahead=0.0, release=0.05)["left"]
    gain = out / wave
    assert gain[100] == pytest.approx(0.1, abs=1e-8)
    assert gain[100 + 2400] == pytest.approx(1 - 0.9 / math.e, abs=1e-4)
    assert gain[-1] == pytest.approx(1.0, abs=1e-6)


def test_interval_and_level() -> None:
    setting = setting_of(KIND, values={"ceiling": 4.0, "drive": 6.0})
    spans = KIND.interval([Span(-1.0, 8.0), Span(0.0, 1.0)], setting)
    assert spans[0].hi == 4.0
    assert spans[0].lo == pytest.approx(-1.9953, abs=1e-4)
    assert spans[1].lo == 0.0
    told = KIND.level([Level.swing(8.0, crest_ratio=2.0), Level()], setting)[0]
    assert [told.hi_v, told.rms_v] == pytest.approx([4.0, 2.0])
