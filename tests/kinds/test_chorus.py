"""The chorus: its delays, its copies and the pitch that a moving delay bends."""

import numpy as np
import pytest

from rigproof.kinds.base import Span
from rigproof.kinds.chorus import KIND
from tests.kinds.alone import run
from tests.kinds.running import setting_of

RATE_HZ = 48_000


def test_at_rest_a_copy_comes_after_the_time_to_the_sample() -> None:
    hit = np.eye(1, 2400)[0]
    out = run(KIND, 2400, ins={"left": hit}, rate=0.0, depth=0.0, time=0.012, mix=1.0)
    assert list(np.flatnonzero(np.abs(out["left"]) > 1e-9)) == [576]
    assert out["left"][576] == pytest.approx(1.0)
    assert not out["right"].any()


def test_copies_lie_evenly_round_the_turn_and_the_right_side_a_quarter_ahead() -> None:
    """A held sine at turn 0: four copies at 0, 1, 0 and -1 halves of the depth; the right side the same, moved on."""
    hit = np.eye(1, 2400)[0]
    out = run(
        KIND,
        2400,
        ins={"left": hit},
        rate=0.0,
        depth=0.010,
        time=0.020,
        mix=1.0,
        voices=3.0,
        source=1.0,
    )
    for side in ("left", "right"):
        places = np.flatnonzero(np.abs(out[side]) > 0.01)
        assert list(places) == [720, 960, 1200]  # 15, 20 and 25 ms
        np.testing.assert_allclose(out[side][places], [0.25, 0.5, 0.25], atol=1e-9)
    one = run(
        KIND,
        2400,
        ins={"left": hit},
        rate=0.0,
        depth=0.010,
        time=0.020,
        mix=1.0,
        voices=0.0,
        source=1.0,
    )
    assert int(np.argmax(one["left"])) == 960
    assert int(np.argmax(one["right"])) == 1200


def test_the_moving_delay_bends_the_pitch_as_doppler_says() -> None:
    """f (1 - d tau/dt): 4 ms at 0.8 Hz is pi 0.8 0.004 = 1.0053 % either way, 17.3 cents."""
    t = np.arange(2 * RATE_HZ) / RATE_HZ
    tone = np.sin(2 * np.pi * 1000.0 * t)
    out = run(
        KIND,
        t.size,
        ins={"left": tone},
        rate=0.8,
        depth=0.004,
        time=0.012,
        mix=1.0,
        voices=0.0,
    )["left"]
    crossings = np.flatnonzero((out[:-1] < 0.0) & (out[1:] >= 0.0))[20:]
    exact = crossings - out[crossings] / (out[crossings + 1] - out[crossings])
    hz = RATE_HZ / np.diff(exact)
    assert hz.max() == pytest.approx(1000 * 1.010053, abs=0.3)
    assert hz.min() == pytest.approx(1000 * 0.989947, abs=0.3)
    assert 1200 * np.log2(hz.max() / 1000) == pytest.approx(17.3, abs=0.5)


def test_dry_passes_whole_and_both_sides_hear_their_own() -> None:
    rng = np.random.default_rng(2)
    left, right = rng.uniform(-5, 5, (2, 4800))
    out = run(KIND, 4800, ins={"left": left, "right": right}, mix=0.0)
    np.testing.assert_array_equal(out["left"], left)
    np.testing.assert_array_equal(out["right"], right)


def test_interval_and_delay() -> None:
    setting = setting_of(KIND, values={"mix": 1.0, "depth": 0.004, "time": 0.012})
    spans = KIND.interval([Span(-4.0, 4.0), Span(0.0, 1.0)], setting)
    assert spans == [Span(-5.0, 5.0), Span(-0.125, 1.125)]
    still = setting_of(KIND, values={"mix": 1.0, "depth": 0.0, "time": 0.012})
    assert KIND.interval([Span(-4.0, 4.0), Span(0.0, 1.0)], still) == [Span(-4, 4), Span(0, 1)]
    lag = KIND.lags(setting)[0]
    assert [lag.lo_s, lag.hi_s] == pytest.approx([0.010, 0.014])
