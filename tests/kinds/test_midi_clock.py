"""MIDI clock made of pulses and pulses made of MIDI clock, against the published 24 a quarter note."""

import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds import midi_clock_to_pulses, midi_serial_link, pulses_to_midi_clock
from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Pulse
from rigproof.kinds.clock import KIND as CLOCK
from rigproof.kinds.midi_messages import message_of
from tests.kinds.running import Floats, play, pulses, rises, setting_of

RATE = 48_000
TICK, START, CONTINUE, STOP = 0xF8, 0xFA, 0xFB, 0xFC
TO_PULSES, TO_MIDI = midi_clock_to_pulses.KIND, pulses_to_midi_clock.KIND


def row(messages: dict[int, float], samples: int) -> Floats:
    wave = np.zeros(samples)
    for at, message in messages.items():
        wave[at] = message
    return wave


def sent(wave: Floats, status: int = TICK) -> list[int]:
    return [int(i) for i in np.flatnonzero(wave == status)]


def made(
    places: list[int], samples: int, *, ppqn: str = "4", run: Floats | float = 5.0, **values: float
) -> Floats:
    """The messages that pulses become."""
    choice = float(pulses_to_midi_clock.CHOICES.index(ppqn))
    setting = setting_of(TO_MIDI, values={"ppqn": choice, **values})
    ins = {"clock": pulses(places, samples, length=20), "run": run}
    return play(TO_MIDI, setting, samples, ins)["out"]


# Source: MIDI clock intervals, 60000 / BPM / 24 ms.
@pytest.mark.parametrize(
    ("bpm", "interval_ms"),
    [(60, 41.666667), (100, 25.0), (120, 20.833333), (128, 19.531250), (174, 14.367816)],
)
def test_published_intervals_from_the_real_clock(bpm: float, interval_ms: float) -> None:
    """Each message on the first sample at or after its time, so never a whole sample off."""
    samples = RATE * 4
    clock = setting_of(CLOCK, ways=1, values={"tempo": bpm, "times-1": 4.0})
    wave = play(CLOCK, clock, samples)["out-1"]
    choice = float(pulses_to_midi_clock.CHOICES.index("4"))
    out = play(TO_MIDI, setting_of(TO_MIDI, values={"ppqn": choice}), samples, {"clock": wave})[
        "out"
    ]
    ticks = np.asarray(sent(out))[12:]  # the first period is not known
    each = interval_ms * RATE / 1000
    assert np.abs(np.diff(ticks) - each).max() < 2.0
    assert (ticks[-1] - ticks[0]) / (ticks.size - 1) == pytest.approx(each, abs=2.0 / ticks.size)


