"""The granular player: one grain to the sample, density, pitch, freeze, chance by the seed."""

import math
from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import BLOCK, SILENT, ZERO, Level, Span
from rigproof.kinds.granular import KIND
from tests.kinds.alone import run
from tests.kinds.running import Floats, play, pulses, setting_of
from tests.kinds.test_catalogue import Bench

RATE = 48_000
PLAIN = {
    "density": 0.0,
    "spray": 0.0,
    "spread": 0.0,
    "mix": 1.0,
    "memory": 0.5,
    "position": 0.2,
    "size": 0.1,
}


def grains(samples: int, ins: dict[str, Any], **values: float) -> dict[str, Floats]:
    return run(KIND, samples, ins=ins, **(PLAIN | values))


def test_one_grain_is_the_memory_under_its_window() -> None:
    """0.2 of 0.5 s back, and two samples, under the square of a sine of 0.1 s."""
    noise = np.random.default_rng(1).uniform(-5.0, 5.0, RATE)
    at, size, late = 20_000, 4800, 4802
    out = grains(RATE, {"in": noise, "trigger": pulses([at], RATE)})
    window = np.sin(np.pi * np.arange(size) / size) ** 2
    wanted = np.zeros(RATE)
    wanted[at : at + size] = window * noise[at - late : at - late + size]
    np.testing.assert_allclose(out["left"], wanted, atol=1e-9)
    np.testing.assert_array_equal(out["left"], out["right"])
    lag = KIND.lags(setting_of(KIND, values=PLAIN))[0]
    assert [lag.lo_s, lag.hi_s] == pytest.approx([late / RATE] * 2)


@pytest.mark.parametrize(
    ("semitones", "volts"), [(12.0, 0.0), (-12.0, 0.0), (0.0, 1.0), (7.0, -1.0)]
)
def test_a_grain_runs_at_its_own_speed(semitones: float, volts: float) -> None:
    """A ramp of 1 V/s as sound reads the place: under the window it moves on by the speed."""
    ramp = np.arange(RATE) / RATE
    ins = {"in": ramp, "trigger": pulses([20_000], RATE), "pitch": volts}
    out = grains(RATE, ins, semitones=semitones, position=0.5)["left"]
    middle = slice(21_000, 24_000)
    window = np.sin(np.pi * (np.arange(21_000, 24_000) - 20_000) / 4800) ** 2
    places_s = out[middle] / window
    speed = 2 ** (semitones / 12 + volts)
    np.testing.assert_allclose(np.diff(places_s) * RATE, speed, rtol=1e-6)


def test_windows_half_a_size_apart_add_up_to_one() -> None:
    """Trigonometry: sin^2 + cos^2; twenty grains a second of 0.1 s."""
    out = grains(2 * RATE, {"in": 1.0}, density=20.0)["left"]
    np.testing.assert_allclose(out[RATE:], 1.0, atol=1e-6)


def test_frozen_a_grain_comes_back_the_same() -> None:
    noise = np.random.default_rng(2).uniform(-5.0, 5.0, 2 * RATE)
    freeze = np.where(np.arange(2 * RATE) < 30_000, 0.0, 5.0)
    ins = {"in": noise, "freeze": freeze, "trigger": pulses([40_000, 50_000, 80_000], 2 * RATE)}
    out = grains(2 * RATE, ins)["left"]
    first = out[40_000:44_800]
    assert np.abs(first).max() > 1.0
    np.testing.assert_allclose(out[50_000:54_800], first, atol=1e-12)
    np.testing.assert_allclose(out[80_000:84_800], first, atol=1e-12)


def test_position_follows_its_input() -> None:
    noise = np.random.default_rng(3).uniform(-5.0, 5.0, RATE)
    ins = {"in": noise, "trigger": pulses([30_000], RATE)}
    by_cv = grains(RATE, {**ins, "position": 2.0})["left"]
    np.testing.assert_allclose(by_cv, grains(RATE, ins, position=0.6)["left"], atol=1e-9)


def test_chance_is_the_seeds_and_stays_within_the_spray() -> None:
    """A click in the memory tells where a grain was taken from: spray 0.1 s, evenly spread."""

    def heard(seed: int) -> Floats:
        ramp = np.arange(4 * RATE) / RATE
        values = PLAIN | {"density": 10.0, "size": 0.05, "spray": 0.1, "memory": 4.0, "spread": 1.0}
        setting = setting_of(KIND, values=values, seed=seed)
        out = play(KIND, setting, 4 * RATE, {"in": ramp})
        middles = np.arange(4800 * 20, 4800 * 39, 4800) - 1 + 1200  # the windows' tops
        whole = np.maximum(out["left"], out["right"])[middles]  # the nearer side gets it all
        return np.asarray(middles / RATE - whole - 0.2 * 4.0 - 2 / RATE)

    sprayed_s = heard(1)
    assert sprayed_s.min() > -1e-3
    assert sprayed_s.max() < 0.1 + 1e-3
    assert sprayed_s.std() == pytest.approx(0.1 / math.sqrt(12), rel=0.4)  # of 19 grains
    np.testing.assert_array_equal(heard(1), sprayed_s)
    assert np.abs(heard(2) - sprayed_s).max() > 0.01


@pytest.mark.parametrize("piece", [1, 2, 16])
def test_pieces_of_any_length_give_the_same_sound(piece: int) -> None:
    """Against whole blocks: dense grains at every speed, several turns of the memory, frozen now and then."""
    samples = 400 * BLOCK
    rng = np.random.default_rng(5)
    values = PLAIN | {"density": 90.0, "size": 0.06, "memory": 0.1, "spray": 0.05, "spread": 1.0}
    setting = setting_of(KIND, values=values)
    fed = [
        rng.uniform(-5.0, 5.0, samples),
        rng.uniform(-1.0, 5.0, samples),
        rng.uniform(-4.0, 4.0, samples),
        pulses(range(50, samples, 977), samples),
        pulses(range(6000, samples, 4001), samples, length=1501),
    ]
    whole, cut = (Bench(KIND, setting, plain=False, block=block) for block in (BLOCK, piece))
    expected = whole.run(fed, samples)
    assert np.abs(expected).max() > 1.0
    np.testing.assert_allclose(cut.run(fed, samples), expected, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(cut.state, whole.state, rtol=1e-9, atol=1e-9)


def test_interval_counts_the_grains_that_can_sound() -> None:
    ins = [Span(-1.0, 1.0), ZERO, ZERO, ZERO, ZERO]
    values = {"mix": 1.0, "density": 20.0, "size": 0.12}
    assert KIND.interval(ins, setting_of(KIND, values=values))[0] == Span(-3.75, 3.75)
    none = setting_of(KIND, values=values | {"density": 0.0})
    assert KIND.interval(ins, none)[0] == ZERO
    ins[3] = Span(0.0, 5.0)
    assert KIND.interval(ins, none)[0] == Span(-10.0, 10.0)


def test_level_of_noise_is_what_is_heard() -> None:
    noise = np.random.default_rng(4).normal(0.0, 1.0, 8 * RATE)
    values = {"density": 30.0, "size": 0.1, "spray": 0.3, "spread": 1.0}
    out = grains(noise.size, {"in": noise}, **values)
    told = KIND.level(
        [Level.swing(4.0, crest_ratio=4.0), SILENT, SILENT, SILENT, SILENT],
        setting_of(KIND, values=PLAIN | values),
    )
    for side, level in zip(("left", "right"), told, strict=True):
        assert level.rms_v == pytest.approx(out[side][RATE:].std(), rel=0.1)
