"""Trigger to gate and gate delay, to the sample."""

from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds import gate_delay, trigger_to_gate
from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Pulse, Span
from tests.kinds.running import Floats, play, pulses, rises, setting_of

RNG = np.random.default_rng(8)
EXTEND, IGNORE = 0.0, 1.0


def spans(wave: Floats) -> list[tuple[int, int]]:
    """Start and end of every stretch that is high."""
    high = np.concatenate([[False], wave > 0, [False]])
    edges = np.flatnonzero(high[1:] != high[:-1])
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def gates(places: list[int], samples: int, length: int, mode: float) -> list[tuple[int, int]]:
    values = {"length": length / 48_000, "mode": mode}
    wave = pulses(places, samples, length=3)
    setting = setting_of(trigger_to_gate.KIND, values=values)
    return spans(play(trigger_to_gate.KIND, setting, samples, {"trigger": wave})["gate"])


def test_a_gate_lasts_its_length_from_the_sample_of_the_trigger() -> None:
    for mode in (EXTEND, IGNORE):
        assert gates([10, 300], 640, 100, mode) == [(10, 110), (300, 400)]


def test_a_trigger_while_high_extends_or_is_ignored() -> None:
    assert gates([10, 60, 100], 640, 100, EXTEND) == [(10, 200)]
    assert gates([10, 60, 100], 640, 100, IGNORE) == [(10, 110)]
    assert gates([10, 60, 130], 640, 100, IGNORE) == [(10, 110), (130, 230)]


@pytest.mark.parametrize("length", [30, 130, 230, 250, 330])
@pytest.mark.parametrize("mode", [EXTEND, IGNORE])
def test_the_pulses_told_are_the_gates_heard(length: int, mode: float) -> None:
    """Triggers every 100 samples are 240 a quarter note at 120 BPM."""
    count = 240
    heard = gates(list(range(0, count * 100, 100)), count * 100, length, mode)
    values = {"length": length / 48_000, "mode": mode}
    setting = setting_of(trigger_to_gate.KIND, values=values)
    told = trigger_to_gate.KIND.rate([Pulse.steady(Fraction(240))], setting)
    assert told is not None
    if told[0] == NO_PULSE:
        assert len(heard) == 1
        return
    assert Fraction(len(heard)) == told[0].per_quarter
    assert told[0].length_s == pytest.approx(length / 48_000)


def test_what_a_gate_of_a_length_cannot_say() -> None:
    setting = setting_of(trigger_to_gate.KIND, values={"length": 0.01})
    uneven = Pulse(Beat.PATTERN, Fraction(3), Fraction(1), 0.005)
    assert trigger_to_gate.KIND.rate([uneven], setting) == [IRREGULAR]
    short = setting_of(trigger_to_gate.KIND, values={"length": 0.004})
    told = trigger_to_gate.KIND.rate([uneven], short)
    assert told == [Pulse(Beat.PATTERN, Fraction(3), Fraction(1), 0.004)]
    exact = setting_of(trigger_to_gate.KIND, values={"length": 0.125, "mode": IGNORE})
    assert trigger_to_gate.KIND.rate([Pulse.steady(Fraction(4))], exact) == [IRREGULAR]


# --- delay -------------------------------------------------------------------------------------------------------


def delayed(wave: Floats, delay: int, length: int = 0) -> Floats:
    values = {"delay": delay / 48_000, "length": length / 48_000}
    return play(
        gate_delay.KIND, setting_of(gate_delay.KIND, values=values), wave.size, {"gate": wave}
    )["out"]


@pytest.mark.parametrize("delay", [0, 1, 63, 64, 1000])
def test_a_random_gate_comes_out_shifted(delay: int) -> None:
    highs = np.where(RNG.integers(0, 2, 200) > 0, 5.0, 0.0)
    wave: Floats = np.repeat(highs, RNG.integers(1, 40, 200))
    wave = wave[: wave.size // 64 * 64]
    want = np.concatenate([np.zeros(delay), wave])[: wave.size]
    np.testing.assert_array_equal(delayed(wave, delay), want)


def test_a_length_of_its_own() -> None:
    wave = pulses([10, 200], 640, length=5)
    assert spans(delayed(wave, 50, 100)) == [(60, 160), (250, 350)]
    joined = pulses([10, 60], 640, length=5)
    assert spans(delayed(joined, 50, 100)) == [(60, 210)]


def test_more_gates_than_can_wait_are_lost_whole() -> None:
    """127 wait; they come out as they were, and later ones again."""
    wave = pulses(range(0, 400 * 4, 4), 12_800, length=2)
    out = spans(delayed(wave, 6000))
    assert len(out) == 127
    assert all(end - start == 2 for start, end in out)
    assert out[0] == (6000, 6002)


def test_a_shorter_delay_overtakes_nothing() -> None:
    state = np.asarray(gate_delay.KIND.prepare(setting_of(gate_delay.KIND)), dtype=np.float64)
    out = []
    for block, delay in enumerate((200, 200, 10, 10, 10, 10, 10, 10)):
        setting = setting_of(gate_delay.KIND, values={"delay": delay / 48_000})
        wave = pulses([30], 64, length=10) if block in (1, 2) else np.zeros(64)
        out.append(play(gate_delay.KIND, setting, 64, {"gate": wave}, state=state)["out"])
    assert spans(np.concatenate(out)) == [(294, 304), (305, 306)]


def test_gate_delay_readings() -> None:
    pulse = Pulse.steady(Fraction(4), length_s=0.003)
    kind = gate_delay.KIND
    moved = setting_of(kind, spans={"delay": Span(0.05, 0.2)})
    assert kind.rate([pulse], moved) == [pulse]
    lag = kind.lags(moved)[0]
    assert (lag.lo_s, lag.hi_s) == (0.05, 0.2)
    own = setting_of(kind, values={"length": 0.05})
    assert kind.rate([pulse], own) == [Pulse.steady(Fraction(4), length_s=0.05)]
    assert rises(delayed(pulses([0], 640), 100)) == [100]
