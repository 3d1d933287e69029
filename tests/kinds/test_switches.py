"""Switches by trigger, voltage and hand against their definitions, to the sample."""

from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds import button_switch, signal_router, voltage_selector, voltage_switch
from rigproof.kinds.base import IRREGULAR, NO_PULSE, ZERO, Beat, Kind, Level, Pulse, Span
from rigproof.kinds.sequential_switch import KIND as SEQUENTIAL
from tests.kinds.running import Floats, play, pulses, rises, setting_of

RNG = np.random.default_rng(3)
EVEN = Pulse.steady(Fraction(4))


# --- router ------------------------------------------------------------------------------------------------------


def routed(samples: int, ways: int = 3, **values: float) -> tuple[Floats, dict[str, Floats]]:
    wave = RNG.uniform(0.5, 5.0, samples)
    ins = {
        "in": wave,
        "advance": pulses(range(10, samples, 50), samples, length=20),
        "reset": pulses([137], samples, length=5),
    }
    setting = setting_of(signal_router.KIND, ways=ways, values=values)
    return wave, play(signal_router.KIND, setting, samples, ins)


def test_each_output_gets_the_input_in_its_turn_and_0_v_else() -> None:
    """Independent count: advances at 10, 60, 110, 160, ...; a reset at 137 goes to the first."""
    wave, out = routed(320)
    place, want = 0, np.zeros((3, 320))
    for n in range(320):
        if n >= 10 and (n - 10) % 50 == 0:
            place = (place + 1) % 3
        if n == 137:
            place = 0
        want[place, n] = wave[n]
    np.testing.assert_array_equal(list(out.values()), want)


def test_hold_keeps_the_last_voltage_of_each_output() -> None:
    wave, out = routed(320, rest=1.0)
    assert (out["out-1"][10:110] == wave[9]).all()
    assert (out["out-2"][60:137] == wave[59]).all()
    assert (out["out-2"][:10] == 0.0).all()


def test_a_router_is_a_sequential_switch_the_other_way_round() -> None:
    """What a router takes apart, a sequential switch in step with it puts together again."""
    wave, out = routed(640)
    ins = {f"in-{i}": out[f"out-{i}"] for i in (1, 2, 3)}
    ins["advance"] = pulses(range(10, 640, 50), 640, length=20)
    ins["reset"] = pulses([137], 640, length=5)
    again = play(SEQUENTIAL, setting_of(SEQUENTIAL, ways=3), 640, ins)["out"]
    np.testing.assert_array_equal(again, wave)


def test_router_readings() -> None:
    kind = signal_router.KIND
    setting = setting_of(kind, ways=3, values={"steps": 2})
    source = Span(2.0, 3.0)
    assert kind.interval([source, Span(0, 5), ZERO], setting) == [Span(0, 3), Span(0, 3), ZERO]
    assert kind.interval([source, ZERO, ZERO], setting) == [source, ZERO, ZERO]
    told = kind.level([Level.steady(2.0), Level(0, 5, 1, 2), Level()], setting)
    assert (told[0].dc_v, told[0].rms_v, told[2].hi_v) == (1.0, 1.0, 0.0)
    assert kind.rate([EVEN, NO_PULSE, NO_PULSE], setting) == [EVEN, NO_PULSE, NO_PULSE]
    assert kind.rate([EVEN, EVEN, NO_PULSE], setting) == [IRREGULAR, IRREGULAR, NO_PULSE]
    assert kind.rate([NO_PULSE, EVEN, NO_PULSE], setting) == [NO_PULSE] * 3


# --- by voltage --------------------------------------------------------------------------------------------------


def chosen(select: float | Floats, samples: int, **values: float) -> Floats:
    ins = {"select": select, **{f"in-{i}": float(i) for i in range(1, 5)}}
    named = {name.replace("_", "-"): value for name, value in values.items()}
    return play(voltage_switch.KIND, setting_of(voltage_switch.KIND, values=named), samples, ins)[
        "out"
    ]


