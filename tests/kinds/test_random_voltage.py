"""Random voltages: when they come, how they are spread, how the smooth one goes, and how often nothing changes."""

import itertools
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.base import Beat, Level, Pulse
from rigproof.kinds.random_voltage import KIND
from tests.kinds.alone import run
from tests.kinds.running import play, pulses, rises, setting_of

SECOND = 48_000


def test_its_own_clock_ticks_at_the_rate_from_the_first_sample() -> None:
    out = run(KIND, SECOND, rate=10.0)
    assert rises(out["new"]) == list(range(0, SECOND, 4800))
    assert (np.flatnonzero(np.diff(out["stepped"])) + 1).tolist() == list(range(4800, SECOND, 4800))
    assert (out["new"] > 0).sum() == 10 * 240  # 5 ms


def test_a_clock_ticks_at_its_rises_and_the_smooth_voltage_arrives_with_the_next() -> None:
    places = list(range(1000, SECOND, 3000))
    out = run(KIND, SECOND, ins={"clock": pulses(places, SECOND)}, source=1.0)
    assert rises(out["new"]) == places
    assert (out["stepped"][:1000] == 0.0).all()
    for before, place in itertools.pairwise(places[2:]):
        assert out["smooth"][place] == pytest.approx(out["stepped"][place - 1], abs=1e-9)
        # Halfway in time is halfway in volts: cos(pi/2) = 0.
        middle_v = (out["stepped"][before - 1] + out["stepped"][before]) / 2.0
        assert out["smooth"][before + 1500] == pytest.approx(middle_v, abs=1e-9)


def test_the_smooth_voltage_is_half_a_cosine() -> None:
    out = run(KIND, 9600, rate=10.0)
    a, b = out["stepped"][0], out["stepped"][4800]
    way = np.arange(4800) / 4800
    expected = a + (b - a) * (1.0 - np.cos(np.pi * way)) / 2.0
    np.testing.assert_allclose(out["smooth"][4800:], expected, atol=1e-6)


def test_voltages_are_spread_evenly_and_know_nothing_of_the_one_before() -> None:
    """Source: mean 0 and RMS peak/sqrt 3 of an even spread; ten bins of 1000 draws each hold 100 +- 3 sigma (28)."""
    stepped = run(KIND, 5 * SECOND, rate=200.0)["stepped"][::240]
    assert stepped.size == 1000
    bins, _ = np.histogram(stepped, 10, (-5.0, 5.0))
    assert bins.min() > 72
    assert bins.max() < 128
    assert abs(np.corrcoef(stepped[1:], stepped[:-1])[0, 1]) < 0.1


@pytest.mark.parametrize("change", [0.0, 0.25, 1.0])
def test_levels_are_met(change: float) -> None:
    out = run(KIND, 10 * SECOND, rate=200.0, change=change)
    told = KIND.level([Level()] * 3, setting_of(KIND, values={"rate": 200.0, "change": change}))
    if change == 0.0:
        assert not any(wave.any() for wave in out.values())
        return
    for port, level in zip(KIND.outputs, told, strict=True):
        assert out[port.name].std() == pytest.approx(level.rms_v, rel=0.08)


def test_so_many_ticks_bring_a_change() -> None:
    """2000 ticks at 30 % are 600 changes +- 3 sigma (62); a CV of 1 V adds a fifth."""
    samples = 10 * SECOND
    for cv, low, high in ((0.0, 538, 662), (1.0, 933, 1067)):
        new = run(KIND, samples, rate=200.0, change=0.3, ins={"change": cv})["new"]
        assert low < len(rises(new)) < high
    told = KIND.rate([Pulse()] * 3, setting_of(KIND, values={"change": 0.3}))
    assert told is not None
    assert (told[2].beat, told[2].hz, told[2].chance) == (Beat.FREE, 2.0, 0.3)


def test_the_rate_follows_its_input_in_octaves() -> None:
    out = run(KIND, SECOND, rate=5.0, rate_depth=0.5, ins={"rate": 2.0})
    assert len(rises(out["new"])) == 10


def test_a_clock_hands_its_rate_on() -> None:
    steady = Pulse.steady(Fraction(4), length_s=0.01)
    told = KIND.rate([steady, Pulse(), Pulse()], setting_of(KIND, values={"source": 1.0}))
    assert told is not None
    assert told[2].per_quarter == 4


def test_the_seed_and_the_name_choose_the_voltages() -> None:
    once, again, other = (
        play(KIND, setting_of(KIND, seed=seed), SECOND)["stepped"] for seed in (1, 1, 2)
    )
    np.testing.assert_array_equal(once, again)
    assert (once != other).any()


def test_unipolar_starts_at_zero() -> None:
    out = run(KIND, SECOND, rate=100.0, polarity=1.0)
    assert out["stepped"].min() >= 0.0
    assert out["stepped"].max() <= 5.0
    assert out["stepped"].mean() == pytest.approx(2.5, abs=0.5)
