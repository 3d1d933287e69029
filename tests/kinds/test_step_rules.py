"""Chances, ratchets and conditions of a sequencer's steps, against counts made another way."""

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from rigproof.kinds import gate_sequencer, step_sequencer
from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Kind, Pulse, Setting
from rigproof.kinds.step_rules import (
    check_chances,
    check_conditions,
    check_ratchets,
    condition_number,
    is_met,
    most_ratchets,
)
from tests.kinds.running import Floats, play, pulses, rises, setting_of
from tests.kinds.test_catalogue import Bench

STEP = 480
GATES, NOTES = gate_sequencer.KIND, step_sequencer.KIND
BOTH = pytest.mark.parametrize("kind", [GATES, NOTES], ids=lambda kind: kind.name)
SIXTEENTHS = Pulse.steady(Fraction(4))


def setting_for(
    kind: Kind, letters: str, values: dict[str, float] | None = None, **rules: Any
) -> Setting:
    """Either sequencer with the same rhythm, short gates."""
    if kind is GATES:
        given = {"shape": 1.0, "gate": 0.3, **(values or {})}
        return setting_of(GATES, values=given, options={"steps": letters, **rules})
    given = {"gate": 0.3, "length": float(len(letters)), **(values or {})}
    return setting_of(NOTES, values=given, options={"gates": letters, **rules})


def gates(kind: Kind, setting: Setting, count: int, resets: list[int] | None = None) -> list[int]:
    """The samples at which the gate rises, for `count` clocks."""
    ins: dict[str, Floats] = {
        "clock": pulses(range(0, count * STEP, STEP), count * STEP, length=40)
    }
    if resets is not None:
        ins["reset"] = pulses([r * STEP for r in resets], count * STEP, length=40)
    return rises(play(kind, setting, count * STEP, ins)["gate"])


def heard(kind: Kind, setting: Setting, count: int, resets: list[int] | None = None) -> str:
    found = gates(kind, setting, count, resets)
    assert all(place % STEP == 0 for place in found)
    return "".join("x" if i * STEP in found else "." for i in range(count))


@BOTH
@pytest.mark.parametrize(
    ("conditions", "turns"),
    [
        # Four steps a turn; what each turn sounds like, worked out by hand from the words.
        (("always",), ["xxxx"] * 4),
        (("1:2", "2:2", "always", "always"), ["x.xx", ".xxx", "x.xx", ".xxx"]),
        (("3:4",), ["....", "....", "xxxx", "....", "....", "....", "xxxx"]),
        (("first", "not-first"), ["x.x.", ".x.x", ".x.x"]),
        (("1:3", "previous", "always", "not-previous"), ["xxx.", "..xx", "..xx", "xxx."]),
        (("not-previous", "2:2"), ["x.x.", "xx.x", "..x."]),
    ],
)
def test_conditions_in_words(kind: Kind, conditions: tuple[str, ...], turns: list[str]) -> None:
    setting = setting_for(kind, "xxxx", conditions=conditions)
    assert heard(kind, setting, 4 * len(turns)) == "".join(turns)


@BOTH
def test_a_reset_begins_with_the_first_turn(kind: Kind) -> None:
    setting = setting_for(kind, "xx", conditions=("first", "2:2"))
    assert heard(kind, setting, 12) == "x..x...x...x"
    after = heard(kind, setting, 12, resets=[6])
    assert after[6:] == heard(kind, setting, 6)


@BOTH
def test_ratchets_repeat_a_step_evenly_in_the_measured_period(kind: Kind) -> None:
    setting = setting_for(kind, "x.xx", ratchets=(2, 5, 1, 3))
    found = [place - 4 * STEP for place in gates(kind, setting, 8) if place >= 4 * STEP]
    assert found == [0, 240, 2 * STEP, 3 * STEP, 3 * STEP + 160, 3 * STEP + 320]


def test_ratchets_multiply_the_common_repeats() -> None:
    setting = setting_for(GATES, "xx", {"repeats": 2.0}, ratchets=(1, 2))
    found = [place - 2 * STEP for place in gates(GATES, setting, 4) if place >= 2 * STEP]
    assert found == [0, 240, 480, 600, 720, 840]


