"""The AD envelope's times to the sample, its curves, its end pulse and its readings."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.ad_envelope import KIND, PULSE_S, PULSE_V
from rigproof.kinds.base import Beat, Level, Pulse
from tests.kinds.alone import run
from tests.kinds.running import pulses, rises, setting_of

RATE_HZ = 48_000
LINEAR, EXPONENTIAL = 0.0, 1.0


def shot(
    samples: int, *, at: int = 100, length: int = 48, **values: float
) -> dict[str, np.ndarray]:
    """One gate, and what comes of it."""
    return run(KIND, samples, ins={"gate": pulses([at], samples, length=length)}, **values)


@pytest.mark.parametrize("curve", [LINEAR, EXPONENTIAL])
@pytest.mark.parametrize(("attack_s", "decay_s"), [(0.001, 0.01), (0.01, 0.1), (0.0505, 0.18)])
def test_times_are_exact_to_the_sample(curve: float, attack_s: float, decay_s: float) -> None:
    attack, decay = round(attack_s * RATE_HZ), round(decay_s * RATE_HZ)
    out = shot(100 + attack + decay + 500, attack=attack_s, decay=decay_s, curve=curve)
    cv = out["cv"]
    assert (cv[:101] == 0.0).all()
    assert cv[101] > 0.0
    assert int(np.argmax(cv)) == 100 + attack
    assert cv[100 + attack] == 5.0
    assert cv[100 + attack - 1] < 5.0
    assert cv[100 + attack + decay] == 0.0
    assert cv[100 + attack + decay - 1] > 0.0
    assert rises(out["end"]) == [100 + attack + decay]


@pytest.mark.parametrize("curve", [LINEAR, EXPONENTIAL])
@pytest.mark.parametrize(("cv_v", "times"), [(1.0, 2.0), (-1.0, 0.5), (3.0, 8.0), (9.0, 32.0)])
def test_a_volt_doubles_the_decay_to_the_sample(curve: float, cv_v: float, times: float) -> None:
    """Oracle: 2^volts, held at 32 times; the CV is looked at when the rise starts, not later."""
    attack, decay = 48, round(480 * times)
    samples = 100 + attack + decay + 500
    steer = np.zeros(samples)
    steer[:120] = cv_v
    ins = {"gate": pulses([100], samples, length=48), "decay-cv": steer}
    cv = run(KIND, samples, ins=ins, attack=0.001, decay=0.01, curve=curve)["cv"]
    assert cv[100 + attack] == 5.0
    assert cv[100 + attack + decay] == 0.0
    assert cv[100 + attack + decay - 1] > 0.0


def test_exponential_fall_is_a_discharge() -> None:
    """Source: exp(-t/tau): -6.0206 dB at 0.693147 tau, -20 dB at 2.302585 tau, -60 dB at 6.907755 tau;
    a decay of 690.7755 ms has a tau of 100 ms."""
    cv = shot(60_000, attack=0.01, decay=0.6907755)["cv"]
    peak = 100 + 480
    for t_s, expected_db in (
        (0.0693147, -6.0206),
        (0.1, -8.685890),
        (0.2302585, -20.0),
        (0.4605170, -40.0),
    ):
        assert 20 * math.log10(cv[peak + round(t_s * RATE_HZ)] / 5.0) == pytest.approx(
            expected_db, abs=0.002
        )


def test_exponential_rise_aims_at_one_and_a_half_times_the_peak() -> None:
    """Source: aiming at T = 1.5 the peak comes after 1.098612 tau; after one tau it is 1.5 (1 - 1/e) of it."""
    attack_s = 0.1
    cv = shot(20_000, attack=attack_s)["cv"]
    tau = attack_s / 1.098612 * RATE_HZ
    assert cv[100 + round(tau)] / 5.0 == pytest.approx(1.5 * (1 - math.exp(-1)), abs=1e-4)


def test_linear_curves_are_straight() -> None:
    cv = shot(3000, attack=0.01, decay=0.02, curve=LINEAR, peak=8.0)["cv"]
    np.testing.assert_allclose(np.diff(cv[100:581]), 8.0 / 480, atol=1e-9)
    np.testing.assert_allclose(np.diff(cv[580:1541]), -8.0 / 960, atol=1e-9)


def test_end_pulse_has_the_length_told() -> None:
    end = shot(20_000)["end"]
    assert (end > 0).sum() == round(PULSE_S * RATE_HZ)
    assert end.max() == PULSE_V


def test_a_second_gate_rises_from_where_it_stands() -> None:
    gates = pulses([100, 4900], 20_000)
    cv = run(KIND, 20_000, ins={"gate": gates}, attack=0.01, decay=1.0)["cv"]
    assert np.abs(np.diff(cv)).max() < 0.1
    assert cv[4900] < cv[4910]


def test_gates_below_the_threshold_do_nothing() -> None:
    cv = run(KIND, 4800, ins={"gate": pulses([100], 4800, level_v=0.9)})["cv"]
    assert not cv.any()


def test_noise_on_a_gate_does_not_start_it_twice() -> None:
    rng = np.random.default_rng(3)
    gate = pulses([100], 9600, length=4800) + rng.uniform(-0.1, 0.1, 9600)
    gate[100:4900] = np.maximum(gate[100:4900] - 3.95, 0.8)  # hovers about the threshold
    assert len(rises(run(KIND, 9600, ins={"gate": gate}, attack=0.0005, decay=0.01)["end"])) == 1


def test_loop_has_the_period_of_rise_and_fall() -> None:
    out = run(KIND, 48_000, loop=1.0, attack=0.01, decay=0.02, curve=LINEAR)
    places = np.array(rises(out["end"]))
    assert (np.diff(places) == 1440).all()
    told = KIND.rate(
        [Pulse()], setting_of(KIND, values={"loop": 1.0, "attack": 0.01, "decay": 0.02})
    )
    assert told is not None
    assert told[1].beat is Beat.FREE
    assert told[1].hz == pytest.approx(RATE_HZ / 1440)


@pytest.mark.parametrize("curve", [LINEAR, EXPONENTIAL])
def test_level_is_mean_and_rms_of_a_cycle(curve: float) -> None:
    """The integrals told against the samples of a looped envelope."""
    values = {"loop": 1.0, "attack": 0.05, "decay": 0.2, "curve": curve}
    out = run(KIND, 48_000, **values)  # type: ignore[arg-type]
    told = KIND.level([Level()], setting_of(KIND, values=values))
    for port, level in zip(KIND.outputs, told, strict=True):
        wave = out[port.name][12_000:36_000]
        assert level.dc_v == pytest.approx(wave.mean(), rel=0.005)
        assert level.rms_v == pytest.approx(wave.std(), rel=0.005)
        assert (level.lo_v, level.hi_v) == (0.0, 5.0)


def test_rate_follows_the_gate_and_misses_ends_that_never_come() -> None:
    """Four gates a quarter at 120 BPM come every 125 ms (60000/BPM/4)."""
    gates = Pulse.steady(Fraction(4), length_s=0.01)
    fits = KIND.rate([gates], setting_of(KIND, values={"attack": 0.01, "decay": 0.11}))
    late = KIND.rate([gates], setting_of(KIND, values={"attack": 0.01, "decay": 0.12}))
    assert fits is not None
    assert late is not None
    assert fits[1].per_quarter == late[0].per_quarter == 4
    assert late[1].beat is Beat.NONE
    wave = pulses(range(0, 48_000, 6000), 48_000)
    assert len(rises(run(KIND, 48_000, ins={"gate": wave}, attack=0.01, decay=0.11)["end"])) == 8
    assert not rises(run(KIND, 48_000, ins={"gate": wave}, attack=0.01, decay=0.12)["end"])
