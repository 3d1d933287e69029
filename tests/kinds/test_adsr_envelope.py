"""The ADSR envelope's times to the sample, its curves, its loop, its end pulse and its readings."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.adsr_envelope import KIND
from rigproof.kinds.base import Beat, Level, Pulse, Span
from tests.kinds.alone import run
from tests.kinds.running import Floats, play, pulses, rises, setting_of

RATE_HZ = 48_000
LINEAR, EXPONENTIAL = 0.0, 1.0
CURVES = pytest.mark.parametrize("curve", [LINEAR, EXPONENTIAL])


def gated(samples: int, *, at: int = 100, length: int, **values: float) -> dict[str, Floats]:
    """One gate, and what comes of it."""
    return run(KIND, samples, ins={"gate": pulses([at], samples, length=length)}, **values)


@CURVES
@pytest.mark.parametrize(
    ("attack_s", "decay_s", "release_s"),
    [(0.001, 0.01, 0.02), (0.01, 0.1, 0.05), (0.0505, 0.18, 0.3)],
)
@pytest.mark.parametrize("sustain", [0.0, 0.4])
def test_times_are_exact_to_the_sample(
    curve: float, attack_s: float, decay_s: float, release_s: float, sustain: float
) -> None:
    attack, decay, release = (round(t * RATE_HZ) for t in (attack_s, decay_s, release_s))
    length = attack + decay + 300
    out = gated(
        length + release + 600,
        length=length,
        attack=attack_s,
        decay=decay_s,
        release=release_s,
        sustain=sustain,
        curve=curve,
    )
    cv, held_v = out["cv"], 5.0 * sustain
    assert (cv[:101] == 0.0).all()
    assert cv[101] > 0.0
    assert int(np.argmax(cv)) == 100 + attack
    assert cv[100 + attack] == 5.0
    assert cv[100 + attack - 1] < 5.0
    assert cv[100 + attack + decay - 1] > held_v
    np.testing.assert_array_equal(cv[100 + attack + decay : 101 + length], held_v)
    if sustain > 0.0:
        assert cv[101 + length] < held_v
        assert cv[100 + length + release - 1] > 0.0
        assert rises(out["end"]) == [100 + length + release]
    assert (cv[100 + length + release :] == 0.0).all()


@CURVES
def test_a_release_takes_its_time_from_wherever_it_starts(curve: float) -> None:
    """The gate ends in the middle of the attack."""
    cv = gated(20_000, length=300, attack=0.01, release=0.1, curve=curve)["cv"]
    assert cv[400] < 5.0
    assert cv[400 + 4799] > 0.0
    assert cv[400 + 4800] == 0.0


def test_exponential_stages_are_charge_and_discharge() -> None:
    """Source: exp(-t/tau); -60 dB after 6.907755 tau, so 690.7755 ms have a tau of 100 ms: after one of it 1/e of the
    way is left; aiming at 1.5 times the peak the peak comes after 1.098612 tau."""
    cv = gated(120_000, length=60_000, attack=0.1, decay=0.6907755, sustain=0.2, release=0.6907755)[
        "cv"
    ]
    tau = round(0.1 / 1.098612 * RATE_HZ)
    assert cv[100 + tau] / 5.0 == pytest.approx(1.5 * (1 - math.exp(-1)), abs=1e-4)
    assert cv[4900 + 4800] / 5.0 == pytest.approx(0.2 + 0.8 / math.e, abs=1e-4)
    assert cv[60_100 + 4800] / 5.0 == pytest.approx(0.2 / math.e, abs=1e-4)


def test_linear_stages_are_straight() -> None:
    cv = gated(
        6000, length=2000, attack=0.01, decay=0.02, sustain=0.25, release=0.04, curve=LINEAR
    )["cv"]
    np.testing.assert_allclose(np.diff(cv[100:581]), 5.0 / 480, atol=1e-9)
    np.testing.assert_allclose(np.diff(cv[580:1541]), -5.0 * 0.75 / 960, atol=1e-9)
    np.testing.assert_allclose(np.diff(cv[2100:4021]), -5.0 * 0.25 / 1920, atol=1e-9)


def test_sustain_is_followed_while_it_is_held() -> None:
    setting = setting_of(KIND, values={"attack": 0.001, "decay": 0.001, "sustain": 0.8})
    edges = [0.8] * 51 + [0.2] * 50
    cv = play(KIND, setting, 6400, {"gate": 5.0}, glides={"sustain": edges})["cv"]
    np.testing.assert_allclose(cv[1000:3200], 4.0, atol=1e-9)
    np.testing.assert_allclose(cv[3264:], 1.0, atol=1e-9)
    assert np.abs(np.diff(cv[1000:])).max() < 0.05


def test_retrigger_starts_the_attack_again_only_under_a_gate() -> None:
    again = pulses([3000, 9000], 12_000)
    values = {"attack": 0.01, "decay": 0.01, "sustain": 0.2}
    gate = pulses([100], 12_000, length=6000)
    cv = run(KIND, 12_000, ins={"gate": gate, "retrigger": again}, **values)["cv"]
    assert cv[3000] == pytest.approx(1.0)
    assert cv[3000:3481].max() == 5.0
    assert cv[9000:9100].max() <= cv[8999]  # in the release it does nothing


@CURVES
def test_a_loop_runs_while_the_gate_is_high(curve: float) -> None:
    """From 0 V each cycle is attack plus decay long."""
    out = gated(
        30_000,
        length=20_000,
        attack=0.01,
        decay=0.02,
        sustain=0.0,
        loop=1.0,
        curve=curve,
        release=0.05,
    )
    places = rises(out["end"])
    assert places[:10] == [100 + 1440 * k for k in range(1, 11)]
    assert (out["cv"][20_100 + 2400 :] == 0.0).all()


@CURVES
@pytest.mark.parametrize("sustain", [0.0, 0.6])
def test_level_is_mean_and_rms_of_a_cycle(curve: float, sustain: float) -> None:
    """The integrals told against the samples, gates of attack plus decay, the next when the release is over."""
    values = {"attack": 0.05, "decay": 0.1, "release": 0.15, "sustain": sustain, "curve": curve}
    gate = pulses(range(0, 72_000, 14_400), 72_000, length=7200)
    out = run(KIND, 72_000, ins={"gate": gate}, **values)
    told = KIND.level([Level(0.0, 5.0, 2.5, 2.5), Level()], setting_of(KIND, values=values))
    wave = out["cv"][14_400:57_600]
    assert told[0].dc_v == pytest.approx(wave.mean(), rel=0.005)
    assert told[0].rms_v == pytest.approx(wave.std(), rel=0.005)
    assert (told[0].lo_v, told[0].hi_v) == (0.0, 5.0)


def test_without_a_gate_there_is_nothing() -> None:
    setting = setting_of(KIND, values={"loop": 1.0})
    assert KIND.interval([Span(0.0, 0.9), Span(0.0, 5.0)], setting) == [Span.point(0.0)] * 2
    out = run(KIND, 4800, ins={"gate": 0.9, "retrigger": pulses([100], 4800)}, loop=1.0)
    assert not out["cv"].any()


def test_ends_come_with_the_gates_or_never() -> None:
    """Four gates a quarter at 120 BPM come every 125 ms (60000/BPM/4)."""
    gates = Pulse.steady(Fraction(4), length_s=0.025)
    for release_s, ends in ((0.09, 8), (0.11, 0)):
        values = {"release": release_s}
        told = KIND.rate([gates, Pulse()], setting_of(KIND, values=values))
        assert told is not None
        assert told[0].per_quarter == 4
        assert (told[1].per_quarter == 4) == (ends > 0)
        wave = pulses(range(0, 48_000, 6000), 48_000, length=1200)
        assert len(rises(run(KIND, 48_000, ins={"gate": wave}, **values)["end"])) == ends
    looped = KIND.rate([gates, Pulse()], setting_of(KIND, values={"loop": 1.0}))
    assert looped is not None
    assert looped[1].beat is Beat.IRREGULAR
