"""MIDI lines, merge and messages against the published times of bytes and frames."""

import math

import numpy as np
import pytest

from rigproof.kinds import midi_merge, midi_serial_link, midi_usb_link
from rigproof.kinds.message_queue import LOST, ROOM
from rigproof.kinds.midi_messages import controller_value, message_bytes, message_of
from tests.kinds.running import Floats, play, setting_of

RATE = 48_000
CC = message_of(0xB0, 7, 100)

# Source: MIDI 1.0 Detailed Specification: length of each message; ten bits a byte at 31,250 baud
# give 320 us a byte. [message, us, us with running status]
TIMES = [
    (message_of(0x80, 60, 0), 960, 640),
    (message_of(0x93, 60, 100), 960, 640),
    (message_of(0xA0, 60, 100), 960, 640),
    (message_of(0xBF, 127, 127), 960, 640),
    (message_of(0xE0, 0, 64), 960, 640),
    (message_of(0xC0, 5, 0), 640, 320),
    (message_of(0xD0, 5, 0), 640, 320),
    (message_of(0xF1, 5, 0), 640, 640),
    (message_of(0xF3, 5, 0), 640, 640),
    (message_of(0xF2, 5, 5), 960, 960),
    (message_of(0xF6, 0, 0), 320, 320),
    *((message_of(status, 0, 0), 320, 320) for status in (0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF)),
]


def row(messages: dict[int, float], samples: int) -> Floats:
    wave = np.zeros(samples)
    for at, message in messages.items():
        wave[at] = message
    return wave


def arrivals(out: Floats) -> list[tuple[int, float]]:
    return [(int(i), float(out[i])) for i in np.flatnonzero(out)]


def serial(
    messages: dict[int, float], samples: int, *, running: bool = False
) -> list[tuple[int, float]]:
    setting = setting_of(midi_serial_link.KIND, values={"running": float(running)})
    return arrivals(
        play(midi_serial_link.KIND, setting, samples, {"in": row(messages, samples)})["out"]
    )


def at_us(us: float, *, since: int = 0) -> int:
    """The first sample at or after a time."""
    return since + math.ceil(us * RATE / 1e6 - 1e-9)


@pytest.mark.parametrize(("message", "us", "running_us"), TIMES)
def test_a_message_takes_its_published_time(message: float, us: int, running_us: int) -> None:
    assert message_bytes(message) * 320 == us
    assert serial({10: message}, 200) == [(at_us(us, since=10), message)]
    later = serial({10: message, 300: message}, 600, running=True)
    assert later == [(at_us(us, since=10), message), (at_us(running_us, since=300), message)]


@pytest.mark.parametrize(("running", "ms"), [(False, 15.36), (True, 10.56)])
def test_sixteen_faders_at_once(running: bool, ms: float) -> None:
    """Source: 16 control changes are 48 bytes, or 33 with running status on one channel, of 320 us."""
    faders = {i: message_of(0xB0, i + 1, 64) for i in range(16)}
    got = serial(faders, 2_000, running=running)
    assert [message for _, message in got] == list(faders.values())
    assert got[-1][0] == at_us(ms * 1000)
    each = 640 if running else 960
    assert [place for place, _ in got] == [at_us(960 + each * i) for i in range(16)]


