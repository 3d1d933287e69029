"""Comparator, window comparator and rectifier against their definitions, and their readings against the waves."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds import comparator, rectifier, window_comparator
from rigproof.kinds.base import Beat, Level, Pulse, Span
from tests.kinds.alone import components_v, run
from tests.kinds.running import pulses, rises, setting_of

N = 4800
RAMP_V = np.concatenate([np.linspace(-5.0, 5.0, N // 2), np.linspace(5.0, -5.0, N // 2)])
TRIANGLE = Level.swing(5.0, crest_ratio=math.sqrt(3.0))


def test_the_gate_rises_at_the_first_sample_at_the_threshold() -> None:
    step_v = np.repeat([0.0, 2.0, 1.96, 1.94, 2.0, 0.0], 100)
    out = run(comparator.KIND, 600, ins={"in": step_v}, threshold=2.0, hysteresis=0.05)
    assert np.flatnonzero(np.diff(out["gate"])).tolist() == [99, 299, 399, 499]
    np.testing.assert_array_equal(out["gate"] + out["inverse"], 5.0)


def test_the_threshold_follows_its_input_volt_for_volt() -> None:
    by_knob = run(comparator.KIND, N, ins={"in": RAMP_V}, threshold=3.0)
    by_cable = run(comparator.KIND, N, ins={"in": RAMP_V, "threshold": 2.0}, threshold=1.0)
    np.testing.assert_array_equal(by_knob["gate"], by_cable["gate"])
    assert by_knob["gate"].mean() == pytest.approx(5.0 * 0.2, rel=0.03)


def test_noise_at_the_threshold_fires_once_with_hysteresis_and_often_without() -> None:
    noisy_v = RAMP_V + np.random.default_rng(1).uniform(-0.1, 0.1, N)
    assert len(rises(run(comparator.KIND, N, ins={"in": noisy_v}, hysteresis=0.3)["gate"])) == 1
    assert len(rises(run(comparator.KIND, N, ins={"in": noisy_v}, hysteresis=0.0)["gate"])) > 3


def test_a_comparator_turns_a_triangle_into_a_pulse_as_wide_as_told() -> None:
    """Source: a straight line is above a threshold for the share (peak - threshold) / (2 peak) of the time."""
    told = comparator.KIND.level([TRIANGLE, Level()], setting_of(comparator.KIND))
    out = run(comparator.KIND, N, ins={"in": RAMP_V}, hysteresis=0.0)
    for port, level in zip(comparator.KIND.outputs, told, strict=True):
        assert level.dc_v == pytest.approx(out[port.name].mean(), abs=0.01)
        assert level.rms_v == pytest.approx(out[port.name].std(), abs=0.01)
    assert told[0].dc_v == pytest.approx(5.0 * 0.4)


def test_what_cannot_cross_has_one_voltage() -> None:
    setting = setting_of(comparator.KIND, values={"threshold": 6.0})
    low, high = comparator.KIND.interval([Span(-5.0, 5.0), Span(0.0, 0.0)], setting)
    assert (low, high) == (Span.point(0.0), Span.point(5.0))
    setting = setting_of(comparator.KIND, values={"threshold": -6.0})
    high, low = comparator.KIND.interval([Span(-5.0, 5.0), Span(0.0, 0.0)], setting)
    assert (low, high) == (Span.point(0.0), Span.point(5.0))


def test_pulses_pass_a_comparator() -> None:
    steady = Pulse.steady(Fraction(4), length_s=0.01)
    setting = setting_of(comparator.KIND)
    told = comparator.KIND.rate([steady, Pulse()], setting)
    assert told is not None
    assert [p.per_quarter for p in told] == [4, 4]
    wave = pulses(range(0, 48_000, 6000), 48_000)  # 4 a quarter note at 120 BPM
    out = run(comparator.KIND, 48_000, ins={"in": wave})
    assert len(rises(out["gate"])) == 8
    moved = comparator.KIND.rate([steady, steady], setting)
    assert moved is not None
    assert moved[0].beat is Beat.IRREGULAR


def test_one_gate_of_the_window_is_high_at_any_time_and_says_where() -> None:
    out = run(window_comparator.KIND, N, ins={"in": RAMP_V}, centre=1.0, width=4.0, hysteresis=0.0)
    np.testing.assert_allclose(out["inside"] + out["above"] + out["below"], 5.0)
    np.testing.assert_array_equal(out["inside"] > 0, (RAMP_V >= -1.0) & (RAMP_V < 3.0))
    np.testing.assert_array_equal(out["above"] > 0, RAMP_V >= 3.0)
    np.testing.assert_array_equal(out["below"] > 0, RAMP_V < -1.0)


@pytest.mark.parametrize("width", [0.0, 0.01, 0.3, 4.0])
def test_hysteresis_never_makes_two_gates_high(width: float) -> None:
    wave = np.random.default_rng(2).uniform(-1.0, 1.0, N)
    out = run(window_comparator.KIND, N, ins={"in": wave}, width=width, hysteresis=2.0)
    high = np.array([out[p.name] > 0.0 for p in window_comparator.KIND.outputs])
    assert (high.sum(axis=0) == 1).all()


def test_leaving_the_parts_outside_takes_the_hysteresis() -> None:
    wave = np.repeat([0.0, 2.0, 0.95, 0.85, -1.05, -0.95, -0.85], 10)
    out = run(window_comparator.KIND, 70, ins={"in": wave}, width=2.0, hysteresis=0.1)
    where = [next(n for n in ("inside", "above", "below") if out[n][i]) for i in range(5, 70, 10)]
    assert where == ["inside", "above", "above", "inside", "below", "below", "inside"]


def test_shares_of_a_triangle_are_those_of_the_window() -> None:
    told = window_comparator.KIND.level([TRIANGLE, Level()], setting_of(window_comparator.KIND))
    out = run(window_comparator.KIND, N, ins={"in": RAMP_V}, hysteresis=0.0)
    assert [round(x.dc_v / 5.0, 6) for x in told] == [0.2, 0.4, 0.4]
    for port, level in zip(window_comparator.KIND.outputs, told, strict=True):
        assert out[port.name].mean() == pytest.approx(level.dc_v, abs=0.01)


def test_a_rectified_sine_has_its_series() -> None:
    """Source: |sin x| = 2/pi - 4/pi sum cos(2 n x) / (4 n^2 - 1) (Fourier series, any calculus text)."""
    n = np.arange(48_000)
    sine_v = 5.0 * np.sin(2 * np.pi * 50 * n / 48_000)
    out = run(rectifier.KIND, n.size, ins={"in": sine_v})
    found_v = components_v(out["full"])
    assert found_v[0] == pytest.approx(10.0 / math.pi, rel=1e-5)
    for k in (1, 2, 3, 4):
        assert found_v[100 * k] == pytest.approx(20.0 / math.pi / (4 * k * k - 1), rel=1e-3)
    np.testing.assert_array_equal(out["upper"] - out["lower"], out["full"])
    np.testing.assert_array_equal(out["upper"] + out["lower"], sine_v)


@pytest.mark.parametrize("offset_v", [0.0, 1.5, -6.0, 6.0])
def test_levels_of_a_rectified_sine(offset_v: float) -> None:
    """Exact without an offset and where nothing crosses 0 V; a guess between, within a tenth."""
    n = np.arange(48_000)
    wave_v = 5.0 * np.sin(2 * np.pi * 50 * n / 48_000) + offset_v
    out = run(rectifier.KIND, n.size, ins={"in": wave_v})
    source = Level.swing(5.0, crest_ratio=math.sqrt(2.0)).scaled(1.0, offset_v)
    slack = 0.5 if offset_v == 1.5 else 1e-3
    for port, level in zip(
        rectifier.KIND.outputs,
        rectifier.KIND.level([source], setting_of(rectifier.KIND)),
        strict=True,
    ):
        assert level.dc_v == pytest.approx(out[port.name].mean(), abs=slack)
        assert level.rms_v == pytest.approx(out[port.name].std(), abs=slack)
        assert level.hi_v == pytest.approx(out[port.name].max(), abs=1e-3)


def test_the_interval_of_a_rectifier_is_the_image() -> None:
    setting = setting_of(rectifier.KIND)
    assert rectifier.KIND.interval([Span(-3.0, 5.0)], setting) == [
        Span(0.0, 5.0), Span(0.0, 5.0), Span(-3.0, 0.0)
    ]  # fmt: skip
    assert rectifier.KIND.interval([Span(-3.0, -2.0)], setting) == [
        Span(2.0, 3.0), Span(0.0, 0.0), Span(-3.0, -2.0)
    ]  # fmt: skip
