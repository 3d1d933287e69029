"""Divider, multiplier and swing against counts and times worked out beside them, to the sample."""

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from rigproof.kinds import clock_divider, clock_multiplier, swing
from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Kind, Level, Pulse
from rigproof.kinds.clock import KIND as CLOCK
from tests.kinds.running import Floats, play, pulses, rises, setting_of

PERIOD = 600
EVEN = Pulse.steady(Fraction(4), length_s=0.005)


def clocks(count: int, period: int = PERIOD, first: int = 0) -> list[int]:
    return list(range(first, first + count * period, period))


def fired(
    kind: Kind,
    places: list[int],
    samples: int,
    *,
    resets: list[int] | None = None,
    ways: int | None = None,
    out: str | None = None,
    **values: Any,
) -> list[int]:
    """The samples at which one output fires."""
    ins: dict[str, Floats] = {"clock": pulses(places, samples, length=20)}
    if resets is not None:
        ins["reset"] = pulses(resets, samples, length=20)
    named = {name.replace("_", "-"): value for name, value in values.items()}
    made = play(kind, setting_of(kind, ways=ways, values=named), samples, ins)
    return rises(made[out or next(iter(made))])


# --- divider -----------------------------------------------------------------------------------------------------


def divided(places: list[int], samples: int, division: float, **given: Any) -> list[int]:
    return fired(clock_divider.KIND, places, samples, ways=1, division_1=division, **given)


@pytest.mark.parametrize("division", [1, 2, 3, 5, 7, 16, 32])
def test_every_so_many_pulses_from_the_first_or_at_the_last(division: int) -> None:
    places = clocks(64, 40, first=7)
    assert divided(places, 2600, division) == places[::division]
    assert divided(places, 2600, division, begins=1.0) == places[division - 1 :: division]


def test_all_outputs_count_by_themselves() -> None:
    places = clocks(30, 40)
    values = {f"division-{i}": float(d) for i, d in enumerate((2, 3, 5), start=1)}
    setting = setting_of(clock_divider.KIND, ways=3, values=values)
    out = play(clock_divider.KIND, setting, 1280, {"clock": pulses(places, 1280, length=20)})
    assert [rises(wave) for wave in out.values()] == [places[::2], places[::3], places[::5]]


def test_a_reset_begins_the_count_anew_and_comes_before_a_clock() -> None:
    places = clocks(10, 40)
    resets = [200, 290]  # with the sixth pulse, and between the eighth and the ninth
    found = fired(clock_divider.KIND, places, 480, resets=resets, ways=1, division_1=4.0)
    assert found == [0, 160, 200, 320]
    late: dict[str, Any] = {"division_1": 2.0, "begins": 1.0}
    assert fired(clock_divider.KIND, places, 480, resets=[200], ways=1, **late) == [
        40, 120, 240, 320,
    ]  # fmt: skip


@pytest.mark.parametrize(("division", "highs"), [(2, 1), (3, 2), (4, 2), (8, 4)])
def test_half_is_high_for_half_the_pulses_and_clock_for_the_pulse(
    division: int, highs: int
) -> None:
    samples = division * 40 * 8
    wave = pulses(range(0, samples, 40), samples, length=10)
    for shape, high in ((1.0, highs * 40), (0.0, 10)):
        values = {"division-1": float(division), "shape": shape}
        setting = setting_of(clock_divider.KIND, ways=1, values=values)
        out = play(clock_divider.KIND, setting, samples, {"clock": wave})["out-1"]
        assert int(np.count_nonzero(out)) == 8 * high
        level = Level(0.0, 5.0, float(wave.mean()), float(wave.std()))
        told = clock_divider.KIND.level([level, Level()], setting)[0]
        assert told.dc_v == pytest.approx(out.mean())
        assert told.rms_v == pytest.approx(out.std())


def test_a_division_that_changes_goes_on_counting() -> None:
    state = np.asarray(clock_divider.KIND.prepare(setting_of(clock_divider.KIND, ways=1)))
    found = []
    for block, division in enumerate((4.0, 4.0, 4.0, 2.0, 2.0, 2.0)):
        setting = setting_of(clock_divider.KIND, ways=1, values={"division-1": division})
        wave = pulses([5], 64, length=20)
        out = play(clock_divider.KIND, setting, 64, {"clock": wave}, state=state)["out-1"]
        found += [block] * len(rises(out))
    assert found == [0, 3, 5]  # three pulses since the first are more than two: at once


