"""The gate sequencer against published rhythms, exact fractions and binomial chance."""

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import NO_PULSE, Beat, Level, Pulse
from rigproof.kinds.clock import KIND as CLOCK
from rigproof.kinds.gate_sequencer import KIND, rhythm_of
from rigproof.kinds.rhythms import check_euclid, check_letters
from tests.kinds.running import Floats, play, pulses, rises, setting_of

STEP = 600
"""Samples between two clocks here: 12.5 ms."""
QUARTER = 480
"""Samples of a quarter note where pulses are counted: short, so that many can be."""
SIXTEENTHS = Pulse.steady(Fraction(4))


def clocks(count: int, *, first: int = 0) -> Floats:
    return pulses(range(first, first + count * STEP, STEP), first + count * STEP, length=100)


def locked(per_quarter: Fraction, quarters: int) -> Floats:
    """Pulses so many a quarter note."""
    count = int(quarters * per_quarter)
    places = [int(QUARTER * i / per_quarter) for i in range(count)]
    return pulses(places, quarters * QUARTER, length=20)


def heard(count: int, ins: dict[str, Any] | None = None, **setting: Any) -> str:
    """The rhythm as letters, one for each of `count` clocks."""
    fed = {"clock": clocks(count), **(ins or {})}
    made = setting_of(KIND, **setting)
    hits = set(rises(play(KIND, made, count * STEP, fed)["gate"]))
    assert all(place % STEP == 0 for place in hits)  # on the clock's own sample
    return "".join("x" if i * STEP in hits else "." for i in range(count))


# Source: G. Toussaint, Proc. BRIDGES 2005: tresillo, cinquillo, bossa nova, West African bell.
@pytest.mark.parametrize(
    ("euclid", "rhythm"),
    [
        ((3, 8, 0), "x..x..x."),
        ((5, 8, 0), "x.xx.xx."),
        ((5, 16, 0), "x..x..x..x..x..."),
        ((5, 16, 6), "x..x..x...x..x.."),
        ((7, 12, 0), "x.xx.x.xx.x."),
    ],
)
def test_published_rhythms_sound(euclid: tuple[int, ...], rhythm: str) -> None:
    assert heard(2 * len(rhythm), options={"euclid": euclid}) == rhythm * 2


def test_written_letters_sound_and_accents_come_out_twice() -> None:
    setting = setting_of(KIND, options={"steps": "X..x | ..X."})
    out = play(KIND, setting, 8 * STEP, {"clock": clocks(8)})
    assert rises(out["gate"]) == [0, 3 * STEP, 6 * STEP]
    assert rises(out["accent"]) == [0, 6 * STEP]


def test_rotate_length_and_fill() -> None:
    assert heard(8, options={"euclid": (3, 8, 0)}, values={"rotate": 3}) == "x..x.x.."
    assert heard(8, options={"euclid": (3, 8, 3)}) == "x..x.x.."
    assert heard(8, options={"euclid": (3, 8, 0)}, values={"rotate": -1}) == ".x..x..x"
    assert heard(6, options={"steps": "xx......"}, values={"length": 3}) == "xx.xx."
    assert heard(8, options={"steps": "xx......"}, values={"fill": 3}) == "x..x..x."
    assert heard(8, options={"steps": "xx......"}, values={"fill": 0}) == "........"
    assert heard(8, options={"euclid": (3, 8, 0)}, values={"division": 2}) == "x.....x."


def test_a_volt_of_fill_is_a_fifth_of_the_steps() -> None:
    assert heard(8, {"fill-cv": 5.0}, values={"fill": 0, "length": 8}) == "xxxxxxxx"
    assert heard(10, {"fill-cv": 2.0}, values={"fill": 1, "length": 10}) == "x.x.x.x.x."  # 1 + 4
    assert heard(8, {"fill-cv": -5.0}, values={"fill": 3, "length": 8}) == "........"
    assert heard(8, {"fill-cv": 5.0 * 2 / 8}, options={"steps": ".x......"}) == "xx..x..."


def test_reset_with_the_clock_plays_the_first_step() -> None:
    reset = np.zeros(10 * STEP)
    reset[3 * STEP : 3 * STEP + 50] = 5.0
    rhythm = heard(10, {"reset": reset}, options={"steps": "x.x....."})
    assert rhythm == "x.xx.x...."


