"""Panner and crossfader against the laws they promise, to 0.01 dB and better."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds import crossfader, panner
from rigproof.kinds.base import IRREGULAR, NO_PULSE, ZERO, Level, Pulse, Span
from rigproof.units import db_from_ratio
from tests.kinds.alone import run
from tests.kinds.running import play, setting_of

N = np.arange(48_000)
SINE = np.sin(2 * np.pi * 1000 * N / 48_000)
EQUAL_POWER, LINEAR = 0.0, 1.0


def gains_db(pan: float, law: float) -> tuple[float, float]:
    out = run(panner.KIND, 64, ins={"in": 1.0}, pan=pan, law=law)
    return db_from_ratio(float(out["left"][-1])), db_from_ratio(float(out["right"][-1]))


# 20 log10 of cos and sin of (pan + 1) 45 degrees. Half way to a side the half-angle formula gives their
# squares as (2 +- sqrt 2) / 4.
@pytest.mark.parametrize(
    ("pan", "left_db", "right_db"),
    [(0.0, -3.010300, -3.010300), (-0.5, -0.687693, -8.343207), (0.5, -8.343207, -0.687693)],
)
def test_equal_power_pan_in_db(pan: float, left_db: float, right_db: float) -> None:
    assert gains_db(pan, EQUAL_POWER) == pytest.approx((left_db, right_db), abs=1e-6)


def test_linear_pan_in_db() -> None:
    """Half the voltage is -6.020600 dB, a quarter -12.041200 dB, three quarters -2.498775 dB."""
    assert gains_db(0.0, LINEAR) == pytest.approx((-6.020600, -6.020600), abs=1e-6)
    assert gains_db(0.5, LINEAR) == pytest.approx((-12.041200, -2.498775), abs=1e-6)


@pytest.mark.parametrize("law", [EQUAL_POWER, LINEAR])
def test_at_the_ends_one_side_has_all_and_the_other_nothing(law: float) -> None:
    for pan, all_side, no_side in ((-1.0, "left", "right"), (1.0, "right", "left")):
        out = run(panner.KIND, 64, ins={"in": 5.0}, pan=pan, law=law)
        np.testing.assert_allclose(out[all_side], 5.0, rtol=1e-10)
        np.testing.assert_array_equal(out[no_side], 0.0)


def test_everywhere_the_powers_or_the_voltages_add_up_to_one() -> None:
    sweep_v = np.linspace(-5.0, 5.0, 6400)
    for law, power in ((EQUAL_POWER, 2), (LINEAR, 1)):
        out = run(panner.KIND, 6400, ins={"in": 1.0, "pan-cv": sweep_v}, law=law)
        np.testing.assert_allclose(out["left"] ** power + out["right"] ** power, 1.0, rtol=1e-10)
        assert (np.diff(out["right"]) > 0).all()


def test_a_volt_moves_the_pan_by_its_depth_and_no_further_than_the_end() -> None:
    by_hand = run(panner.KIND, 64, ins={"in": 1.0}, pan=0.3)
    by_voltage = run(panner.KIND, 64, ins={"in": 1.0, "pan-cv": 2.0}, pan=-0.1, pan_cv_depth=0.2)
    np.testing.assert_allclose(by_voltage["left"], by_hand["left"], rtol=1e-12)
    beyond = run(panner.KIND, 64, ins={"in": 1.0, "pan-cv": 9.0}, pan=0.5)
    np.testing.assert_allclose(beyond["right"], 1.0, rtol=1e-10)


def test_a_gliding_pan_goes_through_every_place() -> None:
    points = np.linspace(-1.0, 1.0, 11).tolist()
    out = play(panner.KIND, setting_of(panner.KIND), 640, {"in": 1.0}, glides={"pan": points})
    angle = (np.arange(640) / 640) * np.pi / 2
    np.testing.assert_allclose(out["right"], np.sin(angle), atol=1e-10)


def test_the_level_of_a_panned_sine_is_the_one_heard() -> None:
    """Steady, and swept evenly from side to side by a triangle."""
    source = Level.swing(5.0, crest_ratio=math.sqrt(2.0))
    setting = setting_of(panner.KIND, values={"pan": 0.25})
    sweep_v = np.abs((N / 6000) % 2 - 1) * 10 - 5
    sweep = Level(-5.0, 5.0, 0.0, 5.0 / math.sqrt(3.0))
    for cv, cv_level, abs_db in ((0.0, Level(), 1e-6), (sweep_v, sweep, 0.15)):
        heard = play(panner.KIND, setting, N.size, {"in": 5.0 * SINE, "pan-cv": cv})
        told = panner.KIND.level([source, cv_level], setting)
        for side, level in zip(("left", "right"), told, strict=True):
            rms_v = float(np.sqrt(np.mean(heard[side] ** 2)))
            assert db_from_ratio(level.rms_v / rms_v) == pytest.approx(0.0, abs=abs_db)


def test_the_interval_of_a_pan_is_tight() -> None:
    setting = setting_of(panner.KIND, spans={"pan": Span(0.0, 1.0)})
    left, right = panner.KIND.interval([Span(-2.0, 4.0), ZERO], setting)
    assert (left.lo, left.hi) == pytest.approx((-2 * math.sqrt(0.5), 4 * math.sqrt(0.5)))
    assert (right.lo, right.hi) == pytest.approx((-2.0, 4.0))


# --- crossfader --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("law", "middle_db"), [(EQUAL_POWER, -3.010300), (LINEAR, -6.020600)])
def test_the_middle_of_a_crossfade(law: float, middle_db: float) -> None:
    for ins in ({"a": 1.0}, {"b": 1.0}):
        out = run(crossfader.KIND, 64, ins=ins, law=law)["out"]
        assert db_from_ratio(float(out[-1])) == pytest.approx(middle_db, abs=1e-6)


def test_a_linear_crossfade_of_one_voltage_keeps_it_and_an_equal_power_one_lifts_it_by_3_db() -> (
    None
):
    sweep_v = np.linspace(0.0, 5.0, 6401)
    ins = {"a": 2.0, "b": 2.0, "position-cv": sweep_v}
    linear = run(crossfader.KIND, 6401, ins=ins, position=0.0, law=LINEAR)["out"]
    np.testing.assert_allclose(linear, 2.0, rtol=1e-12)
    power = run(crossfader.KIND, 6401, ins=ins, position=0.0, law=EQUAL_POWER)["out"]
    assert db_from_ratio(float(power.max()) / 2.0) == pytest.approx(3.010300, abs=1e-6)
    assert power[0] == pytest.approx(2.0, rel=1e-10)
    assert power[-1] == pytest.approx(2.0, rel=1e-10)


def test_an_equal_power_crossfade_of_unlike_signals_keeps_the_level() -> None:
    """A sine and another an octave higher know nothing of each other over whole cycles."""
    octave = np.sin(2 * np.pi * 2000 * N / 48_000)
    rms = []
    for position in np.linspace(0.0, 1.0, 9):
        out = run(
            crossfader.KIND, N.size, ins={"a": 3 * SINE, "b": 3 * octave}, position=float(position)
        )["out"]
        rms.append(math.sqrt(np.mean(out**2)))
        level = Level.swing(3.0, crest_ratio=math.sqrt(2.0))
        setting = setting_of(crossfader.KIND, values={"position": float(position)})
        told = crossfader.KIND.level([level, level, Level()], setting)[0]
        assert told.rms_v == pytest.approx(rms[-1], rel=1e-9)
    assert rms == pytest.approx([3.0 / math.sqrt(2.0)] * 9, rel=1e-9)


def test_the_interval_of_a_crossfade_is_reached() -> None:
    """Brute force over places: the highest and lowest of steady inputs at the ends of their spans."""
    ins = [Span(-1.0, 3.0), Span(-4.0, 1.0), ZERO]
    for law in (EQUAL_POWER, LINEAR):
        span = Span(0.1, 0.7)
        setting = setting_of(crossfader.KIND, values={"law": law}, spans={"position": span})
        told = crossfader.KIND.interval(ins, setting)[0]
        share = np.linspace(span.lo, span.hi, 20_001)
        gains = (
            (1 - share, share) if law else (np.cos(share * np.pi / 2), np.sin(share * np.pi / 2))
        )
        assert told.hi == pytest.approx(float((gains[0] * 3 + gains[1] * 1).max()), abs=1e-6)
        assert told.lo == pytest.approx(float((gains[0] * -1 + gains[1] * -4).min()), abs=1e-6)


def test_pulses_pass_a_crossfader_alone() -> None:
    even = Pulse.steady(Fraction(4))
    setting = setting_of(crossfader.KIND)
    assert crossfader.KIND.rate([even, NO_PULSE, NO_PULSE], setting) == [even]
    assert crossfader.KIND.rate([NO_PULSE, even, even], setting) == [even]
    assert crossfader.KIND.rate([even, even, NO_PULSE], setting) == [IRREGULAR]
    assert crossfader.KIND.rate([NO_PULSE, NO_PULSE, even], setting) == [NO_PULSE]
