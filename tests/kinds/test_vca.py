"""The VCA's two laws in dB, its clip at unity, and the level of a product."""

import math

import numpy as np
import pytest

from rigproof.kinds.base import RAIL_V, ZERO, Level, Span
from rigproof.kinds.vca import KIND
from tests.kinds.alone import run
from tests.kinds.running import play, setting_of

LINEAR, EXPONENTIAL = 0.0, 1.0


def gain_db(cv_v: float, **values: float) -> float:
    """Gain for a steady control voltage."""
    out = run(KIND, 8, ins={"in": 1.0, "cv": cv_v}, **values)["out"][-1]
    return float(20 * np.log10(out)) if out > 0 else -math.inf


@pytest.mark.parametrize(
    ("cv_v", "full_v", "expected_db"),
    [
        # Common practice: gain = CV/5 V or CV/8 V, clipped at unity; dB of the ratio by definition.
        (5.0, 5.0, 0.0),
        (2.5, 5.0, -6.020600),
        (0.5, 5.0, -20.0),
        (8.0, 5.0, 0.0),
        (8.0, 8.0, 0.0),
        (4.0, 8.0, -6.020600),
    ],
)
def test_linear_law(cv_v: float, full_v: float, expected_db: float) -> None:
    assert gain_db(cv_v, response=LINEAR, full_scale=full_v) == pytest.approx(expected_db, abs=1e-6)


@pytest.mark.parametrize("cv_v", [0.0, -3.0])
def test_linear_law_is_shut_at_zero_and_below(cv_v: float) -> None:
    assert gain_db(cv_v) == -math.inf


@pytest.mark.parametrize(
    ("cv_v", "full_v", "expected_db"),
    [
        # Common practice: 12 dB a volt; -60 dB at 0 V and 0 dB at +5 V.
        (5.0, 5.0, 0.0),
        (4.0, 5.0, -12.0),
        (0.0, 5.0, -60.0),
        (-1.0, 5.0, -72.0),
        (10.0, 5.0, 0.0),
        (7.0, 8.0, -12.0),
    ],
)
def test_exponential_law(cv_v: float, full_v: float, expected_db: float) -> None:
    assert gain_db(cv_v, response=EXPONENTIAL, full_scale=full_v) == pytest.approx(
        expected_db, abs=1e-6
    )


def test_offset_opens_it_like_a_voltage() -> None:
    assert gain_db(0.0, offset=2.5) == pytest.approx(-6.020600, abs=1e-6)
    assert gain_db(-2.5, offset=5.0, gain=2.0) == pytest.approx(0.0, abs=1e-9)


def test_a_gliding_gain_has_no_steps() -> None:
    setting = setting_of(KIND, values={"gain": 0.0})
    out = play(
        KIND, setting, 640, {"in": 5.0, "cv": 5.0}, glides={"gain": [i / 10 for i in range(11)]}
    )["out"]
    np.testing.assert_allclose(np.diff(out), 5.0 / 640, atol=1e-9)


def test_it_multiplies_audio_by_audio() -> None:
    """Source: sin a sin b = (cos(a-b) - cos(a+b)) / 2; here with the control raised to stay above 0 V."""
    n = np.arange(48_000)
    signal = np.sin(2 * np.pi * 1000 * n / 48_000)
    steer = 2.5 + 2.5 * np.sin(2 * np.pi * 300 * n / 48_000)
    out = run(KIND, n.size, ins={"in": signal, "cv": steer})["out"]
    sides = np.abs(np.fft.rfft(out)) * 2 / n.size
    assert sides[1000] == pytest.approx(0.5, abs=1e-9)
    assert sides[700] == pytest.approx(0.25, abs=1e-9)
    assert sides[1300] == pytest.approx(0.25, abs=1e-9)


@pytest.mark.parametrize("response", [LINEAR, EXPONENTIAL])
def test_level_of_a_sine_under_a_moving_gain(response: float) -> None:
    """The level told is the RMS measured: exact for the linear law, 0.7 dB for a triangle on the exponential."""
    n = np.arange(96_000)
    signal = 5.0 * np.sin(2 * np.pi * 997 * n / 48_000)
    phase = (n * 2 / 48_000) % 1.0
    steer = 5.0 * np.abs(
        2.0 * phase - 1.0
    )  # a triangle from 0 V to 5 V: every voltage equally often
    out = run(KIND, n.size, ins={"in": signal, "cv": steer}, response=response)["out"]
    sine = Level.swing(5.0, crest_ratio=math.sqrt(2.0))
    triangle = Level(0.0, 5.0, 2.5, 2.5 / math.sqrt(3.0))
    told = KIND.level([sine, triangle], setting_of(KIND, values={"response": response}))[0]
    assert told.rms_v == pytest.approx(out.std(), rel=0.01)
    assert told.peak_v == pytest.approx(5.0)


def test_interval_is_the_product() -> None:
    setting = setting_of(KIND)
    assert KIND.interval([Span(-5.0, 5.0), Span.point(2.5)], setting) == [Span(-2.5, 2.5)]
    assert KIND.interval([ZERO, Span(-5.0, 5.0)], setting) == [ZERO]
    assert KIND.interval([Span(-5.0, 5.0), Span(-5.0, 0.0)], setting) == [ZERO]
    loud = setting_of(KIND, values={"gain": 4.0})
    assert KIND.interval([Span(-5.0, 5.0), Span(0.0, 8.0)], loud) == [Span(-RAIL_V, RAIL_V)]