def test_the_fractions_told_are_the_pulses_heard() -> None:
    for division in (2, 3, 4, 12):
        for begins in (0.0, 1.0):
            values = {"division-1": float(division), "begins": begins}
            setting = setting_of(clock_divider.KIND, ways=1, values=values)
            told = clock_divider.KIND.rate([EVEN, NO_PULSE], setting)
            assert told == [Pulse.steady(Fraction(4, division), length_s=0.005)]
            cut = clock_divider.KIND.rate([EVEN, Pulse.steady(Fraction(1, 2))], setting)
            assert cut is not None
            bars = 12
            places = clocks(8 * bars, 40)
            heard = fired(
                clock_divider.KIND, places, 320 * bars, resets=clocks(bars, 320), ways=1,
                division_1=float(division), begins=begins,
            )  # fmt: skip
            assert Fraction(len(heard), 2 * bars) == (cut[0].per_quarter or 0)


def test_what_a_divider_cannot_say() -> None:
    setting = setting_of(clock_divider.KIND, ways=1, values={"division-1": 2.0})
    some = Pulse(Beat.STEADY, Fraction(4), Fraction(1, 4), chance=0.5)
    assert clock_divider.KIND.rate([some, NO_PULSE], setting) == [IRREGULAR]
    assert clock_divider.KIND.rate([EVEN, Pulse.steady(Fraction(3))], setting) == [IRREGULAR]
    free = clock_divider.KIND.rate([Pulse(Beat.FREE, hz=3.0), NO_PULSE], setting)
    assert free is not None
    assert free[0].hz == 1.5
    pattern = Pulse(Beat.PATTERN, Fraction(3), Fraction(1))
    told = clock_divider.KIND.rate([pattern, NO_PULSE], setting)
    assert told is not None
    assert (told[0].per_quarter, told[0].cycle_quarters) == (Fraction(3, 2), Fraction(2))


# --- multiplier --------------------------------------------------------------------------------------------------


def multiplied(places: list[int], samples: int, times: float, **given: Any) -> list[int]:
    return fired(
        clock_multiplier.KIND, places, samples, ways=1, times_1=times, width=0.0002, **given
    )


def spread(start: int, period: float, times: int) -> list[int]:
    return [start + math.ceil(i * period / times - 1e-9) for i in range(times)]


@pytest.mark.parametrize("times", [1, 2, 3, 4, 7, 24])
def test_pulses_are_even_in_the_last_period_and_alone_at_first(times: int) -> None:
    found = multiplied(clocks(4), 4 * PERIOD, times)
    assert found == [
        0,
        *(p for start in clocks(3, first=PERIOD) for p in spread(start, PERIOD, times)),
    ]


def test_24_ppqn_from_quarters_at_120_bpm_are_20_833333_ms_apart() -> None:
    """Source: MIDI clock at 120 BPM, 24 a quarter note: 20.833333 ms; 1000 samples at 48 kHz."""
    found = multiplied(clocks(3, 24_000), 72_000, 24.0)
    assert set(np.diff(found[1:])) == {1000}
    assert found[1] == 24_000


def test_slowing_down_waits_and_speeding_up_drops() -> None:
    """One period at the old pace, whatever the clock does; from the next on the count is right."""
    slow = [0, 600, 1200, 2100, 3000]
    assert multiplied(slow, 3900, 4.0) == [
        0, *spread(600, 600, 4), *spread(1200, 600, 4), *spread(2100, 900, 4), *spread(3000, 900, 4),
    ]  # fmt: skip
    fast = [0, 600, 1200, 1600, 2000]
    assert multiplied(fast, 2400, 4.0) == [
        0, *spread(600, 600, 4), *spread(1200, 600, 4)[:3], *spread(1600, 400, 4),
        *spread(2000, 400, 4),
    ]  # fmt: skip


def test_a_missed_clock_is_waited_for_or_bridged() -> None:
    places = [0, 600, 1200, 2400, 3000]  # 1800 is missed
    waits = multiplied(places, 3600, 2.0)
    assert waits == [0, 600, 900, 1200, 1500, 2400, 3000, 3300]  # 2400 took 1200 for the period
    waits_long = multiplied([*places, 3600], 4200, 2.0)
    assert waits_long[-2:] == [3600, 3900]
    bridged = multiplied(places, 3600, 2.0, patience=1.0)
    assert bridged == [0, *range(600, 3600, 300)]


def test_patience_runs_out() -> None:
    found = multiplied(clocks(3), 6000, 2.0, patience=2.0)
    assert found == [0, 600, 900, *range(1200, 1200 + 3 * 600, 300)]


def test_a_clock_just_after_a_bridging_pulse_does_not_fire_twice() -> None:
    places = [0, 600, 1200, 1802, 2404]
    assert multiplied(places, 3000, 2.0, patience=1.0) == [
        0, 600, 900, 1200, 1500, 1800, 2103, 2404, 2705,
    ]  # fmt: skip


def test_after_a_stop_only_the_clocks_own_pulse_comes() -> None:
    places = [0, 600, 1200, 5000, 5500]
    assert multiplied(places, 6000, 2.0) == [0, 600, 900, 1200, 1500, 5000, 5500, 5750]


