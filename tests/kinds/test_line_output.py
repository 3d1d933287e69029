"""Line levels in dBu on the way out of the case and into the desk."""

import math

import numpy as np
import pytest

from rigproof.kinds import line_input, line_output
from rigproof.kinds.base import RAIL_V, Level, Span
from rigproof.units import dbu_from_v_rms, dbv_from_v_rms
from tests.kinds.alone import run
from tests.kinds.running import setting_of

N = np.arange(48_000)
SINE = np.sin(2 * np.pi * 1000 * N / 48_000)


def rms_v(wave: np.ndarray) -> float:
    return float(np.sqrt(np.mean(wave**2)))


@pytest.mark.parametrize(
    ("peak_v", "level", "dbu"),
    [
        # Source: 0 dBu = 0.7745966692 V rms; a 5 V peak sine is +13.187588 dBu; 1.736164 V peak is +4 dBu.
        (5.0, 1.0, 13.187588),
        (5.0, 1.736164 / 5.0, 4.0),
        (10.0, 0.5, 13.187588),
        (5.0, 0.447214 / 5.0, -7.781513),  # -10 dBV
    ],
)
def test_levels_in_dbu(peak_v: float, level: float, dbu: float) -> None:
    wave = peak_v * SINE
    out = run(line_output.KIND, N.size, ins={"in-left": wave, "in-right": -wave}, level=level)
    assert dbu_from_v_rms(rms_v(out["out-left"])) == pytest.approx(dbu, abs=1e-5)
    np.testing.assert_array_equal(out["out-right"], -out["out-left"])
    told = line_output.KIND.level(
        [Level.swing(peak_v, crest_ratio=math.sqrt(2.0))] * 2,
        setting_of(line_output.KIND, values={"level": level}),
    )
    assert dbu_from_v_rms(told[0].rms_v) == pytest.approx(dbu, abs=1e-5)


def test_ten_dbv_is_the_consumer_level() -> None:
    """Source: -10 dBV = 0.316228 V rms."""
    out = run(line_output.KIND, N.size, ins={"in-left": 5.0 * SINE}, level=0.447214 / 5.0)[
        "out-left"
    ]
    assert dbv_from_v_rms(rms_v(out)) == pytest.approx(-10.0, abs=1e-5)


def test_mute_and_rails() -> None:
    setting = setting_of(line_output.KIND, values={"mute": 1.0})
    assert line_output.KIND.interval([Span(-5.0, 5.0)] * 2, setting) == [Span.point(0.0)] * 2
    assert not run(line_output.KIND, 64, ins={"in-left": 5.0}, mute=1.0)["out-left"].any()
    assert run(line_output.KIND, 64, ins={"in-left": 5.0}, level=4.0)["out-left"].max() == RAIL_V


@pytest.mark.parametrize(
    ("full_scale_dbu", "dbfs"),
    # Source: a 10 Vpp sine into full scale +18 (EBU R68), +20 and +24 dBu (SMPTE RP155).
    [(18.0, -4.812412), (20.0, -6.812412), (24.0, -10.812412)],
)
def test_ten_volts_peak_to_peak_in_dbfs(full_scale_dbu: float, dbfs: float) -> None:
    digital = run(line_input.KIND, N.size, ins={"in": 5.0 * SINE}, full_scale=full_scale_dbu)[
        "digital"
    ]
    assert 20 * math.log10(digital.max()) == pytest.approx(dbfs, abs=1e-5)


@pytest.mark.parametrize(
    ("full_scale_dbu", "peak_v"),
    [(0.0, 1.095445), (12.0, 4.361046), (18.0, 8.701430), (20.0, 10.954451), (24.0, 17.361635)],
)
def test_full_scale_is_the_peak_of_a_sine(full_scale_dbu: float, peak_v: float) -> None:
    """Source: table of sine levels, V peak = sqrt 2 sqrt 0.6 10^(dBu/20)."""
    assert line_input.full_scale_peak_v(full_scale_dbu) == pytest.approx(peak_v, abs=1e-6)


def test_it_clips_at_full_scale() -> None:
    digital = run(line_input.KIND, 64, ins={"in": np.linspace(-20.0, 20.0, 64)}, full_scale=18.0)[
        "digital"
    ]
    assert (digital.min(), digital.max()) == (-1.0, 1.0)
    assert line_input.KIND.interval([Span(0.0, 20.0)], setting_of(line_input.KIND)) == [
        Span(0.0, 1.0)
    ]


def test_what_comes_in_is_heard() -> None:
    assert line_input.KIND.is_ear
    assert not line_output.KIND.is_ear
