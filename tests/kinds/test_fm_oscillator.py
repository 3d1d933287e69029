"""The FM oscillator against Bessel functions, through zero, and what of it folds."""

import math

import numpy as np
import pytest
from scipy.special import jv

from rigproof.kinds.base import Level
from rigproof.kinds.fm_oscillator import KIND, sine_of_turns
from tests.kinds.alone import components_v, run
from tests.kinds.running import Floats, setting_of

SECOND = 48_000


def lines_v(carrier_hz: int, modulator_hz: int, index: float, *, fold: bool) -> Floats:
    """Peak volts of every component up to 24 kHz, for 5 V: a sum of J_n sines; without `fold` only what lies there.

    Source: Chowning 1973: sin(c + I sin m) = sum over all whole n of J_n(I) sin(c + n m).
    """
    found = np.zeros(SECOND // 2 + 1)
    for n in range(-150, 151):
        hz = carrier_hz + n * modulator_hz
        sign = 1.0
        if not fold and abs(hz) > SECOND // 2:
            continue
        hz %= SECOND
        if hz > SECOND // 2:
            hz, sign = SECOND - hz, -1.0
        found[hz] += 5.0 * sign * float(jv(n, index))
    found[[0, -1]] = 0.0  # the sine of nothing
    return np.abs(found)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 0.5, 1.4, 3.5])
@pytest.mark.parametrize("index", [0.0, 0.5, 2.405, 5.0])
def test_side_bands_are_bessel_functions(ratio: float, index: float) -> None:
    """At 2.405, the first zero of J_0, the carrier itself is gone (a published zero: 2.404826)."""
    out = run(KIND, SECOND, tune=440.0, ratio=ratio, index=index)
    expected = lines_v(440, round(440 * ratio), index, fold=True)
    np.testing.assert_allclose(components_v(out["out"]), expected, atol=1e-6)
    if index == 2.405 and ratio == 1.4:
        assert expected[440] < 0.001


def test_the_modulator_is_a_sine_at_the_ratio() -> None:
    found_v = components_v(run(KIND, SECOND, tune=300.0, ratio=1.5)["modulator"])
    assert found_v[450] == pytest.approx(5.0, abs=1e-9)
    assert np.delete(found_v, 450).max() < 1e-9


@pytest.mark.parametrize(
    ("hz", "ratio", "index", "limit_db"),
    [(440, 1.0, 20.0, -100.0), (1760, 2.0, 3.0, -129.0), (1760, 2.0, 6.0, -60.0)],
)
def test_what_folds_to_below_five_kilohertz_is_as_weak_as_told(
    hz: int, ratio: float, index: float, limit_db: float
) -> None:
    """From Bessel functions, and measured: the difference to the spectrum without its fold."""
    clean = lines_v(hz, round(hz * ratio), index, fold=False)
    folded = lines_v(hz, round(hz * ratio), index, fold=True)
    told_db = 20 * math.log10(max(np.abs(folded - clean)[:5000].max(), 1e-30) / folded.max())
    assert told_db < limit_db
    found_v = components_v(run(KIND, SECOND, tune=float(hz), ratio=ratio, index=index)["out"])
    assert 20 * math.log10(np.abs(found_v - clean)[:5000].max() / found_v.max()) < max(
        limit_db, -150.0
    )


def test_the_fold_measure_can_fail() -> None:
    clean, folded = (lines_v(1760, 3520, 10.0, fold=fold) for fold in (False, True))
    assert 20 * math.log10(np.abs(folded - clean)[:5000].max() / folded.max()) > -40.0


def test_the_index_follows_its_input_and_goes_through_zero() -> None:
    by_knob = run(KIND, 4800, index=-3.0)["out"]
    by_cable = run(KIND, 4800, index=1.0, index_depth=2.0, ins={"index": -2.0})["out"]
    np.testing.assert_allclose(by_knob, by_cable, atol=1e-9)
    plain = run(KIND, 4800, index=0.0)["out"]
    crossing = run(KIND, 4800, index=0.0, ins={"index": np.linspace(-3.0, 3.0, 4801)[:4800]})["out"]
    assert crossing[2400] == pytest.approx(plain[2400], abs=1e-6)
    assert np.abs(crossing - plain).max() > 1.0


def test_the_phase_input_moves_the_phase_and_may_turn_it_round() -> None:
    """A ramp of 1 V in 4800 samples at one turn a volt takes 10 Hz off or adds them; 20 Hz downwards go below zero:
    sin(-10 Hz) is the sine upside down."""
    ramp_v = np.arange(4800) / 4800.0
    moved = run(KIND, 4800, tune=10.0, index=0.0, phase_depth=-1.0, ins={"phase": 2.0 * ramp_v})[
        "out"
    ]
    n = np.arange(1, 4801)
    expected = 5.0 * np.sin(2 * np.pi * (10.0 * n / SECOND - 2.0 * ramp_v))
    np.testing.assert_allclose(moved, expected, atol=1e-9)


def test_pitch_is_equal_temperament_at_one_volt_an_octave() -> None:
    """Source: A4 = 440 Hz (ISO 16), 0.75 V above middle C."""
    found_v = components_v(run(KIND, SECOND, index=0.0, ins={"pitch": 0.75})["out"])
    assert found_v[440] == pytest.approx(5.0, abs=1e-4)
    up = run(KIND, 4800, fine=12.0)["out"]
    np.testing.assert_allclose(run(KIND, 4800, fm_depth=0.5, ins={"fm": 2.0})["out"], up, atol=1e-9)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 1.5, 1.37, 0.25])
@pytest.mark.parametrize("index", [0.0, 1.0, 4.0])
def test_levels_are_met_also_where_side_bands_meet(ratio: float, index: float) -> None:
    out = run(KIND, SECOND, tune=400.0, ratio=ratio, index=index)
    values = {"tune": 400.0, "ratio": ratio, "index": index}
    told = KIND.level([Level()] * 4, setting_of(KIND, values=values))
    for port, level in zip(KIND.outputs, told, strict=True):
        assert out[port.name].mean() == pytest.approx(level.dc_v, abs=1e-3)
        assert out[port.name].std() == pytest.approx(level.rms_v, rel=1e-3)


def test_sine_of_turns_is_the_sine() -> None:
    turns = np.linspace(-3.0, 3.0, 6001)
    assert max(abs(sine_of_turns(t) - math.sin(2 * math.pi * t)) for t in turns) < 1e-11
    assert max(abs(sine_of_turns(t)) for t in turns) <= 1.0