@pytest.mark.parametrize(
    ("select_v", "way"), [(-3.0, 1), (0.0, 1), (1.24, 1), (1.26, 2), (2.6, 3), (4.9, 4), (9.0, 4)]
)
def test_four_ways_share_five_volts(select_v: float, way: int) -> None:
    assert (chosen(select_v, 64) == way).all()


def test_the_knob_adds_to_the_voltage() -> None:
    assert (chosen(1.0, 64, offset=2.0) == 3).all()
    assert (chosen(1.0, 64, full_scale=2.0) == 3).all()


def test_a_way_is_left_a_tenth_past_its_edge_and_on_that_sample() -> None:
    """Ways of 1.25 V: up at 1.375 V, down again at 1.125 V."""
    ramp = np.concatenate([np.linspace(0.0, 2.0, 201), np.linspace(2.0, 0.0, 201)])
    out = chosen(ramp, ramp.size)
    up = int(np.flatnonzero(out == 2)[0])
    down = int(np.flatnonzero(out == 2)[-1]) + 1
    assert ramp[up - 1] < 1.375 <= ramp[up] + 1e-12
    assert ramp[down] < 1.125 <= ramp[down - 1] + 1e-12
    noisy = 1.25 + RNG.uniform(-0.12, 0.12, 640)
    assert np.unique(chosen(noisy, 640)).size == 1


def test_voltage_switch_readings() -> None:
    kind, setting = voltage_switch.KIND, setting_of(voltage_switch.KIND)
    ins = [Span.point(float(i)) for i in range(1, 5)]
    assert kind.interval([Span(1.3, 3.0), *ins], setting) == [Span(2.0, 3.0)]
    assert kind.interval([Span(-5.0, 0.1), *ins], setting) == [Span.point(1.0)]
    sweep = Level(0.0, 5.0, 2.5, 5.0 / np.sqrt(12.0))
    told = kind.level([sweep, *(Level.steady(float(i)) for i in range(1, 5))], setting)[0]
    assert told.dc_v == pytest.approx(2.5, abs=0.1)  # the mean of 1 to 4
    assert kind.rate([NO_PULSE, EVEN, EVEN, EVEN, EVEN], setting) == [EVEN]
    assert kind.rate([NO_PULSE, EVEN, EVEN, EVEN, NO_PULSE], setting) == [IRREGULAR]


# --- by hand -----------------------------------------------------------------------------------------------------


def pressed(
    kind: Kind, points: dict[str, list[float]], ins: dict[str, float], ways: int
) -> list[float]:
    """What comes out in each block while switches stand at `points`."""
    setting = setting_of(kind, ways=ways, values={k: v[0] for k, v in points.items()})
    state = np.asarray(kind.prepare(setting), dtype=np.float64)
    found = []
    for block in range(len(next(iter(points.values())))):
        values = {name: stands[block] for name, stands in points.items()}
        if kind is voltage_selector.KIND:
            values |= VOLTS
        here = setting_of(kind, ways=ways, values=values)
        found.append(float(play(kind, here, 64, ins, state=state)["out"][0]))
    return found


VOLTS = {"voltage-1": 1.0, "voltage-2": 2.0, "voltage-3": 3.0}


@pytest.mark.parametrize("kind", [button_switch.KIND, voltage_selector.KIND])
def test_a_press_takes_the_next_and_the_knob_takes_its_own(kind: Kind) -> None:
    ins = {"in-1": 1.0, "in-2": 2.0, "in-3": 3.0} if kind is button_switch.KIND else {}
    presses = [0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0]
    stays = {"button": presses, "way": [1.0] * 8}
    assert pressed(kind, stays, ins, 3) == [1, 2, 2, 2, 3, 3, 1, 1]
    turned = {"button": presses, "way": [1.0, 1.0, 1.0, 3.0, 3.0, 2.0, 2.0, 8.0]}
    assert pressed(kind, turned, ins, 3) == [1, 2, 2, 3, 1, 2, 3, 3]


