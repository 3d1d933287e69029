"""Balanced and headphone outputs against line-level figures and Ohm's law."""

import math

import numpy as np
import pytest

from rigproof.kinds import balanced_output, headphone_output
from rigproof.kinds.base import RAIL_V, Level, Span
from rigproof.units import db_from_ratio, dbu_from_v_rms
from tests.kinds.alone import run
from tests.kinds.running import Floats, setting_of

N = np.arange(48_000)
SINE = np.sin(2 * np.pi * 1000 * N / 48_000)
SYMMETRICAL, IMPEDANCE_BALANCED = 0.0, 1.0


def dbu(wave: Floats) -> float:
    return dbu_from_v_rms(float(np.sqrt(np.mean(wave**2))))


# Source: one leg of a symmetrical output alone is -6.020600 dB against both, of an impedance-balanced one 0 dB;
# 5 V peak of a sine is +13.187588 dBu.
@pytest.mark.parametrize(
    ("circuit", "one_leg_db"), [(SYMMETRICAL, -6.020600), (IMPEDANCE_BALANCED, 0.0)]
)
def test_one_leg_against_both(circuit: float, one_leg_db: float) -> None:
    out = run(balanced_output.KIND, N.size, ins={"in": 5 * SINE}, level=1.0, circuit=circuit)
    assert dbu(out["across"]) == pytest.approx(13.187588, abs=1e-6)
    assert dbu(out["hot"]) - dbu(out["across"]) == pytest.approx(one_leg_db, abs=1e-6)
    np.testing.assert_allclose(out["across"], out["hot"] - out["cold"], atol=1e-15)


def test_level_for_plus_4_dbu_between_the_legs() -> None:
    """Source: +4 dBu is 1.736164 V peak of a sine."""
    out = run(balanced_output.KIND, N.size, ins={"in": 5 * SINE}, level=1.736164 / 5)
    assert dbu(out["across"]) == pytest.approx(4.0, abs=1e-5)
    assert dbu(out["cold"]) == pytest.approx(4.0 - 6.020600, abs=1e-5)


def test_only_a_symmetrical_output_reaches_twice_the_rails() -> None:
    for circuit, most_v in ((SYMMETRICAL, 2 * RAIL_V), (IMPEDANCE_BALANCED, RAIL_V)):
        out = run(balanced_output.KIND, 64, ins={"in": 11.0}, level=4.0, circuit=circuit)
        assert out["across"][0] == most_v
        assert out["hot"][0] == RAIL_V
        setting = setting_of(balanced_output.KIND, values={"level": 4.0, "circuit": circuit})
        told = balanced_output.KIND.interval([Span(-11.0, 11.0)], setting)
        assert told[2] == Span(-most_v, most_v)


def test_a_muted_output_is_silent() -> None:
    out = run(balanced_output.KIND, 64, ins={"in": 5.0}, mute=1.0)
    assert not any(wave.any() for wave in out.values())
    setting = setting_of(balanced_output.KIND, values={"mute": 1.0})
    assert balanced_output.KIND.interval([Span(-5, 5)], setting) == [Span.point(0.0)] * 3


@pytest.mark.parametrize(("source_ohm", "load_ohm"), [(10.0, 32.0), (0.0, 32.0), (120.0, 300.0)])
def test_the_phones_divide_the_voltage(source_ohm: float, load_ohm: float) -> None:
    """Source: voltage divider, R / (R + source)."""
    given = {"level": 0.2, "source": source_ohm, "load": load_ohm}
    out = run(headphone_output.KIND, N.size, ins={"in-left": 5 * SINE}, **given)
    found_db = db_from_ratio(float(out["out-left"].max()))
    assert found_db == pytest.approx(db_from_ratio(load_ohm / (load_ohm + source_ohm)), abs=1e-9)
    assert not out["out-right"].any()


def test_power_in_the_phones_is_the_one_the_text_names() -> None:
    """1 V RMS in 32 ohm is 31.25 mW: V^2 / R."""
    wave = 5 * SINE
    level = math.sqrt(2.0) / 5
    out = run(headphone_output.KIND, N.size, ins={"in-left": wave}, level=level, source=0.0)
    assert np.mean(out["out-left"] ** 2) / 32 == pytest.approx(0.03125, rel=1e-9)


def test_the_amplifier_stops_at_its_swing_before_the_divider() -> None:
    given = {"level": 4.0, "swing": 3.0, "source": 32.0, "load": 32.0}
    out = run(headphone_output.KIND, 64, ins={"in-left": 10.0, "in-right": -10.0}, **given)
    assert (out["out-left"][0], out["out-right"][0]) == (1.5, -1.5)
    setting = setting_of(headphone_output.KIND, values=given)
    assert headphone_output.KIND.interval([Span(-10, 10)] * 2, setting)[0] == Span(-1.5, 1.5)
    told = headphone_output.KIND.level([Level.swing(10.0, crest_ratio=1.0)] * 2, setting)
    assert told[0].peak_v == told[0].rms_v == 1.5