@BOTH
def test_each_step_has_its_own_chance(kind: Kind) -> None:
    """Binomial: 500 turns, each step within four standard deviations; certain and impossible ones exactly."""
    chances = (1.0, 0.25, 0.0, 0.6)
    setting = setting_for(kind, "xxxx", chances=chances)
    turns = 500
    wave = pulses(range(0, turns * 4 * 24, 24), turns * 4 * 24, length=8)
    found = np.asarray(rises(play(kind, setting, wave.size, {"clock": wave})["gate"])) // 24 % 4
    for step, chance in enumerate(chances):
        spread = 4 * np.sqrt(turns * chance * (1 - chance))
        assert abs(np.count_nonzero(found == step) - turns * chance) <= spread
    told = kind.rate([SIXTEENTHS, *[NO_PULSE] * (len(kind.inputs) - 1)], setting)
    assert told is not None
    gate = told[0 if kind is GATES else 1]
    assert gate.per_quarter == 3  # a chance of 0 is no pulse
    assert gate.chance == pytest.approx((1.0 + 0.25 + 0.6) / 3)


def test_chances_multiply_the_common_one() -> None:
    setting = setting_for(GATES, "x", {"probability": 0.5}, chances=(0.5,))
    told = GATES.rate([SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE], setting)
    assert told is not None
    assert told[0].chance == pytest.approx(0.25)


CASES: list[tuple[str, dict[str, Any], Fraction | None]] = [
    ("xxxx", {"conditions": ("1:2", "always", "2:3", "always")}, None),
    ("x.x.", {"conditions": ("first", "always", "not-first")}, None),
    ("xxx.", {"conditions": ("2:4", "previous", "not-previous")}, None),
    ("xxxx", {"ratchets": (1, 2, 1, 3)}, None),
    ("xxxx", {"ratchets": (3,)}, None),
    ("xx.x", {"ratchets": (1, 2), "conditions": ("1:2", "2:2", "always")}, None),
    ("x.x", {"conditions": ("1:2", "first", "first")}, Fraction(1, 2)),
    ("xxxxx", {"conditions": ("1:2", "not-first"), "ratchets": (1, 1, 2)}, Fraction(1, 3)),
]


@BOTH
@pytest.mark.parametrize(("letters", "rules", "reset"), CASES)
def test_the_fraction_told_is_the_count_heard(
    kind: Kind, letters: str, rules: dict[str, Any], reset: Fraction | None
) -> None:
    """A whole number of cycles is counted after the first of them, and repeats to the sample."""
    setting = setting_for(kind, letters, **rules)
    again = Pulse.steady(reset) if reset else NO_PULSE
    told = kind.rate([SIXTEENTHS, again, *[NO_PULSE] * (len(kind.inputs) - 2)], setting)
    assert told is not None
    gate = told[0 if kind is GATES else 1]
    assert gate.per_quarter is not None
    assert gate.cycle_quarters is not None
    clocks = len(letters) * 12 if reset is None else 4 * int(1 / reset)
    assert (Fraction(clocks, 4) / gate.cycle_quarters).denominator == 1
    resets = None if reset is None else list(range(0, 3 * clocks, int(4 / reset)))
    found = gates(kind, setting, 3 * clocks, resets)
    second = [p for p in found if clocks * STEP <= p < 2 * clocks * STEP]
    third = [p - clocks * STEP for p in found if p >= 2 * clocks * STEP]
    if reset is None:
        assert second == third
        assert Fraction(len(third) * 4, clocks) == gate.per_quarter
        spacing = set(np.diff([*third, third[0] + clocks * STEP]))
        assert (gate.beat is Beat.STEADY) == (len(spacing) == 1)
    else:  # a reset forgets the period: the first step after it does not repeat
        lost = max(0, rules.get("ratchets", (1,))[0] - 1)
        assert Fraction((len(third) + lost) * 4, clocks) == gate.per_quarter


def test_ties_are_counted_with_their_chance() -> None:
    """A whole gate joins hits in a row: the second rises only when the first did not come."""
    given = {"shape": 1.0, "gate": 1.0}
    setting = setting_of(GATES, values=given, options={"steps": "xx..", "chances": (0.5, 1.0)})
    told = GATES.rate([SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE], setting)
    assert told is not None
    assert told[0].per_quarter is not None
    turns = 400
    wave = pulses(range(0, turns * 4 * 24, 24), turns * 4 * 24, length=8)
    found = rises(play(GATES, setting, wave.size, {"clock": wave})["gate"])
    # Exactly one rise a turn, whether the first comes or not; two could come, so the share is a half.
    assert len(found) == turns
    assert float(told[0].per_quarter) * told[0].chance == pytest.approx(1.0)


