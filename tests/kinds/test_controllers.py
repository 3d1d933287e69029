"""A fader's messages and the voltage they become, against the arithmetic of seven bits."""

import math

import numpy as np
import pytest

from rigproof.kinds import cc_sender, cc_to_cv
from rigproof.kinds.base import BLOCK, Span
from rigproof.kinds.midi_messages import data1_of, data2_of, message_of, status_of
from tests.kinds.running import Floats, play, setting_of

RATE = 48_000


def sent(wave: Floats) -> list[tuple[int, int]]:
    return [(int(i), data2_of(float(wave[i]))) for i in np.flatnonzero(wave)]


def test_it_sends_where_it_stands_and_then_keeps_quiet() -> None:
    values = {"position": 0.5, "number": 21.0, "channel": 5.0}
    out = play(cc_sender.KIND, setting_of(cc_sender.KIND, values=values), RATE)["out"]
    assert sent(out) == [(0, 64)]
    assert (status_of(float(out[0])), data1_of(float(out[0]))) == (0xB4, 21)


def test_a_sweep_sends_every_value_once_on_the_scan() -> None:
    """From 0 to 1 in 2 s: 128 values, each within one scan (48 samples) of where rounding turns."""
    blocks = 2 * RATE // BLOCK
    edges = [b / blocks for b in range(blocks + 1)]
    setting = setting_of(cc_sender.KIND)
    out = play(cc_sender.KIND, setting, blocks * BLOCK, glides={"position": edges})["out"]
    got = sent(out)
    assert [value for _, value in got] == list(range(128))
    for place, value in got[1:]:
        assert place % 48 == 0
        turn = (value - 0.5) / 127 * blocks * BLOCK
        assert 0 <= place - turn < 48 + 1e-6


def test_a_fast_hand_skips_values() -> None:
    """All the way in 10 blocks of 64 samples: 13.3 ms hold 14 scans, so at most 14 messages."""
    edges = [b / 10 for b in range(11)]
    out = play(cc_sender.KIND, setting_of(cc_sender.KIND), 640, glides={"position": edges})["out"]
    assert 13 <= len(sent(out)) <= 14


def test_scan_rate_of_any_fraction_keeps_its_mean() -> None:
    edges = [b / 750 for b in range(751)]  # 1 s
    setting = setting_of(cc_sender.KIND, values={"scan": 70.0})
    places = [
        p for p, _ in sent(play(cc_sender.KIND, setting, RATE, glides={"position": edges})["out"])
    ]
    assert len(places) == 70
    assert places == [math.ceil(i * RATE / 70 - 1e-9) for i in range(70)]


def cv(messages: dict[int, float], samples: int, **values: float) -> Floats:
    wave = np.zeros(samples)
    for at, message in messages.items():
        wave[at] = message
    setting = setting_of(cc_to_cv.KIND, values=values)
    return play(cc_to_cv.KIND, setting, samples, {"in": wave})["out"]


def test_seven_bits_over_5_volts_are_steps_of_39_mv() -> None:
    """Source: 5 V / 127 = 39.370079 mV."""
    out = cv({i: message_of(0xB0, 1, i) for i in range(128)}, 128)
    assert np.diff(out) == pytest.approx(np.full(127, 0.039370079), abs=1e-9)
    assert out[0] == 0.0
    assert out[127] == 5.0


def test_other_numbers_channels_and_messages_pass_by() -> None:
    others = {
        0: message_of(0xB0, 2, 9),
        1: message_of(0xB1, 1, 9),
        2: message_of(0x90, 1, 9),
        3: math.nan,
        4: 0.25,
    }
    assert np.all(cv(others, 64, initial=1.5) == 1.5)
    assert cv({5: message_of(0xB1, 1, 127)}, 64, channel=2.0)[5] == 5.0


def test_upside_down_and_both_sides_of_zero() -> None:
    out = cv({0: message_of(0xB0, 1, 0), 1: message_of(0xB0, 1, 127)}, 64, lo=5.0, hi=-5.0)
    assert (out[0], out[1]) == (5.0, -5.0)


def test_slew_reaches_63_percent_after_its_time_constant() -> None:
    """Source: Horowitz & Hill, 3rd ed., ch. 1: a step reaches 1 - 1/e at t = RC."""
    out = cv({0: message_of(0xB0, 1, 127)}, 4_800, slew=0.01)
    assert out[479] == pytest.approx(5.0 * (1 - 1 / math.e), rel=1e-9)
    assert np.all(np.diff(out) >= 0.0)


def test_the_interval_is_tight() -> None:
    setting = setting_of(
        cc_to_cv.KIND, values={"lo": -1.0, "hi": 4.0, "initial": 2.0}, spans={"hi": Span(3.0, 4.0)}
    )
    assert cc_to_cv.KIND.interval([Span(0, 1)], setting) == [Span(-1.0, 4.0)]