def test_a_multiple_that_changes_goes_on_in_the_period() -> None:
    state = np.asarray(clock_multiplier.KIND.prepare(setting_of(clock_multiplier.KIND, ways=1)))
    found = []
    for block in range(30):
        times = 2.0 if block < 25 else 8.0
        setting = setting_of(
            clock_multiplier.KIND, ways=1, values={"times-1": times, "width": 0.0001}
        )
        wave = pulses([0], 64, length=20) if block % 10 == 0 else np.zeros(64)
        out = play(clock_multiplier.KIND, setting, 64, {"clock": wave}, state=state)["out-1"]
        found += [block * 64 + at for at in rises(out)]
    assert found == [0, 640, 960, 1280, 1600, 1680, 1760, 1840]


def test_the_multiple_told_is_the_one_heard_behind_the_real_clock() -> None:
    for tempo in (93.0, 120.0):
        clock = setting_of(CLOCK, ways=1, values={"tempo": tempo, "times-1": 2.0})
        told = CLOCK.rate((), clock)
        assert told is not None
        setting = setting_of(
            clock_multiplier.KIND, ways=1, values={"times-1": 6.0}, tempo_bpm=tempo
        )
        said = clock_multiplier.KIND.rate([told[0]], setting)
        assert said is not None
        assert said[0].per_quarter == 12
        quarters = 8
        samples = round(quarters * 60 / tempo * 48_000)
        wave = play(CLOCK, clock, samples)["out-1"]
        out = play(clock_multiplier.KIND, setting, samples, {"clock": wave})["out-1"]
        assert Fraction(len(rises(out)) + 5, quarters) == said[0].per_quarter  # the first is alone
        assert said[0].length_s == 0.005


def test_what_a_multiplier_cannot_say() -> None:
    setting = setting_of(clock_multiplier.KIND, ways=1)
    uneven = Pulse(Beat.PATTERN, Fraction(3), Fraction(1))
    assert clock_multiplier.KIND.rate([uneven], setting) == [IRREGULAR]
    assert clock_multiplier.KIND.rate([NO_PULSE], setting) == [NO_PULSE]
    once = setting_of(clock_multiplier.KIND, ways=1, values={"times-1": 1.0})
    assert clock_multiplier.KIND.rate([uneven], once) == [uneven]


# --- swing -------------------------------------------------------------------------------------------------------


def swung(places: list[int], samples: int, share: float, **given: list[int]) -> list[int]:
    return fired(swing.KIND, places, samples, resets=given.get("resets"), swing=share, width=0.0002)


# Source: a pair of eighths at 120 BPM: a swing of 60 % puts the second at 300 ms, of 66.67 % at 333.333333 ms.
@pytest.mark.parametrize(("share", "second_ms"), [(0.5, 250.0), (0.6, 300.0), (2 / 3, 1000 / 3)])
def test_the_second_eighth_comes_at_its_share_of_the_pair(share: float, second_ms: float) -> None:
    found = swung(clocks(6, 12_000), 80_000, share)
    second = math.ceil(second_ms * 48 - 1e-6)
    # The period is known at the second pulse already.
    assert found == [p for pair in (0, 24_000, 48_000) for p in (pair, pair + second)]


def test_a_reset_makes_the_next_pulse_a_first_one() -> None:
    found = swung(clocks(5, 1000), 6000, 0.6, resets=[2500])
    assert found == [0, 1200, 2000, 3000, 4200]


def test_a_delayed_pulse_is_dropped_when_the_clock_overtakes_it() -> None:
    assert swung([0, 1000, 1100, 1200, 2300], 4000, 0.75) == [0, 1100, 1250, 2300]


def test_a_pulse_lasts_at_most_half_the_way_to_the_next() -> None:
    wave = pulses(clocks(8, 400), 3200, length=20)
    setting = setting_of(swing.KIND, values={"swing": 0.7, "width": 1.0})
    out = play(swing.KIND, setting, 3200, {"clock": wave})["out"][800:]
    starts = np.asarray(rises(out))
    ends = np.flatnonzero((out[:-1] > 0) & (out[1:] == 0)) + 1
    assert set(starts % 800) == {0, 560}
    assert set((ends - starts[: ends.size])[::2]) == {280}
    assert set((ends - starts[: ends.size])[1::2]) == {120}


def test_the_pairs_told_are_those_heard() -> None:
    setting = setting_of(swing.KIND, values={"swing": 0.6})
    assert swing.KIND.rate([EVEN, NO_PULSE], setting) == [
        Pulse(Beat.PATTERN, Fraction(4), Fraction(1, 2), 0.005)
    ]
    straight = setting_of(swing.KIND)
    assert swing.KIND.rate([EVEN, NO_PULSE], straight) == [EVEN]
    assert swing.KIND.rate([EVEN, EVEN], setting) == [IRREGULAR]
    lags = {lag.source: lag for lag in swing.KIND.lags(setting)}
    assert lags["clock"].hi_s == pytest.approx(0.2 * 0.125)
