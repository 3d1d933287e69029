"""Sample and hold: to the sample; tracking; what it holds before anything came."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.base import Beat, Level, Pulse, Span
from rigproof.kinds.sample_and_hold import KIND
from tests.kinds.alone import run
from tests.kinds.running import pulses, setting_of

N = 9600
WAVE_V = np.random.default_rng(6).uniform(-8.0, 8.0, N)


def test_it_takes_the_very_sample_of_the_rise() -> None:
    places = [137, 1000, 1049, 5003]
    out = run(KIND, N, ins={"in": WAVE_V, "trigger": pulses(places, N)})["out"]
    expected = np.zeros(N)
    for place in places:
        expected[place:] = WAVE_V[place]
    np.testing.assert_array_equal(out, expected)


def test_it_tracks_while_the_gate_is_high_and_keeps_the_last() -> None:
    gate = pulses([100, 2000], N, length=500)
    out = run(KIND, N, ins={"in": WAVE_V, "trigger": gate}, mode=1.0)["out"]
    expected = np.zeros(N)
    for at in (100, 2000):
        expected[at : at + 500] = WAVE_V[at : at + 500]
        expected[at + 500 :] = WAVE_V[at + 499]
    np.testing.assert_array_equal(out, expected)


def test_samples_of_noise_are_spread_as_the_noise_is() -> None:
    """Source: RMS of an even spread is its peak over sqrt 3; 2400 draws meet it within 3 %."""
    out = run(KIND, N, ins={"in": WAVE_V, "trigger": pulses(range(0, N, 4), N, length=2)})["out"]
    source = Level.swing(8.0, crest_ratio=math.sqrt(3.0))
    told = KIND.level([source, Level(0.0, 5.0, 2.5, 2.5)], setting_of(KIND))[0]
    assert out.std() == pytest.approx(told.rms_v, rel=0.03)


def test_without_a_trigger_it_holds_nothing() -> None:
    setting = setting_of(KIND)
    assert KIND.interval([Span(2.0, 5.0), Span(0.0, 0.9)], setting) == [Span.point(0.0)]
    assert KIND.interval([Span(2.0, 5.0), Span(0.0, 5.0)], setting) == [Span(0.0, 5.0)]
    assert KIND.level([Level.swing(5.0, crest_ratio=1.0), Level()], setting)[0].is_silent
    assert not run(KIND, N, ins={"in": WAVE_V, "trigger": 0.9})["out"].any()


def test_nobody_can_say_what_becomes_of_pulses() -> None:
    steady = Pulse.steady(Fraction(4))
    told = [KIND.rate([a, b], setting_of(KIND)) for a, b in ((steady, steady), (Pulse(), steady))]
    assert [pulse[0].beat for pulse in told if pulse] == [Beat.IRREGULAR, Beat.NONE]
