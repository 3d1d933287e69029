"""The low-pass gate: its filter against the closed form, its light against the solved equations."""

import math

import numpy as np
import pytest

from rigproof.kinds.base import Span
from rigproof.kinds.low_pass_gate import KIND
from tests.kinds.alone import gain_db, run
from tests.kinds.running import Floats, setting_of

RATE_HZ = 48_000
BOTH, LOW_PASS, GAIN = 0.0, 1.0, 2.0


def response(volts: float, mode: float, top_hz: float) -> Floats:
    """Impulse response once the light has settled: a second after the voltage came."""
    hit = np.zeros(RATE_HZ + 16_384)
    hit[RATE_HZ] = 1.0
    values = {"response": mode, "rise": 0.001, "top": top_hz}
    return run(KIND, hit.size, ins={"in": hit, "cv": volts}, **values)["out"][RATE_HZ:]


@pytest.mark.parametrize(("volts", "light"), [(5.0, 1.0), (2.5, 0.5), (9.0, 1.0)])
@pytest.mark.parametrize("top_hz", [1000.0, 8000.0])
def test_two_equal_poles_at_the_cube_of_the_light(
    volts: float, light: float, top_hz: float
) -> None:
    """Closed form: one over 1 + (tan(pi f / fs) / g)^2, times the square of the light in `both`."""
    g = math.tan(math.pi * top_hz / RATE_HZ) * (light**3 + 1e-4)
    low, both = response(volts, LOW_PASS, top_hz), response(volts, BOTH, top_hz)
    for hz in np.geomspace(20.0, 12_000.0, 40):
        wanted_db = -20 * math.log10(1 + (math.tan(math.pi * hz / RATE_HZ) / min(g, 1.0)) ** 2)
        if wanted_db > -80.0:
            assert gain_db(low, float(hz)) == pytest.approx(wanted_db, abs=0.01)
            assert gain_db(both, float(hz)) == pytest.approx(
                wanted_db + 40 * math.log10(light), abs=0.01
            )


def test_light_rises_as_a_capacitor_charges() -> None:
    """Source: Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1: 1 - 1/e after one time constant."""
    out = run(KIND, 4800, ins={"in": 1.0, "cv": 5.0}, response=GAIN, rise=0.01)["out"]
    assert math.sqrt(out[479]) == pytest.approx(1 - 1 / math.e, abs=1e-9)


@pytest.mark.parametrize("light", [0.7, 0.3, 0.1, 0.01])
def test_light_falls_as_its_equation_says(light: float) -> None:
    """du/dt = -u / (fall (4 - 3 u)) from 1 is solved by 4 ln u - 3 u = -3 - t / fall."""
    cv = np.zeros(3 * RATE_HZ)
    cv[:RATE_HZ] = 5.0
    out = run(KIND, cv.size, ins={"in": 1.0, "cv": cv}, response=GAIN, rise=0.001, fall=0.05)["out"]
    fallen = np.sqrt(out[RATE_HZ:])
    at_s = 0.05 * (-3 - 4 * math.log(light) + 3 * light)
    assert int(np.argmax(fallen < light)) / RATE_HZ == pytest.approx(at_s, rel=2e-3)


def test_it_dies_to_exact_silence() -> None:
    cv = np.zeros(4 * RATE_HZ)
    cv[:480] = 5.0
    out = run(KIND, cv.size, ins={"in": 5.0, "cv": cv}, fall=0.01)["out"]
    assert out[:960].max() > 1.0
    assert not out[-RATE_HZ:].any()


def test_interval() -> None:
    source = Span(-4.0, 2.0)
    shut = setting_of(KIND)
    assert KIND.interval([source, Span(-5.0, 0.0)], shut) == [Span(0.0, 0.0)]
    assert KIND.interval([source, Span(0.0, 2.5)], shut) == [Span(-1.0, 0.5)]
    assert KIND.interval([source, Span(0.0, 8.0)], shut) == [source]
    through = setting_of(KIND, values={"response": LOW_PASS})
    assert KIND.interval([source, Span(0.0, 0.0)], through) == [source]
