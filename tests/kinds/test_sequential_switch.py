"""The sequential switch against its definition."""

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import IRREGULAR, NO_PULSE, ZERO, Level, Pulse, Span
from rigproof.kinds.sequential_switch import KIND
from tests.kinds.running import play, pulses, setting_of

WAYS = {"in-1": 1.0, "in-2": -2.0, "in-3": 3.0, "in-4": 99.0}


def passed(
    advances: list[int], resets: list[int], samples: int = 100, **values: float
) -> list[float]:
    """What comes out in the middle of every ten samples."""
    ins: dict[str, Any] = {
        "advance": pulses(advances, samples, length=3),
        "reset": pulses(resets, samples, length=3),
        **WAYS,
    }
    out = play(KIND, setting_of(KIND, values=values), samples, ins)["out"]
    return [float(v) for v in out[5::10]]


def test_each_rise_takes_the_next_and_the_last_comes_round() -> None:
    assert passed([10, 20, 30, 40], []) == [1, -2, 3, 11, 1, 1, 1, 1, 1, 1]


def test_steps_leaves_the_rest_out() -> None:
    assert passed([10, 20, 30, 40], [], steps=2) == [1, -2, 1, -2, 1, 1, 1, 1, 1, 1]


def test_reset_goes_to_the_first_and_wins() -> None:
    assert passed([10, 20, 30, 40, 50], [30, 45]) == [1, -2, 3, 1, 1, -2, -2, -2, -2, -2]


def test_the_change_is_on_the_sample_of_the_rise() -> None:
    wave = pulses([20], 64, length=3)
    out = play(KIND, setting_of(KIND, ways=2), 64, {"advance": wave, "in-1": 1.0, "in-2": 2.0})[
        "out"
    ]
    assert np.array_equal(out, np.where(np.arange(64) < 20, 1.0, 2.0))


def test_the_interval_is_that_of_the_inputs_that_take_part() -> None:
    ins = [ZERO, ZERO, Span(-1, 1), Span(2, 3), Span(-20, 0)]
    assert KIND.interval(ins, setting_of(KIND, ways=3)) == [Span(-11, 3)]
    assert KIND.interval(ins, setting_of(KIND, ways=3, values={"steps": 2})) == [Span(-1, 3)]
    moved = setting_of(KIND, ways=3, values={"steps": 1}, spans={"steps": Span(0, 1)})
    assert KIND.interval(ins, moved) == [Span(-11, 3)]


def test_the_level_is_that_of_all_ways_one_after_the_other() -> None:
    """Mean and RMS of the joined signals, computed from the definition."""
    said = KIND.level(
        [Level(), Level(), Level.steady(1.0), Level.steady(3.0)], setting_of(KIND, ways=2)
    )[0]
    assert said.dc_v == 2.0
    assert said.rms_v == pytest.approx(1.0)


def test_pulses_pass_only_when_all_ways_agree() -> None:
    even = Pulse.steady(Fraction(2))
    setting = setting_of(KIND, ways=2)
    assert KIND.rate([NO_PULSE, NO_PULSE, even, even], setting) == [even]
    assert KIND.rate([NO_PULSE, NO_PULSE, even, NO_PULSE], setting) == [IRREGULAR]
    assert KIND.rate([even, NO_PULSE, NO_PULSE, NO_PULSE], setting) == [NO_PULSE]
