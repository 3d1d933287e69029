"""Logic against truth tables, and its readings against chance and counting."""

import itertools
import math
from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.base import Beat, Level, Pulse, Span
from rigproof.kinds.logic import FUNCTIONS, KIND
from tests.kinds.running import Floats, play, pulses, rises, setting_of

TABLES: dict[str, Callable[[tuple[bool, ...]], bool]] = {
    "and": all,
    "or": any,
    "xor": lambda bits: sum(bits) % 2 == 1,
    "nand": lambda bits: not all(bits),
    "nor": lambda bits: not any(bits),
    "xnor": lambda bits: sum(bits) % 2 == 0,
}


def gate(name: str, ways: int, waves: list[Floats]) -> dict[str, Floats]:
    setting = setting_of(KIND, ways=ways, values={"function": float(FUNCTIONS.index(name))})
    ins = {f"in-{i}": wave for i, wave in enumerate(waves, start=1)}
    return play(KIND, setting, len(waves[0]), ins)


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("ways", [2, 3, 8])
def test_it_is_the_truth_table(name: str, ways: int) -> None:
    rows = list(itertools.product((False, True), repeat=ways))
    waves = [np.repeat([5.0 * row[i] for row in rows], 3) for i in range(ways)]
    out = gate(name, ways, waves)
    expected = np.repeat([TABLES[name](row) for row in rows], 3)
    np.testing.assert_array_equal(out["out"], 5.0 * expected)
    np.testing.assert_array_equal(out["inverse"], 5.0 * ~expected)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_level_is_that_of_inputs_that_know_nothing_of_each_other(name: str) -> None:
    """Chance gates of 25, 50 and 75 %, held 16 samples each; the share of the time told is met within chance."""
    rng = np.random.default_rng(4)
    shares, samples = (0.25, 0.5, 0.75), 64_000
    waves = [
        np.where(np.repeat(rng.random(samples // 16) < share, 16), 5.0, 0.0) for share in shares
    ]
    told = KIND.level(
        [Level(0.0, 5.0, 5.0 * s, 5.0 * math.sqrt(s * (1.0 - s))) for s in shares],
        setting_of(KIND, ways=3, values={"function": float(FUNCTIONS.index(name))}),
    )
    found = gate(name, 3, waves)
    for port, level in zip(KIND.outputs, told, strict=True):
        assert found[port.name].mean() == pytest.approx(
            level.dc_v, abs=0.12
        )  # 3 sigma of 4000 draws


@pytest.mark.parametrize("name", FUNCTIONS)
def test_intervals_are_those_of_every_outcome(name: str) -> None:
    """Each input low for certain, high for certain, or either: against trying all."""
    spans = {"low": Span(-5.0, 0.5), "high": Span(2.0, 5.0), "either": Span(0.0, 5.0)}
    values = {"low": (False,), "high": (True,), "either": (False, True)}
    setting = setting_of(KIND, ways=3, values={"function": float(FUNCTIONS.index(name))})
    for kinds in itertools.product(spans, repeat=3):
        told = KIND.interval([spans[k] for k in kinds], setting)[0]
        outcomes = {
            5.0 * TABLES[name](bits) for bits in itertools.product(*(values[k] for k in kinds))
        }
        assert told == Span(min(outcomes), max(outcomes))


def test_the_pulses_of_one_input_pass_and_two_are_anybodys_guess() -> None:
    steady = Pulse.steady(Fraction(4), length_s=0.01)
    setting = setting_of(KIND, values={"function": float(FUNCTIONS.index("or"))})
    one = KIND.rate([steady, Pulse()], setting)
    two = KIND.rate([steady, steady], setting)
    assert one is not None
    assert two is not None
    assert one[0] == steady
    assert two[0].beat is Beat.IRREGULAR
    wave = pulses(range(0, 48_000, 6000), 48_000)
    assert len(rises(gate("or", 2, [wave, np.zeros(48_000)])["out"])) == 8