def test_accents_in_a_row_tie_as_well() -> None:
    setting = setting_of(GATES, values={"shape": 1.0, "gate": 1.0}, options={"steps": "XXx."})
    told = GATES.rate([SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE], setting)
    assert told is not None
    wave = pulses(range(0, 32 * STEP, STEP), 32 * STEP, length=40)
    out = play(GATES, setting, 32 * STEP, {"clock": wave})
    later = [[at for at in rises(out[name]) if at >= 4 * STEP] for name in ("gate", "accent")]
    assert later[0] == later[1] == list(range(4 * STEP, 32 * STEP, 4 * STEP))
    assert told[0].per_quarter == told[1].per_quarter == 1


def test_repeats_behind_an_uneven_clock_are_not_promised() -> None:
    swung = Pulse(Beat.PATTERN, Fraction(4), Fraction(1, 2))
    setting = setting_for(GATES, "xx", ratchets=(1, 2))
    told = GATES.rate([swung, NO_PULSE, NO_PULSE, NO_PULSE], setting)
    assert told is not None
    assert told[0] == IRREGULAR
    plain = GATES.rate([swung, NO_PULSE, NO_PULSE, NO_PULSE], setting_for(GATES, "xx"))
    assert plain is not None
    assert plain[0].per_quarter == 4


def test_conditions_too_long_to_unroll_are_irregular() -> None:
    conditions = tuple(f"1:{b}" for b in (16, 15, 13, 11, 7))
    told = GATES.rate(
        [SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE],
        setting_for(GATES, "x" * 5, conditions=conditions),
    )
    assert told is not None
    assert told[0] == IRREGULAR


def test_rules_rotate_with_what_is_written() -> None:
    setting = setting_for(GATES, "x.x.", {"rotate": 2.0}, conditions=("1:2", "always", "2:2"))
    assert heard(GATES, setting, 8) == "..x.x..."


@BOTH
def test_a_kernel_with_rules_is_the_same_plain_compiled_and_sample_by_sample(kind: Kind) -> None:
    rules: dict[str, Any] = {
        "chances": (1.0, 0.5, 0.7),
        "ratchets": (1, 3, 2, 1, 5),
        "conditions": ("always", "1:2", "previous", "not-first", "not-previous", "2:3"),
    }
    setting = setting_for(kind, "xx.xxxx", **rules)
    samples = 40 * 64
    wave = pulses(range(5, samples, 37), samples, length=9)
    fed = [wave, pulses([1111], samples, length=9)]
    fed += [np.zeros(samples)] * (len(kind.inputs) - 2)
    whole = Bench(kind, setting, plain=False)
    got = whole.run(fed, samples)
    for other in (Bench(kind, setting, plain=True), Bench(kind, setting, plain=False, block=1)):
        np.testing.assert_allclose(other.run(fed, samples), got, rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(other.state, whole.state, rtol=1e-12, atol=1e-12)
    assert len(rises(got[0 if kind is GATES else 1])) > 20


@pytest.mark.parametrize("turn", range(12))
def test_a_to_b_is_the_a_th_of_every_b_turns(turn: int) -> None:
    for b in (1, 2, 3, 4):
        for a in range(1, b + 1):
            number = condition_number(f"{a}:{b}")
            assert number is not None
            assert is_met(number, float(turn), 0.0) == ((turn + 1 - a) % b == 0)


def test_what_cannot_be_written_is_refused() -> None:
    assert check_chances((1, 0.5, 0)) is None
    assert check_chances((1.5,)) is not None
    assert check_chances((True,)) is not None
    assert check_chances(0.5) is not None
    assert check_ratchets((1, 8)) is None
    assert most_ratchets({"ratchets": (1, 3, 2)}) == 3
    assert most_ratchets({"ratchets": ()}) == 1
    assert check_ratchets((0,)) is not None
    assert check_ratchets((2.0,)) is not None
    assert check_conditions(("always", "16:16")) is None
    assert check_conditions(("5:4",)) is not None
    assert check_conditions(("0:4",)) is not None
    assert check_conditions(("sometimes",)) is not None
    assert check_conditions(("1:2",) * 65) is not None
