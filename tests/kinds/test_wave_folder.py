"""The wave folder: its curves, Bessel's harmonics, and what it aliases."""

import math

import numpy as np
import pytest
from scipy import special

from rigproof.kinds.base import ZERO, Level, Span
from rigproof.kinds.wave_folder import KIND, SINE, TRIANGLE, area, folded
from tests.kinds.alone import components_v, run
from tests.kinds.running import Floats, setting_of

RATE = 48_000
EVERY_SHAPE = pytest.mark.parametrize("shape", [TRIANGLE, SINE], ids=["triangle", "sine"])


def sine(hz: float, samples: int, peak_v: float) -> Floats:
    return peak_v * np.sin(2 * np.pi * hz * np.arange(samples) / RATE)


def test_the_curves_at_whole_numbers() -> None:
    for shape in (TRIANGLE, SINE):
        for u, wanted in ((0, 0), (1, 1), (2, 0), (3, -1), (4, 0), (5, 1), (-1, -1), (-3, 1)):
            assert folded(shape, float(u)) == pytest.approx(wanted, abs=1e-10)
    assert folded(TRIANGLE, 0.3) == pytest.approx(0.3)
    assert folded(TRIANGLE, 1.3) == pytest.approx(0.7)
    assert folded(SINE, 0.5) == pytest.approx(math.sin(math.pi / 4), abs=1e-10)


@EVERY_SHAPE
def test_area_is_the_integral_of_the_curve(shape: int) -> None:
    for u in np.linspace(-5.0, 5.0, 101) + 0.003:
        slope = (area(shape, u + 1e-5) - area(shape, u - 1e-5)) / 2e-5
        assert slope == pytest.approx(folded(shape, u), abs=1e-5)


@EVERY_SHAPE
def test_a_slow_ramp_traces_the_curve(shape: int) -> None:
    ramp = np.linspace(-10.0, 10.0, RATE)
    out = run(KIND, RATE, ins={"in": ramp}, shape=float(shape), fold=3.0, offset=1.0)["out"]
    for at in range(1000, RATE, 997):
        exact_v = ramp[at] - 1.5 * 20.0 / RATE
        assert out[at] == pytest.approx(5.0 * folded(shape, (3 * exact_v + 1) / 5), abs=2e-3)


@pytest.mark.parametrize("fold", [1.0, 2.5, 5.0])
def test_harmonics_of_a_folded_sine_are_bessel_functions(fold: float) -> None:
    """Source: Jacobi and Anger: sin(z sin t) = 2 sum J(2k+1)(z) sin((2k+1) t); z = pi/2 times the gain."""
    wave = sine(100.0, 2 * RATE, 5.0)
    out = run(KIND, wave.size, ins={"in": wave}, shape=float(SINE), fold=fold)["out"]
    found = components_v(out[RATE:])
    for k in range(6):
        wanted_v = abs(5.0 * 2.0 * special.jv(2 * k + 1, math.pi / 2 * fold))
        assert found[100 * (2 * k + 1)] == pytest.approx(wanted_v, abs=5e-3)
    assert found[200] < 1e-6


@EVERY_SHAPE
def test_aliasing_is_20_db_lower_than_without(shape: int) -> None:
    """What lies below a 3001 Hz sine can only have folded down; the naive curve is the plain one at each sample."""
    wave = sine(3001.0, 2 * RATE, 5.0)
    out = run(KIND, wave.size, ins={"in": wave}, shape=float(shape), fold=8.0)["out"]
    plain = np.array([5.0 * folded(shape, 8.0 * v / 5.0) for v in wave[RATE:]])
    below = np.arange(21, 3001)
    folded_v = math.sqrt(np.sum(components_v(out[RATE:])[below] ** 2))
    plainly_v = math.sqrt(np.sum(components_v(plain)[below] ** 2))
    assert 20 * math.log10(plainly_v / folded_v) > 20.0


def test_fold_and_offset_follow_their_inputs() -> None:
    wave = sine(200.0, 4800, 4.0)
    moved = run(
        KIND,
        4800,
        ins={"in": wave, "fold": 2.0, "offset": 0.5},
        fold=1.0,
        fold_depth=0.5,
        offset=1.0,
    )["out"]
    plain = run(KIND, 4800, ins={"in": wave}, fold=2.0, offset=1.5)["out"]
    np.testing.assert_allclose(moved[3:], plain[3:], atol=1e-9)


def test_interval_knows_whether_a_fold_is_reached() -> None:
    def told(source: Span, fold: float) -> Span:
        return KIND.interval([source, ZERO, ZERO], setting_of(KIND, values={"fold": fold}))[0]

    straight = told(Span(0.0, 2.0), 1.0)
    assert [straight.lo, straight.hi] == pytest.approx([-0.5, 2.5])
    assert told(Span(-5.0, 5.0), 4.0) == Span(-5.0, 5.0)
    once = told(Span(0.0, 4.0), 2.0)  # from -2 to 10 V fed: over the top, down to 0 V
    assert [once.lo, once.hi] == pytest.approx([-2.0, 5.0])


@EVERY_SHAPE
def test_level_of_a_sine_is_what_is_heard(shape: int) -> None:
    wave = sine(100.0, RATE, 5.0)
    out = run(KIND, RATE, ins={"in": wave}, shape=float(shape), fold=3.0, offset=1.0)["out"][480:]
    setting = setting_of(KIND, values={"shape": float(shape), "fold": 3.0, "offset": 1.0})
    told = KIND.level([Level.swing(5.0, crest_ratio=math.sqrt(2)), Level(), Level()], setting)[0]
    assert told.rms_v == pytest.approx(out.std(), rel=0.01)
    assert told.dc_v == pytest.approx(out.mean(), abs=0.03)
