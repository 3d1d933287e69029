"""The coupling capacitor: corner, decay, and the swing that can appear behind it."""

import numpy as np
import pytest

from rigproof.kinds.ac_coupling import KIND
from rigproof.kinds.base import Level, Span
from tests.kinds.alone import gain_db, run
from tests.kinds.running import setting_of


@pytest.mark.parametrize(
    ("ratio", "expected_db"),
    # Source: RC table read from the other side: high pass at f/fc is the low pass at fc/f.
    [(1.0, -3.010300), (2.0, -0.969100), (10.0, -0.043214), (0.5, -6.989700), (0.1, -20.043214)],
)
def test_gain_of_an_rc_high_pass(ratio: float, expected_db: float) -> None:
    hit = np.zeros(96_000)
    hit[0] = 1.0
    response = run(KIND, hit.size, ins={"in": hit}, corner=30.0)["out"]
    assert gain_db(response, 30.0 * ratio) == pytest.approx(expected_db, abs=0.001)


def test_a_step_has_lost_63_percent_after_one_time_constant() -> None:
    """Source: RC, 1 - 1/e after tau = 1/(2 pi fc); at 3 Hz 53.05 ms."""
    out = run(KIND, 48_000, ins={"in": 5.0})["out"]
    tau = round(48_000 / (2 * np.pi * 3.0))
    assert out[0] == pytest.approx(5.0, rel=1e-3)
    assert out[tau] / out[0] == pytest.approx(np.exp(-1), rel=1e-3)


def test_more_than_the_input_can_appear_behind_it() -> None:
    """A capacitor charged to one end, then the jump to the other: the whole height, and no more."""
    wave = np.where(np.arange(96_000) < 95_000, 0.0, 8.0) - 4.0
    out = run(KIND, wave.size, ins={"in": wave})["out"]
    [span] = KIND.interval([Span(-4.0, 4.0)], setting_of(KIND))
    assert span == Span(-8.0, 8.0)
    assert out.max() == pytest.approx(8.0, rel=1e-3)
    assert KIND.interval([Span(2.0, 5.0)], setting_of(KIND)) == [Span(-3.0, 5.0)]


def test_level_loses_the_steady_part() -> None:
    n = np.arange(96_000)
    wave = 3.0 + 2.0 * np.sign(np.sin(2 * np.pi * 200 * n / 48_000 + 0.01))
    out = run(KIND, n.size, ins={"in": wave})["out"][48_000:]
    [told] = KIND.level([Level(1.0, 5.0, 3.0, 2.0)], setting_of(KIND))
    assert (told.lo_v, told.hi_v, told.dc_v) == (-2.0, 2.0, 0.0)
    assert out.mean() == pytest.approx(0.0, abs=0.01)
    assert out.std() == pytest.approx(told.rms_v, rel=0.01)