@pytest.mark.parametrize("ppqn", ["1", "2", "3", "4", "6", "8", "12", "24", "48"])
def test_24_messages_a_quarter_whatever_the_clock_gives(ppqn: str) -> None:
    """At 120 BPM and 48 kHz exactly 1000 samples apart."""
    count = int(ppqn)
    places = [24_000 * i // count for i in range(4 * count)]
    ticks = sent(made(places, 96_000, ppqn=ppqn))
    settled = [t for t in ticks if t >= 48_000]
    assert settled == list(range(48_000, 96_000, 1000))
    told = TO_MIDI.rate(
        [Pulse.steady(Fraction(count)), NO_PULSE],
        setting_of(TO_MIDI, values={"ppqn": float(pulses_to_midi_clock.CHOICES.index(ppqn))}),
    )
    assert told == [Pulse.steady(Fraction(24))]


def test_no_message_is_ever_left_out() -> None:
    """Between any two pulses of an erratic clock the same number goes out, give or take none."""
    gaps = [600, 600, 400, 900, 300, 300, 700, 5000, 600, 600]
    places = [0, *np.cumsum(gaps).tolist()]
    samples = places[-1] + 1200
    ticks = np.asarray(sent(made(places, samples, ppqn="4")))
    # All that a pulse still owes go out with the next, one a sample before that pulse's own.
    ends = [int(np.searchsorted(ticks, place + 6)) for place in places[1:]]
    assert ends == [6 * (i + 1) + 1 for i in range(len(ends))]


def test_start_and_stop_follow_run_and_come_before_the_clock() -> None:
    run = np.zeros(12_000)
    run[2400:7200] = 5.0
    run[9600:] = 5.0
    out = made(list(range(0, 12_000, 600)), 12_000, ppqn="24", run=run)
    assert sent(out, START) == [2400, 9600]
    assert sent(out, STOP) == [7200]
    assert 2401 in sent(out)  # one message a sample: the clock of 2400 waits for the start
    again = made([0], 12_000, ppqn="24", run=run, resume=1.0)
    assert (sent(again, START), sent(again, CONTINUE)) == ([2400], [9600])


def test_what_the_clock_messages_cannot_say() -> None:
    setting = setting_of(TO_MIDI)
    uneven = Pulse(Beat.PATTERN, Fraction(4), Fraction(1, 2))
    told = TO_MIDI.rate([uneven, NO_PULSE], setting)
    assert told is not None
    assert (told[0].beat, told[0].per_quarter) == (Beat.PATTERN, Fraction(24))
    some = Pulse(Beat.STEADY, Fraction(4), Fraction(1, 4), chance=0.5)
    assert TO_MIDI.rate([some, NO_PULSE], setting) == [IRREGULAR]
    assert TO_MIDI.rate([NO_PULSE, NO_PULSE], setting) == [NO_PULSE]


# --- and back ----------------------------------------------------------------------------------------------------


def played(
    messages: dict[int, float], samples: int, ppqn: str = "4", **values: float
) -> dict[str, Floats]:
    choice = float(midi_clock_to_pulses.CHOICES.index(ppqn))
    setting = setting_of(TO_PULSES, ways=1, values={"ppqn-1": choice, "width": 0.001, **values})
    return play(TO_PULSES, setting, samples, {"in": row(messages, samples)})


def ticks(count: int, first: int = 100, each: int = 100) -> dict[int, float]:
    return {first + i * each: float(TICK) for i in range(count)}


@pytest.mark.parametrize(
    ("ppqn", "each"),
    [("24", 1), ("12", 2), ("8", 3), ("4", 6), ("3", 8), ("2", 12), ("3/2", 16), ("1", 24),
     ("3/4", 32), ("1/2", 48), ("1/4", 96)],
)  # fmt: skip
def test_a_pulse_for_so_many_clocks_from_the_first_after_start(ppqn: str, each: int) -> None:
    """Source: 24 clocks a quarter note; the first clock after start is the first beat."""
    out = played({50: float(START), **ticks(200)}, 20_480, ppqn)
    assert rises(out["out-1"]) == [100 + 100 * i for i in range(0, 200, each)]
    told = TO_PULSES.rate(
        [Pulse.steady(Fraction(24))],
        setting_of(
            TO_PULSES, ways=1,
            values={"ppqn-1": float(midi_clock_to_pulses.CHOICES.index(ppqn))},
        ),
    )  # fmt: skip
    assert told is not None
    assert told[0].per_quarter == Fraction(ppqn)


def test_start_stop_and_continue() -> None:
    """Stopped after 9 clocks, continued: the next sixteenths come after 3 more and 6 more."""
    messages = {50: float(START), **ticks(30), 950: float(STOP), 1550: float(CONTINUE)}
    out = played(messages, 3200)
    assert rises(out["out-1"]) == [100, 700, 1900, 2500]
    run = out["run"] > 0
    assert (np.flatnonzero(np.diff(run.astype(int))) + 1).tolist() == [50, 950, 1550]
    assert rises(out["reset"]) == [50]


def test_clocks_without_a_start_are_silent_or_not() -> None:
    assert rises(played(ticks(12), 1600)["out-1"]) == []
    assert rises(played(ticks(12), 1600, stopped=1.0)["out-1"]) == [100, 700]


def test_song_position_moves_the_count() -> None:
    """Source: song position counts sixteenths of 6 clocks: position 3 is 18 clocks, of 24 a quarter."""
    messages = {10: message_of(0xF2, 3, 0), 20: float(CONTINUE), **ticks(30)}
    assert rises(played(messages, 3200, "1")["out-1"]) == [700]
    far = {10: message_of(0xF2, 127, 127), 20: float(CONTINUE), **ticks(30)}
    assert rises(played(far, 3200, "1")["out-1"]) == [100 + 6 * 100]  # 16383 is 3 past a quarter


def test_a_pulse_lasts_at_most_half_the_way_to_the_next() -> None:
    out = played({50: float(START), **ticks(48)}, 6400, "24", width=1.0)["out-1"]
    settled = out[300:4800]
    assert int(np.count_nonzero(settled)) == 45 * 50


def test_there_and_back_over_a_line_is_late_by_a_byte_and_even() -> None:
    """Source: one byte on a 5-pin line takes 320 us, 15.36 samples, so pulses come 16 samples late."""
    places = list(range(0, 96_000, 6000))
    run = np.full(96_000, 5.0)
    run[:12_000] = 0.0
    messages = made(places, 96_000, run=run)
    line = setting_of(midi_serial_link.KIND)
    late = play(midi_serial_link.KIND, line, 96_000, {"in": messages})["out"]
    setting = setting_of(TO_PULSES, ways=2, values={"width": 0.001})
    out = play(TO_PULSES, setting, 96_000, {"in": late})["out-1"]
    byte = math.ceil(0.00032 * RATE)
    found = rises(out)
    # The first beat waits behind the start: one sample, then its own byte after the start's.
    assert found[0] == 12_000 + math.ceil(2 * 0.00032 * RATE)
    assert found[1:] == [place + byte for place in places[3:]]
