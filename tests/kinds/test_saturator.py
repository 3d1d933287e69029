"""The saturator: its curves, its harmonics against closed forms, and what it aliases."""

import math

import numpy as np
import pytest

from rigproof.kinds.base import Level, Span
from rigproof.kinds.saturator import CURVES, HARD, KIND, TANH, area, bent
from tests.kinds.alone import components_v, gain_db, run
from tests.kinds.running import Floats, setting_of

RATE = 48_000
EVERY_CURVE = pytest.mark.parametrize("curve", range(3), ids=CURVES)


def sine(hz: float, samples: int, peak_v: float) -> Floats:
    return peak_v * np.sin(2 * np.pi * hz * np.arange(samples) / RATE)


@EVERY_CURVE
def test_area_is_the_integral_of_the_curve(curve: int) -> None:
    """Second, slower computation: its slope, and 0 at 0."""
    assert area(curve, 0.0) == pytest.approx(0.0, abs=1e-15)
    for u in np.linspace(-4.0, 4.0, 81) + 0.003:
        slope = (area(curve, u + 1e-5) - area(curve, u - 1e-5)) / 2e-5
        assert slope == pytest.approx(bent(curve, u), abs=1e-6)
        assert abs(bent(curve, u)) <= 1.0


@EVERY_CURVE
def test_a_slow_ramp_traces_the_curve(curve: int) -> None:
    ramp = np.linspace(-10.0, 10.0, RATE)
    out = run(KIND, RATE, ins={"in": ramp}, curve=float(curve), drive=2.0, ceiling=4.0)["out"]
    for at in range(1000, RATE, 997):
        exact_v = ramp[at] - 1.5 * 20.0 / RATE  # 1.5 samples late
        assert out[at] == pytest.approx(4.0 * bent(curve, 2.0 * exact_v / 4.0), abs=1e-6)


def test_harmonics_of_a_clipped_sine() -> None:
    """Closed form: a sine clipped at c = sin a has (2/pi)(a + sin a cos a) of the first harmonic, and no even ones.

    100 Hz, so that the first harmonics lie where everything passes flat.
    """
    out = run(KIND, 2 * RATE, ins={"in": sine(100.0, 2 * RATE, 10.0)}, curve=float(HARD))["out"]
    found = components_v(out[RATE:])
    a = math.asin(0.5)
    first_v = 10.0 * 2 / math.pi * (a + math.sin(a) * math.cos(a))
    third_v = 10.0 * (2 / math.pi) * (math.sin(2 * a) / 2 + math.sin(4 * a) / 4) / 3.0
    assert found[100] == pytest.approx(first_v, rel=1e-4)
    assert found[300] == pytest.approx(abs(third_v) * 1.0, rel=2e-3)
    assert found[200] < 1e-6


def test_bias_adds_even_harmonics_and_leaves_silence_silent() -> None:
    out = run(KIND, 2 * RATE, ins={"in": sine(100.0, 2 * RATE, 5.0)}, bias=2.0)["out"]
    assert components_v(out[RATE:])[200] > 0.1
    assert not run(KIND, 480, bias=2.0)["out"].any()


@EVERY_CURVE
def test_aliasing_is_25_db_lower_than_without(curve: int) -> None:
    """What lies below a 5003 Hz sine can only have folded down; the naive curve is the plain one at each sample."""
    wave = sine(5003.0, 2 * RATE, 5.0)
    out = run(KIND, wave.size, ins={"in": wave}, curve=float(curve), drive=8.0)["out"]
    plain = np.array([5.0 * bent(curve, 8.0 * v / 5.0) for v in wave[RATE:]])
    below = np.arange(RATE // 2 + 1)
    below = below[(below > 20) & (below < 5003)]
    folded_v = math.sqrt(np.sum(components_v(out[RATE:])[below] ** 2))
    plainly_v = math.sqrt(np.sum(components_v(plain)[below] ** 2))
    assert 20 * math.log10(plainly_v / folded_v) > 25.0


def test_what_is_not_bent_is_flat() -> None:
    """The emphasis undoes the mean: within 0.1 dB up to an eighth of the rate, 1.07 dB down at a quarter."""
    hit = np.eye(1, 64)[0]
    out = run(KIND, 64, ins={"in": hit}, curve=float(HARD))["out"]
    for hz in (20.0, 1000.0, 3000.0, 6000.0):
        assert gain_db(out, hz) == pytest.approx(0.0, abs=0.1)
    assert gain_db(out, 12_000.0) == pytest.approx(-1.07, abs=0.01)
    turns = np.angle(np.dot(out, np.exp(-2j * np.pi * 100.0 / RATE * np.arange(64))))
    assert -turns / (2 * np.pi * 100.0) * RATE == pytest.approx(1.5, abs=1e-3)
    assert KIND.lags(setting_of(KIND))[0].lo_s == pytest.approx(1.5 / RATE)


def test_interval() -> None:
    setting = setting_of(KIND, values={"curve": float(HARD), "drive": 2.0})
    assert KIND.interval([Span(-10.0, 10.0)], setting) == [Span(-5.0, 5.0)]
    assert KIND.interval([Span(0.0, 1.0)], setting) == [Span(-0.5, 2.5)]
    soft = setting_of(KIND, values={"curve": float(TANH), "drive": 50.0})
    assert KIND.interval([Span(-10.0, 10.0)], soft)[0].hi == pytest.approx(5.0)


@EVERY_CURVE
def test_level_of_a_sine_is_what_is_heard(curve: int) -> None:
    wave = sine(100.0, RATE, 5.0)
    out = run(KIND, RATE, ins={"in": wave}, curve=float(curve), drive=3.0, bias=1.0)["out"][480:]
    setting = setting_of(KIND, values={"curve": float(curve), "drive": 3.0, "bias": 1.0})
    told = KIND.level([Level.swing(5.0, crest_ratio=math.sqrt(2))], setting)[0]
    assert told.rms_v == pytest.approx(out.std(), rel=0.01)
    assert told.dc_v == pytest.approx(out.mean(), abs=0.02)
    assert told.hi_v == pytest.approx(out.max(), abs=0.01)