def test_reset_between_clocks_waits_for_the_clock() -> None:
    reset = np.zeros(8 * STEP)
    reset[2 * STEP + 300 : 2 * STEP + 350] = 5.0
    assert heard(8, {"reset": reset}, options={"steps": "x......."}) == "x..x...."


def test_repeats_are_evenly_spaced_in_the_measured_period() -> None:
    setting = setting_of(KIND, options={"steps": "x"}, values={"repeats": 4, "trigger": 0.001})
    places = rises(play(KIND, setting, 4 * STEP, {"clock": clocks(4)})["gate"])
    assert places == [0, *range(STEP, 4 * STEP, STEP // 4)]  # the first period is not known yet
    sevenths = setting_of(KIND, options={"steps": "x"}, values={"repeats": 7, "trigger": 0.001})
    places = rises(play(KIND, sevenths, 3 * STEP, {"clock": clocks(3)})["gate"])[8:]
    assert places == [2 * STEP + math.ceil(i * STEP / 7) for i in range(7)]


@pytest.mark.parametrize(
    ("cv_v", "times"), [(0.0, 2), (5.0 / 7.0, 3), (1.5, 4), (5.0, 8), (-5.0, 1)]
)
def test_a_voltage_adds_repeats(cv_v: float, times: int) -> None:
    """Oracle: 2 repeats and 7 a 5 V, to the nearest, from 1 to 8."""
    setting = setting_of(KIND, options={"steps": "x"}, values={"repeats": 2.0, "trigger": 0.001})
    fed = {"clock": clocks(4), "repeats-cv": cv_v}
    hits = rises(play(KIND, setting, 4 * STEP, fed)["gate"])
    assert [h for h in hits if STEP <= h < 2 * STEP] == [
        STEP + STEP * i // times for i in range(times)
    ]


def test_repeats_fill_a_divided_step() -> None:
    values = {"repeats": 3.0, "division": 2.0, "trigger": 0.001}
    setting = setting_of(KIND, options={"steps": "x"}, values=values)
    places = rises(play(KIND, setting, 6 * STEP, {"clock": clocks(6)})["gate"])
    assert places == [0, *range(2 * STEP, 6 * STEP, 2 * STEP // 3)]


def test_gates_last_their_share_and_triggers_their_time() -> None:
    trigger = play(KIND, setting_of(KIND, options={"steps": "x."}), 8 * STEP, {"clock": clocks(8)})[
        "gate"
    ]
    assert int(np.count_nonzero(trigger)) == 4 * 240  # 5 ms at 48 kHz
    gate = play(
        KIND,
        setting_of(KIND, options={"steps": "x."}, values={"shape": 1, "gate": 0.75}),
        8 * STEP,
        {"clock": clocks(8)},
    )["gate"]
    assert int(np.count_nonzero(gate[2 * STEP :])) == 3 * 450


def test_a_whole_gate_ties_hits_in_a_row() -> None:
    setting = setting_of(KIND, options={"steps": "xx.x"}, values={"shape": 1, "gate": 1.0})
    gate = play(KIND, setting, 12 * STEP, {"clock": clocks(12)})["gate"][4 * STEP :]
    assert rises(gate[STEP:]) == [0, 2 * STEP, 6 * STEP]  # step 2 goes on from before
    assert int(np.count_nonzero(gate)) == 8 * STEP - 2 * STEP
    said = KIND.rate([SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE], setting)
    assert said is not None
    assert said[0].per_quarter == 1  # of four steps, one gate: 4 + 1 + 2 in a row, round the end


def test_probability_is_the_share_that_comes() -> None:
    """Binomial: 2000 hits at 0.3 are 600 give or take four times sqrt(2000 0.3 0.7) = 20.5."""
    values = {"probability": 0.3, "trigger": 0.0001}
    setting = setting_of(KIND, options={"steps": "x"}, values=values)
    wave = pulses(range(0, 2000 * 20, 20), 2000 * 20, length=10)
    out = play(KIND, setting, wave.size, {"clock": wave})["gate"]
    assert abs(len(rises(out)) - 600) < 4 * 20.5
    again = play(KIND, setting, wave.size, {"clock": wave})["gate"]
    assert np.array_equal(out, again)  # the same in every render
    other = setting_of(KIND, options={"steps": "x"}, values=values, seed=2)
    assert not np.array_equal(out, play(KIND, other, wave.size, {"clock": wave})["gate"])
    certain = play(KIND, setting, wave.size, {"clock": wave, "probability-cv": 3.5})["gate"]
    assert len(rises(certain)) == 2000
    assert not play(KIND, setting, wave.size, {"clock": wave, "probability-cv": -1.5})["gate"].any()


def test_cycle_comes_once_a_turn() -> None:
    setting = setting_of(KIND, options={"euclid": (3, 5, 0)})
    places = rises(play(KIND, setting, 20 * STEP, {"clock": clocks(20)})["cycle"])
    assert places == [5 * STEP, 10 * STEP, 15 * STEP]


CASES: list[tuple[dict[str, Any], Pulse, Pulse]] = [
    ({"options": {"euclid": (3, 8, 0)}}, SIXTEENTHS, NO_PULSE),
    ({"options": {"euclid": (5, 12, 0)}, "values": {"division": 2}}, SIXTEENTHS, NO_PULSE),
    ({"options": {"steps": "x...x...x...x..."}}, SIXTEENTHS, NO_PULSE),
    ({"options": {"steps": "xxxx"}, "values": {"repeats": 3}}, SIXTEENTHS, NO_PULSE),
    ({"options": {"steps": "x.x.."}}, SIXTEENTHS, Pulse.steady(Fraction(1, 2))),
    ({"options": {"steps": "X.x"}}, Pulse.steady(Fraction(3, 2)), NO_PULSE),
]


@pytest.mark.parametrize(("given", "clock", "reset"), CASES)
def test_the_pulse_reading_counts_what_is_heard(
    given: dict[str, Any], clock: Pulse, reset: Pulse
) -> None:
    """Every cycle that is said comes round, and the hits of 360 quarter notes are as many as said."""
    setting = setting_of(KIND, **given)
    said = KIND.rate([clock, reset, NO_PULSE, NO_PULSE], setting)
    assert said is not None
    gate, accent, _ = said
    assert gate.per_quarter is not None
    assert gate.cycle_quarters is not None
    assert clock.per_quarter is not None
    quarters = 24 * 15  # holds every cycle here a whole number of times
    assert (quarters / gate.cycle_quarters).denominator == 1
    wave = locked(clock.per_quarter, quarters)
    again = locked(reset.per_quarter or Fraction(0), quarters)
    short = setting_of(KIND, **{**given, "values": {**given.get("values", {}), "trigger": 0.0002}})
    out = play(KIND, short, quarters * QUARTER, {"clock": wave, "reset": again})
    unmeasured = round(setting["repeats"]) - 1  # of the first step, whose length is not known yet
    assert Fraction(len(rises(out["gate"])) + unmeasured, quarters) == gate.per_quarter
    cycle = int(gate.cycle_quarters * QUARTER)
    later = out["gate"][4 * QUARTER :]
    assert np.array_equal(later[cycle:], later[:-cycle])
    gaps = set(np.diff(rises(later)))
    assert (gate.beat is Beat.STEADY) == (len(gaps) == 1)
    if accent.per_quarter is not None:
        assert Fraction(len(rises(out["accent"])), quarters) == accent.per_quarter


@pytest.mark.parametrize(
    ("swing", "hits"), [(0.5, 3), (0.6, 3), (0.6, 5), (0.5, 4), (0.6, 4), (0.6, 8)]
)
def test_behind_the_real_clock_reading_and_sound_agree(swing: float, hits: int) -> None:
    """The clock's own reading goes in, its own pulses are played: 93 BPM, swung or straight."""
    clock = setting_of(CLOCK, values={"tempo": 93.0, "times-1": 4, "swing-1": swing}, ways=1)
    told = CLOCK.rate((), clock)
    assert told is not None
    setting = setting_of(KIND, options={"euclid": (hits, 8, 0)}, tempo_bpm=93.0)
    said = KIND.rate([told[0], told[1], NO_PULSE, NO_PULSE], setting)
    assert said is not None
    quarters = 16
    samples = round(quarters * 60 / 93 * 48_000)
    made = play(CLOCK, clock, samples)
    ins = {"clock": made["out-1"], "reset": made["reset"]}
    places = np.asarray(rises(play(KIND, setting, samples, ins)["gate"]))
    assert Fraction(len(places), quarters) == said[0].per_quarter
    assert said[0].cycle_quarters is not None
    cycle = float(said[0].cycle_quarters) * 60 / 93 * 48_000
    again = places[places > cycle] - cycle
    assert again == pytest.approx(places[: again.size], abs=1.0)
    is_even = np.ptp(np.diff(places)) <= 1
    assert (said[0].beat is Beat.STEADY) == is_even


def test_the_reading_knows_what_nobody_can_say() -> None:
    setting = setting_of(KIND, options={"steps": "x.x"}, values={"probability": 0.5})
    steady, *_ = KIND.rate([SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE], setting) or ()
    assert steady.chance == 0.5
    none = KIND.rate([NO_PULSE] * 4, setting)
    assert none is not None
    assert all(p.beat is Beat.NONE for p in none)
    odd = KIND.rate([SIXTEENTHS, Pulse.steady(Fraction(3)), NO_PULSE, NO_PULSE], setting)
    assert odd is not None
    assert odd[0].beat is Beat.IRREGULAR
    free, *_ = (
        KIND.rate(
            [Pulse(Beat.FREE, hz=12.0), NO_PULSE, NO_PULSE, NO_PULSE],
            setting_of(KIND, options={"steps": "x.."}),
        )
        or ()
    )
    assert free.hz == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("values", "shortest_samples"),
    [
        ({"shape": 0.0}, 240),  # 5 ms
        ({"shape": 0.0, "repeats": 4.0}, 75),  # half of a quarter of the step
        ({"shape": 1.0, "gate": 0.1}, 60),
        ({"shape": 1.0, "gate": 1.0, "repeats": 2.0}, 240),  # the first, not yet measured
        ({"shape": 1.0, "gate": 0.2, "repeats": 2.0, "division": 2.0}, 120),
    ],
)
def test_the_shortest_pulse_said_is_the_shortest_heard(
    values: dict[str, float], shortest_samples: int
) -> None:
    """Steps of 600 samples are sixteenths at 1200 BPM."""
    setting = setting_of(KIND, options={"steps": "x"}, values=values, tempo_bpm=1200.0)
    said = KIND.rate([SIXTEENTHS, NO_PULSE, NO_PULSE, NO_PULSE], setting)
    assert said is not None
    assert said[0].length_s == pytest.approx(shortest_samples / 48_000)
    gate = play(KIND, setting, 12 * STEP, {"clock": clocks(12)})["gate"]
    ends = np.flatnonzero((gate[:-1] > 0) & (gate[1:] == 0)) + 1
    starts = np.asarray(rises(gate))[: ends.size]
    assert (ends - starts).min() == shortest_samples


def test_the_level_is_that_of_the_wave() -> None:
    setting = setting_of(KIND, options={"euclid": (3, 8, 0)}, values={"shape": 1, "gate": 0.25})
    wave = play(KIND, setting, 64 * STEP, {"clock": clocks(64)})["gate"][8 * STEP :]
    said = KIND.level([Level(0.0, 5.0), *[Level()] * 4], setting)[0]
    assert said.dc_v == pytest.approx(wave.mean(), rel=1e-9)
    assert said.rms_v == pytest.approx(wave.std(), rel=1e-9)


def test_without_a_clock_no_hit_is_said_and_none_is_heard() -> None:
    setting = setting_of(KIND, options={"steps": "xX.x"})
    assert KIND.level([Level()] * 5, setting) == [Level()] * 3
    heard = play(KIND, setting, 8 * STEP, {"clock": np.zeros(8 * STEP)})
    assert not any(volts.any() for volts in heard.values())


def test_what_cannot_be_written_is_refused() -> None:
    assert check_letters("x..x") is None
    assert check_letters("x..y") is not None
    assert check_letters("x" * 65) is not None
    assert check_letters(3) is not None
    assert check_euclid((3, 8, 0)) is None
    assert check_euclid((3, 8)) is None
    assert check_euclid((9, 8, 0)) is not None
    assert check_euclid((3.5, 8, 0)) is not None
    assert check_euclid("3 8") is not None


def test_the_rhythm_as_it_stands() -> None:
    assert rhythm_of(setting_of(KIND, options={"steps": "X.x."})) == [2, 0, 1, 0]
