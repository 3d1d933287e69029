"""Typical levels against published dBu figures and against the RMS of rendered sound."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.level import full_scale_peak_v
from rigproof.readings.proof import read
from rigproof.units import db_from_ratio, dbu_from_v_rms
from tests.random_patches import random_project
from tests.readings.fader_rig import OSCILLATOR, WAY_IN, fader_net
from tests.small_rigs import ADDER, STEADY, project


def measured(net: Net, row: int, seconds: float = 0.5) -> tuple[float, float]:
    """RMS about the mean, and the mean, of the second half of a render: a whole number of 500 Hz waves. [V]"""
    seen = render(net, seconds, probes=[row])[0]
    late = seen[len(seen) // 2 :]
    return float(late.std()), float(late.mean())


@pytest.mark.parametrize(
    ("wave", "dbu"),
    [
        # 5 V peak: sine, square, and triangle or saw; computed from 0 dBu = sqrt(0.6) V and the crest factors.
        ("sine", 13.187588),
        ("pulse", 16.197888),
        ("triangle", 11.426675),
        ("saw", 11.426675),
    ],
)
def test_five_volts_of_each_wave(wave: str, dbu: float) -> None:
    net = flatten(project({"osc": OSCILLATOR}))
    row = net.contact(f"osc.{wave}").row
    level = read(net).level[row]
    assert dbu_from_v_rms(level.rms_v) == pytest.approx(dbu, abs=1e-6)
    rms_v, mean_v = measured(net, row)
    # A band-limited wave lacks its harmonics over half the sample rate: for a 500 Hz square 0.05 dB.
    assert db_from_ratio(rms_v / level.rms_v) == pytest.approx(0.0, abs=0.1)
    assert mean_v == pytest.approx(level.dc_v, abs=0.02)


@pytest.mark.parametrize(
    ("full_scale_dbu", "dbfs"), [(18.0, -4.812412), (20.0, -6.812412), (24.0, -10.812412)]
)
def test_ten_volts_peak_to_peak_at_the_interface(full_scale_dbu: float, dbfs: float) -> None:
    """10 Vpp sine into full scale +18 (EBU R68), +20 and +24 dBu (SMPTE RP155); computed from the definitions."""
    net = flatten(
        project(
            {"osc": OSCILLATOR, "desk": WAY_IN},
            [("osc.sine", "desk.left")],
            {"desk.full-scale": full_scale_dbu},
        )
    )
    (found,) = read(net).headroom
    assert found.typical_dbu == pytest.approx(13.187588, abs=1e-6)
    assert found.typical_dbfs == pytest.approx(dbfs, abs=1e-6)
    assert found.peak_dbfs == pytest.approx(dbfs, abs=1e-6)
    assert found.headroom_db is not None
    assert found.headroom_db == pytest.approx(-dbfs, abs=1e-6)
    assert found.proved_headroom_db is not None
    assert found.proved_headroom_db <= found.headroom_db + 1e-9
    seen = render(net, 0.1, probes=[net.section("desk.left").outs[0]])[0]
    assert db_from_ratio(float(np.abs(seen).max())) == pytest.approx(dbfs, abs=0.01)


def test_a_sine_of_zero_dbu_peaks_at_the_published_voltage() -> None:
    """0 dBu sine: 1.095445 V peak; +18 dBu: 8.701430 V peak (computed from 1 mW in 600 ohm)."""
    assert full_scale_peak_v(0.0) == pytest.approx(1.095445, abs=1e-6)
    assert full_scale_peak_v(18.0) == pytest.approx(8.701430, abs=1e-6)


def two_oscillators(second_hz: float) -> Net:
    return flatten(
        project(
            {"a": OSCILLATOR, "b": OSCILLATOR, "sum": ADDER},
            [("a.sine", "sum.in-1"), ("b.sine", "sum.in-2")],
            {"b.tune": second_hz},
        )
    )


def test_two_unlike_signals_add_by_power() -> None:
    """+3.010300 dB for two equal unlike signals (definition)."""
    net = two_oscillators(700.0)
    level = read(net).level
    one, both = level[net.contact("a.sine").row], level[net.section("sum.mix").outs[0]]
    assert db_from_ratio(both.rms_v / one.rms_v) == pytest.approx(3.010300, abs=1e-6)
    rms_v, _ = measured(net, net.section("sum.mix").outs[0])
    assert db_from_ratio(rms_v / both.rms_v) == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("gain", [-0.9, 0.3, 0.7])
def test_the_mean_in_a_loop_settles_where_the_sound_does(gain: float) -> None:
    """x = 2 + g x: 2/(1 - g), g being the gain once round with 1 kohm into 100 kohm."""
    net = flatten(
        project(
            {"five": STEADY, "sum": ADDER},
            [("five.stiff", "sum.in-1"), ("sum.out", "sum.in-2")],
            {"five.level": 0.4, "sum.gain-2": gain},
        )
    )
    row = net.section("sum.mix").outs[0]
    _, mean_v = measured(net, row)
    assert mean_v == pytest.approx(2.0 / (1.0 - gain / 1.01), rel=1e-6)
    assert read(net).level[row].dc_v == pytest.approx(mean_v, rel=2e-3)


def test_the_power_in_a_loop_is_that_of_unlike_echoes() -> None:
    """Echoes too far apart to be alike: P = P0/(1 - g^2), the sum of a geometric series of powers."""
    net = flatten(
        project(
            {"osc": OSCILLATOR, "sum": ADDER},
            [("osc.sine", "sum.in-1"), ("sum.out", "sum.in-2")],
            {"sum.gain-2": 0.5},
        )
    )
    gain = 0.5 / 1.01
    level = read(net).level[net.section("sum.mix").outs[0]]
    assert level.rms_v == pytest.approx(5.0 / math.sqrt(2.0) / math.sqrt(1.0 - gain**2), rel=2e-3)


@pytest.mark.parametrize("cc", [32, 64, 100, 127])
def test_a_fader_sets_the_level_at_the_way_out(cc: int) -> None:
    """CC n of 127 gives 5 n/127 V, and a linear amplifier with 5 V full scale passes n/127: 20 log10(n/127) dB."""
    net = fader_net(faders__f5=cc / 127)
    readings = read(net)
    cv = readings.at("bridge.cv-1")
    assert cv.level.dc_v == pytest.approx(5.0 * cc / 127, rel=1e-6)
    (way_out,) = readings.headroom
    assert way_out.typical_dbu == pytest.approx(13.187588 + 20 * math.log10(cc / 127), abs=1e-3)
    rms_v, _ = measured(net, way_out.row, 0.2)
    assert dbu_from_v_rms(rms_v) == pytest.approx(way_out.typical_dbu, abs=0.01)


def test_a_played_fader_is_also_read_at_its_top() -> None:
    readings = read(fader_net())
    assert readings.headroom[0].typical_dbu == -math.inf
    assert readings.headroom_at_the_top[0].typical_dbu == pytest.approx(13.187588, abs=1e-3)


@pytest.mark.parametrize("seed", range(0, 2000, 8))
def test_levels_lie_within_the_proved_volts(seed: int) -> None:
    """Whatever is typical must be possible; over random patches of every kind."""
    readings = read(flatten(random_project(seed)))
    for row, span, level in zip(readings.net.rows, readings.volts, readings.level, strict=True):
        slack_v = 1e-9 * max(1.0, span.peak)
        assert level.lo_v >= span.lo - slack_v, row.name
        assert level.hi_v <= span.hi + slack_v, row.name
        assert level.lo_v - slack_v <= level.dc_v <= level.hi_v + slack_v, row.name
        assert math.isfinite(level.rms_v)
        assert 0.0 <= level.hit_v <= max(level.hi_v - level.dc_v, level.dc_v - level.lo_v) + slack_v
