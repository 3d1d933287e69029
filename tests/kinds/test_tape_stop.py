"""The tape stop against kinematics: speed, pitch and distance."""

import numpy as np
import pytest

from rigproof.kinds.base import Span
from rigproof.kinds.tape_stop import KIND
from tests.kinds.alone import run
from tests.kinds.running import Floats, setting_of

RATE = 48_000


def held(first_s: float, last_s: float, length_s: float) -> Floats:
    t = np.arange(round(length_s * RATE)) / RATE
    return np.where((t >= first_s) & (t < last_s), 5.0, 0.0)


def test_running_it_is_two_samples_late_and_bit_by_bit_the_same() -> None:
    left, right = np.random.default_rng(2).uniform(-5, 5, (2, 4800))
    out = run(KIND, 4800, ins={"left": left, "right": right})
    np.testing.assert_array_equal(out["left"][2:], left[:-2])
    np.testing.assert_array_equal(out["right"][2:], right[:-2])
    assert KIND.lags(setting_of(KIND))[0].lo_s == pytest.approx(2 / RATE)


def test_the_tape_travels_as_kinematics_says() -> None:
    """A ramp of 1 V/s as sound reads the place on the tape: after t of T it has come t - t^2 / (2 T), half of T in all.

    Read where the head gives all, down to a quarter of the speed.
    """
    stop_s = 1.0
    gate = held(0.5, 9.0, 2.0)
    ramp = np.arange(gate.size) / RATE
    out = run(KIND, gate.size, ins={"left": ramp, "gate": gate}, stop=stop_s)["left"]
    for t in (0.1, 0.3, 0.5, 0.74):
        at = round((0.5 + t) * RATE)
        wanted_v = 0.5 + t - t * t / (2 * stop_s)
        assert out[at] == pytest.approx(wanted_v, abs=1e-4)
    assert not out[round(1.51 * RATE) :].any()


def test_pitch_follows_the_speed() -> None:
    tone = np.sin(2 * np.pi * 1000.0 * np.arange(2 * RATE) / RATE)
    gate = held(0.5, 9.0, 2.0)
    out = run(KIND, gate.size, ins={"left": tone, "gate": gate}, stop=1.0)["left"]
    crossings = np.flatnonzero((out[:-1] < 0.0) & (out[1:] >= 0.0))
    exact = crossings - out[crossings] / (out[crossings + 1] - out[crossings])
    hz = RATE / np.diff(exact)
    at_s = (exact[1:] + exact[:-1]) / 2 / RATE
    heard = (at_s > 0.52) & (at_s < 1.2)
    np.testing.assert_allclose(hz[heard], 1000.0 * (1.0 - (at_s[heard] - 0.5)), rtol=0.005)


def test_started_again_it_catches_up_with_what_sounds_now() -> None:
    """From a halt at 1 s: place 1 s at first, half of `start` behind at full speed, then faded back within 20 ms."""
    gate = held(0.2, 1.0, 2.0)
    ramp = np.arange(gate.size) / RATE
    out = run(KIND, gate.size, ins={"left": ramp, "gate": gate}, stop=0.1, start=0.4)["left"]
    for t in (0.15, 0.3, 0.39):
        at = round((1.0 + t) * RATE)
        assert out[at] == pytest.approx(1.0 + t * t / (2 * 0.4), abs=1e-4)
    after = round(1.422 * RATE)
    np.testing.assert_allclose(out[after:], ramp[after - 2 : -2], atol=1e-9)
    assert np.abs(np.diff(out[round(1.39 * RATE) : after])).max() < 0.001  # no click


def test_let_go_before_the_halt_it_speeds_up_from_where_it_is() -> None:
    gate = held(0.2, 0.7, 2.0)
    ramp = np.arange(gate.size) / RATE
    out = run(KIND, gate.size, ins={"left": ramp, "gate": gate}, stop=1.0, start=1.0)["left"]
    # Half way down: 0.5 s takes it 0.375 s on; half way up again takes the same.
    assert out[round(0.7 * RATE)] == pytest.approx(0.2 + 0.375, abs=1e-4)
    assert out[round(1.19 * RATE)] == pytest.approx(0.2 + 0.75 - 0.01, abs=2e-4)


def test_interval() -> None:
    setting = setting_of(KIND)
    still = KIND.interval([Span(-4.0, 2.0), Span(1.0, 2.0), Span(0.0, 0.5)], setting)
    assert still == [Span(-4.0, 2.0), Span(0.0, 2.0)]
    moving = KIND.interval([Span(-4.0, 4.0), Span(0.0, 0.0), Span(0.0, 5.0)], setting)
    assert moving == [Span(-5.0, 5.0), Span(0.0, 0.0)]
