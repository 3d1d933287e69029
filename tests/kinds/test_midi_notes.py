"""Notes and 14-bit controllers as voltages, against the numbers of MIDI 1.0 and 1 V/octave."""

import math

import numpy as np
import pytest

from rigproof.kinds import cc_pair_to_cv, midi_serial_link, note_to_cv
from rigproof.kinds.base import MIDI_CODES, Span
from rigproof.kinds.midi_messages import message_of
from rigproof.units import hz_from_note, hz_from_pitch_v
from tests.kinds.running import Floats, play, rises, setting_of

RATE = 48_000
LAST, LOWEST, HIGHEST = 0.0, 1.0, 2.0


def on(key: int, velocity: int = 100, channel: int = 1) -> float:
    return message_of(0x90 + channel - 1, key, velocity)


def off(key: int, channel: int = 1) -> float:
    return message_of(0x80 + channel - 1, key, 64)


def row(messages: dict[int, float], samples: int) -> Floats:
    wave = np.zeros(samples)
    for at, message in messages.items():
        wave[at] = message
    return wave


def heard(messages: dict[int, float], samples: int = 6400, **values: float) -> dict[str, Floats]:
    setting = setting_of(note_to_cv.KIND, values=values)
    return play(note_to_cv.KIND, setting, samples, {"in": row(messages, samples)})


# Source: note numbers, MIDI 1.0: C4 is 60, A4 is 69, 440 Hz; 1 V/octave: 83.333333 mV a semitone.
@pytest.mark.parametrize(
    ("key", "volts"), [(0, -5.0), (12, -4.0), (48, -1.0), (60, 0.0), (61, 1 / 12), (127, 67 / 12)]
)
def test_pitch_is_a_volt_an_octave_about_middle_c(key: int, volts: float) -> None:
    out = heard({10: on(key)})["pitch"]
    assert out[9] == 0.0
    assert out[10] == pytest.approx(volts, abs=1e-12)
    assert hz_from_pitch_v(float(out[10])) == pytest.approx(hz_from_note(key), rel=1e-9)


def test_the_gate_is_high_from_key_to_key_to_the_sample() -> None:
    out = heard({100: on(60), 1000: off(60), 2000: on(62), 3000: on(62, 0)})  # velocity 0 is off
    want = np.zeros(6400)
    want[100:1000] = want[2000:3000] = 5.0
    np.testing.assert_array_equal(out["gate"], want)
    assert rises(out["trigger"]) == [100, 2000]
    assert int(np.count_nonzero(out["trigger"])) == 2 * 240  # 5 ms at 48 kHz
    assert out["pitch"][4000] == pytest.approx(2 / 12)  # stays


@pytest.mark.parametrize("velocity", [1, 64, 127])
def test_velocity_is_its_share_and_stays(velocity: int) -> None:
    out = heard({10: on(60, velocity), 100: off(60)}, velocity=8.0)["velocity"]
    assert out[9] == 0.0
    assert out[-1] == pytest.approx(8.0 * velocity / 127, abs=1e-12)


# Held in turn: 60, 64, 55, then let go 55, 64, 60. Which key sounds after each, worked out by hand.
@pytest.mark.parametrize(
    ("priority", "sounding"),
    [
        (LAST, [60, 64, 55, 64, 60, 60]),
        (LOWEST, [60, 60, 55, 60, 60, 60]),
        (HIGHEST, [60, 64, 64, 64, 60, 60]),
    ],
)
def test_priority_of_held_keys(priority: float, sounding: list[int]) -> None:
    steps = [on(60), on(64), on(55), off(55), off(64), off(60)]
    messages = {1000 * i: message for i, message in enumerate(steps)}
    out = heard(messages, 6400, priority=priority)
    keys = [round(12 * float(out["pitch"][1000 * i + 500])) + 60 for i in range(6)]
    assert keys == sounding
    assert [bool(out["gate"][1000 * i + 500]) for i in range(6)] == [True] * 5 + [False]


def test_a_key_that_takes_over_goes_on_or_starts_again() -> None:
    messages = {0: on(60), 1000: on(64), 2000: off(64)}
    legato = heard(messages)
    assert rises(legato["gate"]) == rises(legato["trigger"]) == [0]
    again = heard(messages, retrigger=1.0)
    assert rises(again["trigger"]) == [0, 1000]
    assert rises(again["gate"]) == [0, 1048]  # low for 1 ms; falling back starts nothing
    assert not again["gate"][1000:1048].any()
    assert again["pitch"][1000] == pytest.approx(4 / 12)


def test_a_key_that_does_not_take_over_starts_nothing() -> None:
    out = heard({0: on(60, 100), 1000: on(64, 20)}, retrigger=1.0, priority=LOWEST)
    assert rises(out["trigger"]) == rises(out["gate"]) == [0]
    assert out["velocity"][2000] == pytest.approx(5.0 * 100 / 127)