def test_button_switch_readings_know_what_the_hand_can_do() -> None:
    kind = button_switch.KIND
    ins = [Span(0, 1), Span(2, 3), Span(-4, 0)]
    assert kind.interval(ins, setting_of(kind, ways=3, values={"way": 2})) == [Span(2, 3)]
    moved = setting_of(kind, ways=3, spans={"button": Span(0, 1)})
    assert kind.interval(ins, moved) == [Span(-4, 3)]
    turned = setting_of(kind, ways=3, spans={"way": Span(1, 2)})
    assert kind.interval(ins, turned) == [Span(0, 3)]
    assert kind.rate([NO_PULSE, EVEN, NO_PULSE], setting_of(kind, ways=3, values={"way": 2})) == [
        EVEN
    ]


def selected(samples: int, ins: dict[str, float | Floats]) -> Floats:
    setting = setting_of(voltage_selector.KIND, ways=3, values=VOLTS)
    return play(voltage_selector.KIND, setting, samples, ins)["out"]


def test_triggers_walk_through_the_voltages_to_the_sample() -> None:
    ins: dict[str, float | Floats] = {
        "advance": pulses([10, 20, 30, 40, 50], 80, length=4),
        "reset": pulses([50, 66], 80, length=4),
    }
    out = selected(80, ins)
    want = np.repeat([1, 2, 3, 1, 2, 1, 1, 1], 10)
    np.testing.assert_array_equal(out, want)


def test_a_voltage_moves_further_on() -> None:
    advance = pulses([10], 64, length=4)
    assert (selected(64, {"select": 2.0, "advance": advance})[10:] == 3.0).all()
    assert (selected(64, {"select": 5.0, "advance": advance})[10:] == 1.0).all()


@pytest.mark.parametrize(
    "volts", [(0.0, 5.0, 0.0, 5.0, 5.0), (5.0, 0.8, 0.5), (2.0, 3.0), (0.0,) * 4]
)
def test_the_pulses_told_are_the_rises_heard(volts: tuple[float, ...]) -> None:
    """Through 1 V upwards, once down to 0.7 V: 0.8 V does not let go."""
    kind, ways = voltage_selector.KIND, len(volts)
    values = {f"voltage-{i}": v for i, v in enumerate(volts, start=1)}
    setting = setting_of(kind, ways=ways, values=values)
    told = kind.rate([EVEN, NO_PULSE, NO_PULSE], setting)
    turns = 12
    samples = turns * ways * 20
    wave = pulses(range(0, samples, 20), samples, length=5)
    out = play(kind, setting, samples, {"advance": wave})["out"][ways * 20 :]
    count = len([at for at in rises(out) if at > 0])
    if out[0] >= 1.0 and out[-1] < 1.0:
        count += 1  # the rise at the seam
    assert told is not None
    want = told[0].per_quarter or Fraction(0)
    assert Fraction(count, (turns - 1) * ways) * 4 == want
    assert (told[0].beat is Beat.NONE) == (count == 0)


def test_voltage_selector_readings() -> None:
    kind = voltage_selector.KIND
    setting = setting_of(kind, ways=3, values={**VOLTS, "way": 2})
    assert kind.interval([ZERO, ZERO, ZERO], setting) == [Span.point(2.0)]
    assert kind.interval([Span(0, 5), ZERO, ZERO], setting) == [Span(1.0, 3.0)]
    assert kind.interval([ZERO, Span(0, 5), ZERO], setting) == [Span(1.0, 2.0)]
    told = kind.level([Level(0, 5, 1, 2), Level(), Level()], setting)[0]
    assert told.dc_v == pytest.approx(2.0)
    assert told.rms_v == pytest.approx(np.std([1, 2, 3]))