def test_a_long_queue_stays_exact() -> None:
    """500 messages one behind the other: 480 ms and no rounding piles up."""
    queue = {i: message_of(0xB0, i % 128, i // 128) for i in range(500)}
    got = serial(queue, 24_000)
    assert [place for place, _ in got] == [at_us(960 * (i + 1)) for i in range(500)]


def test_running_status_ends_with_another_status_and_not_with_the_clock() -> None:
    note, clock, song = message_of(0x90, 60, 1), message_of(0xF8, 0, 0), message_of(0xF3, 1, 0)
    got = serial(dict(enumerate([CC, clock, CC, note, CC, song, CC])), 1_000, running=True)
    ends = np.cumsum([3, 1, 2, 3, 3, 2, 3]) * 320  # bytes on the line
    assert [place for place, _ in got] == [at_us(float(us)) for us in ends]


def test_a_full_queue_loses_and_counts() -> None:
    setting = setting_of(midi_serial_link.KIND)
    state = np.asarray(midi_serial_link.KIND.prepare(setting))
    wave = np.full(1_200, CC)
    out = play(midi_serial_link.KIND, setting, 1_200, {"in": wave}, state=state)["out"]
    sent = len(arrivals(out))
    assert sent == int(1_199 / 46.08)
    # When the last of the 1200 comes, one message is on the line and the queue is full.
    assert state[midi_serial_link.QUEUE + LOST] == 1_200 - sent - 1 - ROOM


@pytest.mark.parametrize(
    "number",
    [-1.0, 0.5, 127.0, 144.5, float(0x90 + 256 * 0x80), 0xF0, 0xF4, 1e12, math.nan, math.inf],
)
def test_what_is_no_message_is_not_carried(number: float) -> None:
    assert message_bytes(number) == 0
    for kind in (midi_serial_link.KIND, midi_usb_link.KIND):
        assert not play(kind, setting_of(kind), 600, {"in": row({5: number}, 600)})["out"].any()
    merge = midi_merge.KIND
    assert not play(merge, setting_of(merge), 64, {"in-1": row({5: number}, 64)})["out"].any()


def usb(
    messages: dict[int, float], samples: int, *, rate_hz: float = RATE
) -> list[tuple[int, float]]:
    setting = setting_of(midi_usb_link.KIND, rate_hz=rate_hz)
    return arrivals(
        play(midi_usb_link.KIND, setting, samples, {"in": row(messages, samples)})["out"]
    )


def test_usb_messages_wait_for_the_frame() -> None:
    """A full-speed frame is 1 ms: 48 samples."""
    assert usb({1: CC}, 200) == [(48, CC)]
    assert usb({47: CC}, 200) == [(48, CC)]
    assert usb({48: CC}, 200) == [(96, CC)]
    assert usb({0: CC}, 200) == [(48, CC)]


def test_usb_frames_keep_1_ms_at_44100() -> None:
    places = [usb({at: CC}, 2_000, rate_hz=44_100.0)[0][0] for at in range(0, 1_700, 90)]
    frames = {math.ceil(i * 44.1 - 1e-9) for i in range(60)}
    assert set(places) <= frames
    for at, place in zip(range(0, 1_700, 90), places, strict=True):
        assert place == min(f for f in frames if f > at)


def test_sixteen_usb_messages_a_frame() -> None:
    """Source: USB MIDI 1.0: 4 bytes an event; a full-speed bulk packet of 64 bytes holds 16."""
    many = {i: message_of(0xB0, i, 1) for i in range(40)}
    got = usb(many, 300)
    assert [message for _, message in got] == list(many.values())
    assert [place for place, _ in got] == [
        *range(48, 64), *range(96, 112), *range(144, 152)
    ]  # fmt: skip


def test_merge_keeps_everything_in_order() -> None:
    setting = setting_of(midi_merge.KIND, ways=3)
    ins = {
        f"in-{i}": row({10: message_of(0xB0, i, 1), 11: message_of(0xB0, i, 2)}, 64)
        for i in (1, 2, 3)
    }
    got = arrivals(play(midi_merge.KIND, setting, 64, ins)["out"])
    assert got == [(10 + i, message_of(0xB0, i % 3 + 1, i // 3 + 1)) for i in range(6)]


def test_the_delays_said_are_the_delays_heard() -> None:
    for running in (0.0, 1.0):
        setting = setting_of(midi_serial_link.KIND, values={"running": running})
        lag = midi_serial_link.KIND.lags(setting)[0]
        got = serial({0: CC, 500: CC}, 1_000, running=bool(running))
        heard_s = sorted(((got[0][0]) / RATE, (got[1][0] - 500) / RATE))
        assert heard_s[0] == pytest.approx(lag.lo_s, abs=1 / RATE)
        assert heard_s[1] == pytest.approx(lag.hi_s, abs=1 / RATE)
    lag = midi_usb_link.KIND.lags(setting_of(midi_usb_link.KIND))[0]
    waits = [(usb({at: CC}, 200)[0][0] - at) / RATE for at in range(48, 96)]
    assert min(waits) == pytest.approx(lag.lo_s)
    assert max(waits) == pytest.approx(lag.hi_s)


def test_a_controller_is_known_by_number_and_channel() -> None:
    message = message_of(0xB2, 74, 99)
    assert controller_value(message, 74, 3) == 99
    assert controller_value(message, 74, 2) == -1
    assert controller_value(message, 73, 3) == -1
    assert controller_value(message_of(0x92, 74, 99), 74, 3) == -1
