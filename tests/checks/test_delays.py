"""Delay findings against the closed form of two paths: x(t) + x(t - d) has the gain 2 |cos(pi f d)|."""

from __future__ import annotations

import math

import pytest

from tests.checks.ask import findings, only
from tests.checks.cases import doubled


@pytest.mark.parametrize(("time", "notch_hz"), [("5 ms", 100.0), ("1 ms", 500.0), ("10 ms", 50.0)])
def test_the_first_notch_is_where_the_cosine_is_zero(time: str, notch_hz: float) -> None:
    found = only("sound-meets-itself", doubled(time))
    assert found.at == "mix.mix"
    assert found.evidence["first_notch_hz"] == pytest.approx(notch_hz, rel=1e-3)
    gain = 2.0 * abs(math.cos(math.pi * notch_hz * found.evidence["difference_s"]))
    assert gain == pytest.approx(0.0, abs=5e-3)


def test_an_echo_is_no_comb() -> None:
    assert not findings("sound-meets-itself", doubled("375 ms"))
