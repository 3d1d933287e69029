"""The looper: what was put in comes out, to the sample and to the bit."""

from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import RAIL_V, ZERO, Beat, Pulse, Span
from rigproof.kinds.clock import KIND as CLOCK
from rigproof.kinds.looper import KIND
from tests.kinds.alone import run
from tests.kinds.running import Floats, play, rises, setting_of

RATE = 48_000
NOISE = np.random.default_rng(9).uniform(-5.0, 5.0, (2, RATE))


def gate(samples: int, *spans: tuple[int, int]) -> Floats:
    wave = np.zeros(samples)
    for first, last in spans:
        wave[first:last] = 5.0
    return wave


def loop(samples: int, ins: dict[str, Any], **values: float) -> dict[str, Floats]:
    named = {"sync": 1.0, "dry": 0.0, "seam": 0.0, "longest": 1.0} | values
    return run(KIND, samples, ins=ins, **named)


def test_what_was_recorded_comes_round_bit_by_bit() -> None:
    ins = {"left": NOISE[0], "right": NOISE[1], "record": gate(RATE, (1000, 6003))}
    out = loop(RATE, ins)
    for side, wave in zip(("left", "right"), NOISE, strict=True):
        assert not out[side][:6003].any()
        kept = wave[1000:6003]
        for turn in range(8):
            start = 6003 + turn * 5003
            np.testing.assert_array_equal(out[side][start : start + 5003], kept)
    assert rises(out["top"]) == [6003 + turn * 5003 for turn in range(9)]
    assert out["top"][6003 : 6003 + 240].min() == 5.0
    assert out["top"][6003 + 240] == 0.0


def test_locked_the_length_is_whole_clocks_to_the_sample() -> None:
    setting = setting_of(CLOCK, values={"tempo": 125.0, "times-1": 4}, ways=1)
    clock = play(CLOCK, setting, RATE)["out-1"]
    ticks = rises(clock)
    first, last = ticks[2], ticks[6]
    record = gate(RATE, (ticks[1] + 100, ticks[5] + 100))  # begins and ends between clocks
    out = loop(RATE, {"left": NOISE[0], "record": record, "clock": clock}, sync=0.0)
    assert last - first == 4 * 5760  # a sixteenth at 125 BPM is 120 ms
    assert not out["left"][:last].any()
    np.testing.assert_array_equal(
        out["left"][last:RATE], np.resize(NOISE[0][first:last], RATE - last)
    )
    assert rises(out["top"])[0] == last


def test_overdub_adds_and_keeps_as_much_as_it_is_told() -> None:
    ins = {
        "left": np.where(np.arange(RATE) < 4800, 1.0, 0.5),
        "record": gate(RATE, (0, 4800)),
        "overdub": gate(RATE, (9600, 9600 + 3 * 4800)),
    }
    out = loop(RATE, ins, keep=0.5)["left"]
    here = 1.0
    for turn in range(9):
        start = 4800 * (turn + 1)
        assert out[start + 100] == pytest.approx(here)
        if 1 <= turn <= 3:
            here = 0.5 * here + 0.5
    louder = loop(RATE, {**ins, "left": 1.0}, keep=1.0)["left"]
    assert [louder[4800 * k + 100] for k in range(1, 7)] == [1.0, 1.0, 2.0, 3.0, 4.0, 4.0]


def test_play_stops_begins_at_the_top_and_clear_empties() -> None:
    ins = {
        "left": NOISE[0],
        "record": gate(RATE, (0, 4800)),
        "play": np.where((np.arange(RATE) > 7000) & (np.arange(RATE) < 20_000), 0.0, 5.0),
        "clear": gate(RATE, (30_000, 30_100)),
    }
    out = loop(RATE, ins)["left"]
    np.testing.assert_array_equal(out[4800:7001], NOISE[0][:2201])
    assert not out[7001:20_000].any()
    np.testing.assert_array_equal(out[20_000:24_800], NOISE[0][:4800])
    assert out[29_999] != 0.0
    assert not out[30_000:].any()


def test_a_full_memory_ends_the_recording_there() -> None:
    out = loop(RATE, {"left": NOISE[0], "record": gate(RATE, (0, 40_000))}, longest=0.1)["left"]
    np.testing.assert_array_equal(out[4800:40_000], np.resize(NOISE[0][:4800], 35_200))


def test_a_new_recording_replaces_the_old() -> None:
    out = loop(RATE, {"left": NOISE[0], "record": gate(RATE, (0, 2000), (9000, 12_000))})["left"]
    assert not out[9000:12_000].any()
    np.testing.assert_array_equal(out[12_000:15_000], NOISE[0][9000:12_000])


def test_the_seam_is_faded() -> None:
    ins = {"left": 4.0, "record": gate(RATE, (0, 4800))}
    out = loop(RATE, ins, seam=0.01)["left"][4800:9600]
    assert out[0] == pytest.approx(4.0 / 480)
    assert out[-1] == pytest.approx(4.0 / 480)
    assert out[480:-480].min() == 4.0


def test_interval_and_rate() -> None:
    ins = [Span(-1.0, 2.0), ZERO, Span(0, 5), Span(5, 5), ZERO, ZERO, ZERO]
    once = KIND.interval(ins, setting_of(KIND))
    assert once == [Span(-2.0, 4.0), ZERO, Span(0.0, 5.0)]
    never = KIND.interval([*ins[:2], ZERO, *ins[3:]], setting_of(KIND))
    assert never == [Span(-1.0, 2.0), ZERO, ZERO]
    often = KIND.interval([*ins[:4], Span(0, 5), ZERO, ZERO], setting_of(KIND))
    assert often[0] == Span(-RAIL_V, RAIL_V)
    half = setting_of(KIND, values={"keep": 0.5, "dry": 0.0})
    [left, _, _] = KIND.interval([*ins[:4], Span(0, 5), ZERO, ZERO], half)
    assert [left.lo, left.hi] == pytest.approx([-2.0, 4.0])
    told = KIND.rate([Pulse()] * 7, setting_of(KIND))
    assert told is not None
    assert [p.beat for p in told] == [Beat.NONE] * 3
