"""The pitch shifter: every frequency times the same ratio, its readers' cross-fade, its delay."""

import numpy as np
import pytest

from rigproof.kinds.base import Level, Span
from rigproof.kinds.pitch_shifter import KIND
from tests.kinds.alone import run
from tests.kinds.running import Floats, setting_of

RATE = 48_000


def middle_hz(wave: Floats) -> float:
    """Median frequency between upward zero crossings: a joint disturbs few of them."""
    crossings = np.flatnonzero((wave[:-1] < 0.0) & (wave[1:] >= 0.0))
    exact = crossings - wave[crossings] / (wave[crossings + 1] - wave[crossings])
    return float(RATE / np.median(np.diff(exact)))


@pytest.mark.parametrize("semitones", [-24.0, -7.0, -1.0, 0.0, 5.0, 12.0, 24.0])
@pytest.mark.parametrize("hz", [220.0, 1000.0])
def test_every_frequency_is_multiplied(semitones: float, hz: float) -> None:
    """Source: equal temperament, 2^(semitones / 12). Within 3 cents, cross-fades and all.

    The window holds whole periods of the tone, so that the readers meet in phase and the tone is steady.
    """
    ratio = 2 ** (semitones / 12)
    tone = np.sin(2 * np.pi * hz * np.arange(RATE) / RATE)
    out = run(KIND, RATE, ins={"in": tone}, semitones=semitones, window=0.1)["out"]
    found_hz = middle_hz(out[RATE // 4 :])
    assert 1200 * abs(np.log2(found_hz / (hz * ratio))) < 3.0
    assert np.abs(out[RATE // 4 :]).max() == pytest.approx(1.0, abs=0.02)
    assert out[RATE // 4 :].std() == pytest.approx(np.sqrt(0.5), rel=0.02)


def test_a_volt_is_an_octave() -> None:
    tone = np.sin(2 * np.pi * 500.0 * np.arange(9600) / RATE)
    by_cv = run(KIND, 9600, ins={"in": tone, "pitch": 1.0})["out"]
    by_knob = run(KIND, 9600, ins={"in": tone}, semitones=12.0)["out"]
    np.testing.assert_allclose(by_cv, by_knob, atol=1e-12)
    still = run(KIND, 9600, ins={"in": tone, "pitch": -1.0}, semitones=12.0)["out"]
    np.testing.assert_allclose(still, run(KIND, 9600, ins={"in": tone})["out"], atol=1e-12)


def test_unshifted_it_is_half_a_window_and_two_samples_late() -> None:
    hit = np.eye(1, 4800)[0]
    out = run(KIND, 4800, ins={"in": hit}, window=0.06)["out"]
    assert list(np.flatnonzero(np.abs(out) > 1e-9)) == [1442]
    assert out[1442] == pytest.approx(1.0)
    lag = KIND.lags(setting_of(KIND, values={"window": 0.06}))[0]
    assert [lag.lo_s, lag.hi_s] == pytest.approx([1442 / RATE] * 2)


def test_shifted_the_delay_stays_within_the_window() -> None:
    """A step shows how late it can be: some of it after the least delay, all of it after the most."""
    setting = setting_of(KIND, values={"window": 0.06, "semitones": 7.0})
    lag = KIND.lags(setting)[0]
    for at in (4800, 5555, 6543):
        step = np.where(np.arange(RATE) < at, 0.0, 1.0)
        out = run(KIND, RATE, ins={"in": step}, window=0.06, semitones=7.0)["out"]
        first = int(np.flatnonzero(np.abs(out) > 1e-9)[0])
        assert first >= at + round(lag.lo_s * RATE) - 2  # the cubic looks one sample ahead
        late = at + round(lag.hi_s * RATE) + 2
        np.testing.assert_allclose(out[late:], 1.0, atol=1e-9)


def test_interval_and_level() -> None:
    setting = setting_of(KIND, values={"semitones": 5.0})
    assert KIND.interval([Span(-4.0, 4.0), Span(0.0, 0.0)], setting) == [Span(-5.0, 5.0)]
    noise = np.random.default_rng(3).normal(0.0, 1.0, 4 * RATE)
    # Noise below 4 kHz, where the cubic is flat.
    noise = np.fft.irfft(np.fft.rfft(noise) * (np.fft.rfftfreq(noise.size, 1 / RATE) < 4000.0))
    noise /= noise.std()
    heard = run(KIND, noise.size, ins={"in": noise}, semitones=5.0)["out"][RATE:]
    told = KIND.level([Level.swing(4.0, crest_ratio=4.0), Level()], setting)[0]
    assert told.rms_v == pytest.approx(heard.std(), rel=0.03)
