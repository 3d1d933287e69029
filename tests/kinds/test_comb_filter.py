"""The comb filter against the formula of two paths and of the feedback comb."""

import numpy as np
import pytest

from rigproof.kinds.base import Level, Span
from rigproof.kinds.comb_filter import KIND
from tests.kinds.alone import gain_db, run
from tests.kinds.running import Floats, setting_of

RATE_HZ = 48_000.0


def impulse(samples: int, pitch_v: float = 0.0, **values: float) -> Floats:
    hit = np.zeros(samples)
    hit[0] = 1.0
    return run(KIND, samples, ins={"in": hit, "pitch": pitch_v}, **values)["out"]


@pytest.mark.parametrize(
    ("dt_s", "first_notch_hz"),
    # Source: two equal paths that differ by dt: first notch at 1 / (2 dt).
    [(0.0005, 1000.0), (0.001, 500.0), (64 / 48_000, 375.0), (0.005, 100.0)],
)
def test_notches_and_peaks_of_two_paths(dt_s: float, first_notch_hz: float) -> None:
    response = impulse(4096, frequency=1.0 / dt_s, mix=0.5)
    for m in range(4):
        assert gain_db(response, (2 * m + 1) * first_notch_hz) < -120.0
        assert gain_db(response, 2 * m * first_notch_hz) == pytest.approx(0.0, abs=1e-9)
    assert list(np.flatnonzero(response)) == [0, round(dt_s * RATE_HZ)]


@pytest.mark.parametrize("feedback", [0.9, 0.5, -0.5, -0.9])
@pytest.mark.parametrize("frequency_hz", [100.0, 470.0])
def test_response_is_the_feedback_comb(feedback: float, frequency_hz: float) -> None:
    """Closed form: (1 - mix) + mix z^-D / (1 - g z^-D), D whole or not, below a tenth of the rate."""
    response = impulse(1 << 15, frequency=frequency_hz, feedback=feedback, mix=0.5)
    late = RATE_HZ / frequency_hz
    for hz in np.geomspace(30.0, 4_800.0, 40):
        z = np.exp(-2j * np.pi * hz / RATE_HZ * late)
        wanted_db = 20 * np.log10(abs(0.5 + 0.5 * z / (1 - feedback * z)))
        assert gain_db(response, float(hz)) == pytest.approx(wanted_db, abs=0.1)


def test_a_volt_is_an_octave_and_five_volts_are_all_the_feedback() -> None:
    moved = run(
        KIND,
        4096,
        ins={"in": np.eye(1, 4096)[0], "pitch": 1.0, "feedback": 2.0},
        frequency=500.0,
        feedback=0.2,
    )["out"]
    plain = impulse(4096, frequency=1000.0, feedback=0.6)
    np.testing.assert_allclose(moved, plain, atol=1e-12)


def test_the_interval_is_reached_by_the_worst_input() -> None:
    """With whole samples the series is exact: 0.5 x + 0.5 x / (1 - g)."""
    values = {"frequency": 480.0, "feedback": 0.5}
    [span] = KIND.interval(
        [Span(-2, 2), Span(0, 0), Span(0, 0)], setting_of(KIND, values=dict(values))
    )
    assert span.hi == pytest.approx(3.0, abs=1e-9)
    out = run(KIND, 4096, ins={"in": 2.0}, **values)["out"]
    assert out.max() == pytest.approx(span.hi, abs=1e-6)


def test_readings() -> None:
    setting = setting_of(KIND, values={"frequency": 480.0, "mix": 1.0, "feedback": 0.6})
    lag = KIND.lags(setting)[0]
    assert lag.lo_s == lag.hi_s == pytest.approx(1 / 480)
    noise = np.random.default_rng(1).uniform(-1, 1, 96_000)
    heard = run(KIND, noise.size, ins={"in": noise}, frequency=480.0, mix=1.0, feedback=0.6)["out"]
    told = KIND.level([Level.swing(1.0, crest_ratio=3**0.5), Level(), Level()], setting)[0]
    assert told.rms_v == pytest.approx(heard.std(), rel=0.02)
