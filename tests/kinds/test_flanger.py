"""The flanger against the formula of two paths, and its sweep against its own times."""

import numpy as np
import pytest

from rigproof.kinds.base import Span
from rigproof.kinds.flanger import KIND
from tests.kinds.alone import gain_db, run
from tests.kinds.running import setting_of

RATE_HZ = 48_000


@pytest.mark.parametrize("ms", [0.5, 1.0, 5.0])
def test_notches_lie_at_odd_multiples_of_one_over_twice_the_delay(ms: float) -> None:
    hit = np.eye(1, 2048)[0]
    response = run(KIND, 2048, ins={"in": hit}, rate=0.0, depth=0.0, time=ms / 1000, feedback=0.0)
    for m in range(3):
        assert gain_db(response["out"], (2 * m + 1) * 500.0 / ms) < -120.0
        assert gain_db(response["out"], m * 1000.0 / ms) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("feedback", [0.8, -0.8])
def test_feedback_sharpens_the_peaks(feedback: float) -> None:
    """Closed form: 0.5 + 0.5 z^-D / (1 - g z^-D), D 48 samples."""
    hit = np.eye(1, 1 << 14)[0]
    out = run(KIND, hit.size, ins={"in": hit}, rate=0.0, depth=0.0, time=0.001, feedback=feedback)[
        "out"
    ]
    for hz in np.geomspace(50.0, 12_000.0, 40):
        z = np.exp(-2j * np.pi * hz / 1000.0)
        wanted_db = 20 * np.log10(abs(0.5 + 0.5 * z / (1 - feedback * z)))
        assert gain_db(out, float(hz)) == pytest.approx(wanted_db, abs=0.001)


def test_the_sweep_goes_from_time_to_time_plus_depth_at_the_rate() -> None:
    """A ramp as input reads the delay off the output: 1 V a second in, so the lag in volts is the delay in seconds."""
    samples = RATE_HZ
    ramp = np.arange(samples) / RATE_HZ
    out = run(
        KIND,
        samples,
        ins={"in": ramp},
        rate=2.0,
        depth=0.004,
        time=0.001,
        feedback=0.0,
        mix=1.0,
    )["out"]
    late_s = (ramp - out)[RATE_HZ // 2 :]
    assert late_s.min() == pytest.approx(0.001, abs=1e-6)
    assert late_s.max() == pytest.approx(0.005, abs=1e-6)
    t = ramp[RATE_HZ // 2 :]
    np.testing.assert_allclose(late_s, 0.003 + 0.002 * np.sin(2 * np.pi * 2.0 * t), atol=1e-6)


@pytest.mark.parametrize(("volts", "ms"), [(-2.5, 1.0), (0.0, 3.0), (2.5, 5.0), (9.0, 5.0)])
def test_five_volts_sweep_from_end_to_end(volts: float, ms: float) -> None:
    hit = np.eye(1, 960)[0]
    out = run(
        KIND,
        960,
        ins={"in": hit, "sweep": volts},
        rate=0.0,
        depth=0.004,
        time=0.001,
        feedback=0.0,
        mix=1.0,
    )["out"]
    assert list(np.flatnonzero(np.abs(out) > 1e-9)) == [round(48 * ms)]


def test_interval_and_delay() -> None:
    still = {"rate": 0.0, "depth": 0.0, "time": 0.001, "feedback": 0.5, "mix": 1.0}
    setting = setting_of(KIND, values=still)
    [span] = KIND.interval([Span(0.0, 3.0), Span(0.0, 0.0)], setting)
    assert [span.lo, span.hi] == pytest.approx([0.0, 6.0], abs=1e-6)
    setting = setting_of(KIND, values={"depth": 0.004, "time": 0.001, "mix": 1.0})
    lag = KIND.lags(setting)[0]
    assert [lag.lo_s, lag.hi_s] == pytest.approx([0.001, 0.005])