# Source: bend of 14 bits about 8192 (MSB 64, LSB 0): all the way down is -range, up is 8191/8192 of it.
@pytest.mark.parametrize(
    ("lsb", "msb", "share"), [(0, 64, 0.0), (0, 0, -1.0), (127, 127, 8191 / 8192), (0, 96, 0.5)]
)
def test_bend_moves_the_pitch_by_its_share_of_the_range(lsb: int, msb: int, share: float) -> None:
    bend = message_of(0xE0, lsb, msb)
    out = heard({0: on(72), 100: bend}, bend=12.0)["pitch"]
    assert out[99] == pytest.approx(1.0)
    assert out[100] == pytest.approx(1.0 + share, abs=1e-12)


def test_only_its_channel_and_only_notes_are_heard() -> None:
    assert not heard({0: on(60, channel=2), 9: message_of(0xB0, 60, 99)})["gate"].any()
    assert heard({0: on(60, channel=2)}, channel=2.0)["gate"][0] == 5.0
    assert heard({0: on(60, channel=9)}, channel=0.0)["gate"][0] == 5.0


@pytest.mark.parametrize("number", [120, 123])
def test_all_off_lets_go_of_everything(number: int) -> None:
    """Source: MIDI 1.0, channel mode: 123 all notes off; 120 all sound off."""
    out = heard({0: on(60), 100: on(64), 200: message_of(0xB0, number, 0), 300: on(67)})["gate"]
    assert (out[199], out[200], out[300]) == (5.0, 0.0, 5.0)


def test_a_chord_behind_a_line_comes_key_by_key() -> None:
    """Source: 320 us a byte on a 5-pin line: three bytes a key, 960 us apart."""
    line = setting_of(midi_serial_link.KIND, values={"running": 0.0})
    wave = row({0: on(60), 1: on(64), 2: on(67)}, 6400)
    late = play(midi_serial_link.KIND, line, 6400, {"in": wave})["out"]
    out = play(note_to_cv.KIND, setting_of(note_to_cv.KIND), 6400, {"in": late})
    changes = np.flatnonzero(np.diff(out["pitch"])) + 1
    assert rises(out["gate"]) == [math.ceil(0.00096 * RATE)]
    assert changes.tolist() == [math.ceil(k * 0.00096 * RATE) for k in (2, 3)]


def test_the_interval_of_pitch_holds_every_key_and_bend() -> None:
    told = note_to_cv.KIND.interval([MIDI_CODES], setting_of(note_to_cv.KIND))
    assert (told[0].lo, told[0].hi) == pytest.approx((-62 / 12, 69 / 12))
    assert told[1:] == [Span(0.0, 5.0)] * 3


# --- pairs -------------------------------------------------------------------------------------------------------


def pair(messages: dict[int, float], **values: float) -> Floats:
    setting = setting_of(cc_pair_to_cv.KIND, values={"number": 7.0, **values})
    return play(cc_pair_to_cv.KIND, setting, 640, {"in": row(messages, 640)})["out"]


def upper(value: int) -> float:
    return message_of(0xB0, 7, value)


def lower(value: int) -> float:
    return message_of(0xB0, 39, value)


# Source: 14-bit value = 128 MSB + LSB, 0 to 16383; numbers 32 apart (MIDI 1.0, control change table).
@pytest.mark.parametrize(
    ("msb", "lsb", "value"), [(0, 0, 0), (0, 1, 1), (64, 0, 8192), (127, 127, 16_383)]
)
@pytest.mark.parametrize("update", [0.0, 1.0])
def test_two_halves_make_14_bits(msb: int, lsb: int, value: int, update: float) -> None:
    out = pair({10: upper(msb), 20: lower(lsb)}, update=update, hi=10.0, initial=-3.0)
    assert out[9] == -3.0
    assert out[15] == pytest.approx(-3.0 if update else 10.0 * 128 * msb / 16_383, abs=1e-12)
    assert out[20] == pytest.approx(10.0 * value / 16_383, abs=1e-12)


def test_a_step_is_0_305194_mv_over_5_volts() -> None:
    out = pair({10: upper(3), 20: lower(4), 30: lower(5)})
    assert (out[30] - out[20]) * 1000 == pytest.approx(0.305194, abs=1e-6)


def test_an_upper_half_clears_the_lower_and_a_lower_half_alone_is_nothing() -> None:
    assert not pair({10: lower(99)}).any()
    out = pair({10: upper(1), 20: lower(99), 30: upper(2)})
    assert out[30] == pytest.approx(5.0 * 256 / 16_383)


def test_slew_has_its_time_constant() -> None:
    """Source: Horowitz & Hill, ch. 1: a step reaches 1 - 1/e after one time constant."""
    out = pair({0: upper(127), 1: lower(127)}, slew=0.002, update=1.0)
    assert out[96] == pytest.approx(5.0 * (1 - math.exp(-1)), abs=1e-9)
