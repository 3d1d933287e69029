"""The envelope follower against charge and discharge, the mean of a rectified sine, and its own readings."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.base import Beat, Level, Pulse, Span
from rigproof.kinds.envelope_follower import KIND, steady_share
from tests.kinds.alone import run
from tests.kinds.running import Floats, setting_of

SECOND = 48_000


def sine_v(hz: float, peak_v: float, samples: int = SECOND) -> Floats:
    return np.asarray(peak_v * np.sin(2 * np.pi * hz * np.arange(samples) / SECOND))


def test_attack_and_release_are_time_constants() -> None:
    """Source: RC charge and discharge: 63.212056 % after one time constant, 1/e left after one."""
    wave = np.where((np.arange(SECOND) >= 100) & (np.arange(SECOND) < 24_100), -4.0, 0.0)
    cv = run(KIND, SECOND, ins={"in": wave}, attack=0.01, release=0.05)["cv"]
    assert cv[100 + 479] == pytest.approx(4.0 * 0.63212056, abs=1e-6)
    assert cv[24_100 + 2399] == pytest.approx(4.0 * math.exp(-1.0), abs=1e-6)


def test_equal_times_give_the_rectified_mean() -> None:
    """Source: the mean of a rectified sine is 2/pi of its peak (any calculus text)."""
    assert steady_share(0.1, 0.1)[0] == pytest.approx(2.0 / math.pi, abs=1e-4)
    cv = run(
        KIND, 2 * SECOND, ins={"in": sine_v(1000.0, 5.0, 2 * SECOND)}, attack=0.1, release=0.1
    )["cv"]
    assert cv[SECOND:].mean() == pytest.approx(10.0 / math.pi, abs=0.005)


@pytest.mark.parametrize(
    ("attack", "release"), [(0.02, 0.1), (0.02, 1.0), (0.05, 0.05), (0.1, 0.02)]
)
def test_a_steady_tone_settles_where_told(attack: float, release: float) -> None:
    """The balance of charge and discharge, for times that are long against a cycle."""
    wave = sine_v(1000.0, 5.0, 4 * SECOND)
    cv = run(KIND, wave.size, ins={"in": wave}, attack=attack, release=release, gain=1.5)["cv"]
    source = Level.swing(5.0, crest_ratio=math.sqrt(2.0))
    setting = setting_of(KIND, values={"attack": attack, "release": release, "gain": 1.5})
    told = KIND.level([source], setting)[0]
    assert cv[-SECOND:].mean() == pytest.approx(told.dc_v, rel=0.01)


def test_ripple_is_that_of_a_hundred_hertz() -> None:
    wave = sine_v(100.0, 5.0, 2 * SECOND)
    cv = run(KIND, wave.size, ins={"in": wave})["cv"][SECOND:]
    told = KIND.level([Level.swing(5.0, crest_ratio=math.sqrt(2.0))], setting_of(KIND))[0]
    assert told.rms_v == pytest.approx(
        cv.std(), rel=0.3
    )  # a triangle, and times long against a cycle, are assumed


def test_the_gate_is_high_while_it_is_loud() -> None:
    wave = sine_v(1000.0, 4.0)
    wave[:4800] = 0.0
    wave[24_000:] = 0.0
    out = run(KIND, SECOND, ins={"in": wave}, attack=0.001, release=0.02, threshold=1.0)
    edges = np.flatnonzero(np.diff(out["gate"]))
    assert edges.size == 2
    assert 4800 <= edges[0] < 4800 + 96
    last = out["cv"][24_000]
    assert edges[1] == pytest.approx(24_000 + 0.02 * SECOND * math.log(last / 0.7), abs=2)


def test_what_is_too_soft_never_opens_the_gate() -> None:
    soft = KIND.interval([Span(-0.9, 0.9)], setting_of(KIND))
    assert soft == [Span(0.0, 0.9), Span.point(0.0)]
    loud = KIND.interval([Span(-0.9, 0.9)], setting_of(KIND, values={"gain": 2.0}))
    assert loud[1] == Span(0.0, 5.0)
    silent = KIND.level([Level.steady(-2.0)], setting_of(KIND))
    assert silent == [Level.steady(2.0), Level.steady(5.0)]


def test_nobody_can_say_when_pulses_are_loud() -> None:
    told = KIND.rate([Pulse.steady(Fraction(4))], setting_of(KIND))
    assert told is not None
    assert [p.beat for p in told] == [Beat.NONE, Beat.IRREGULAR]
