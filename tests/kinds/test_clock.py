"""The master clock against the published table of note lengths, and against exact fractions over an hour."""

from fractions import Fraction
from math import ceil

import numpy as np
import pytest

from rigproof.kinds.base import BLOCK, Beat
from rigproof.kinds.clock import KIND
from tests.kinds.running import play, rises, setting_of

# Source: 60000/BPM/24, the spacing of MIDI clock (24 to the quarter note, MIDI 1.0). [ms]
CLOCK_MS = {60: 41.666667, 100: 25.0, 120: 20.833333, 128: 19.53125, 140: 17.857143, 174: 14.367816}


@pytest.mark.parametrize(("tempo_bpm", "spacing_ms"), CLOCK_MS.items())
def test_24_to_the_quarter_note(tempo_bpm: int, spacing_ms: float) -> None:
    setting = setting_of(KIND, values={"tempo": tempo_bpm, "times-1": 24}, ways=1)
    places = rises(play(KIND, setting, 100_000)["out-1"])
    assert len(places) == 1 + int(99_999 * tempo_bpm * 24 / 60 / 48_000)
    for i, place in enumerate(places):
        # The table prints nanoseconds; a pulse rises at the first sample at or after its time.
        assert -0.01 <= place - i * spacing_ms * 48.0 < 1.0


@pytest.mark.parametrize("tempo_bpm", [120.0, 103.7, 174.0])
@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0])
def test_nothing_drifts(tempo_bpm: float, rate_hz: float) -> None:
    """Every pulse of two minutes stands on the sample that exact fractions give."""
    setting = setting_of(
        KIND, values={"tempo": tempo_bpm, "times-1": 7, "over-1": 3}, ways=1, rate_hz=rate_hz
    )
    samples = int(120 * rate_hz)
    places = rises(play(KIND, setting, samples)["out-1"])
    pulse = 60 * Fraction(rate_hz) / Fraction(tempo_bpm) * Fraction(3, 7)
    assert places == [ceil(i * pulse) for i in range(len(places))]
    assert len(places) == 1 + (samples - 1) // pulse


@pytest.mark.slow
def test_an_hour_stays_on_its_samples() -> None:
    setting = setting_of(KIND, values={"tempo": 103.7, "times-1": 4}, ways=1)
    state = np.asarray(KIND.prepare(setting))
    pulse = 60 * Fraction(48_000.0) / Fraction(103.7) / 4
    done, number = 0, 0
    while done < 3600 * 48_000:
        for place in rises(play(KIND, setting, 2_400_000, state=state)["out-1"]):
            if place == 0 and ceil(number * pulse) != done:
                continue  # the pulse that the part before began
            assert done + place == ceil(number * pulse)
            number += 1
        done += 2_400_000
    assert number == 1 + (3600 * 48_000 - 1) // pulse


def test_a_quarter_a_bar_and_a_sixteenth() -> None:
    """Source: 120 BPM has quarters of 500 ms, sixteenths of 125 ms, bars of 2000 ms."""
    values = {"times-1": 1.0, "times-2": 4.0, "times-3": 1.0, "over-3": 4.0}
    out = play(KIND, setting_of(KIND, values=values, ways=3), 48_000 * 5)
    assert rises(out["out-1"]) == list(range(0, 240_000, 24_000))
    assert rises(out["out-2"]) == list(range(0, 240_000, 6_000))
    assert rises(out["out-3"]) == [0, 96_000, 192_000]
    assert rises(out["reset"]) == [0]


@pytest.mark.parametrize(("swing", "second_ms"), [(2 / 3, 333.333333), (0.6, 300.0)])
def test_swing_of_eighths(swing: float, second_ms: float) -> None:
    """Source: swing s of a pair of eighths puts the second at s 60000/BPM; 120 BPM."""
    setting = setting_of(KIND, values={"times-1": 2, "swing-1": swing}, ways=1)
    places = rises(play(KIND, setting, 96_000)["out-1"])
    assert places[0::2] == [0, 24_000, 48_000, 72_000]
    for first, second in zip(places[0::2], places[1::2], strict=True):
        assert second - first == pytest.approx(second_ms * 48.0, abs=1.0)


def test_a_pulse_keeps_its_length_and_never_swallows_the_next() -> None:
    out = play(
        KIND, setting_of(KIND, values={"times-1": 1, "times-2": 96, "width": 0.02}, ways=2), 48_000
    )
    assert int(np.count_nonzero(out["out-1"])) == 2 * 960  # 20 ms
    assert len(rises(out["out-2"])) == 192  # 5.2 ms apart: cut to half of it
    assert int(np.count_nonzero(out["out-2"])) == 192 * 125


def test_a_gliding_tempo_is_followed() -> None:
    """From 60 to 120 BPM over 10 s: the beats so far are the integral of the tempo."""
    blocks = 10 * 48_000 // BLOCK
    edges = [60.0 + 60.0 * b / blocks for b in range(blocks + 1)]
    setting = setting_of(KIND, values={"tempo": 60.0, "times-1": 1}, ways=1)
    out = play(KIND, setting, blocks * BLOCK, glides={"tempo": edges})
    # beats(t) = t + t^2/20, solved for t.
    expected = [10.0 * ((1.0 + beat / 5.0) ** 0.5 - 1.0) for beat in range(15)]
    assert np.asarray(rises(out["out-1"])) / 48_000 == pytest.approx(expected, abs=1.5 / 48_000)


def test_stop_and_start_begins_at_beat_0() -> None:
    run = np.full(96_000, 5.0)
    run[30_000:50_001] = 0.0
    out = play(KIND, setting_of(KIND, values={"times-1": 1}, ways=1), 96_000, {"run": run})
    assert rises(out["out-1"]) == [0, 24_000, 50_001, 74_001]
    assert rises(out["reset"]) == [0, 50_001]


def test_a_restart_begins_at_beat_0() -> None:
    restart = np.zeros(48_000)
    restart[10_000:10_100] = 5.0
    out = play(KIND, setting_of(KIND, values={"times-1": 1}, ways=1), 48_000, {"restart": restart})
    assert rises(out["out-1"]) == [0, 10_000, 34_000]
    assert rises(out["reset"]) == [0, 10_000]


def test_switched_off_nothing_comes() -> None:
    setting = setting_of(KIND, values={"run": 0})
    out = play(KIND, setting, 48_000)
    assert not any(wave.any() for wave in out.values())
    assert all(p.beat is Beat.NONE for p in KIND.rate((), setting) or ())


def test_a_ratio_changed_while_running_stays_on_its_own_grid() -> None:
    state = np.asarray(KIND.prepare(setting_of(KIND, values={"times-1": 1}, ways=1)))
    play(KIND, setting_of(KIND, values={"times-1": 1}, ways=1), 60_032, state=state)
    later = play(KIND, setting_of(KIND, values={"times-1": 8}, ways=1), 48_000, state=state)[
        "out-1"
    ]
    assert [(place + 60_032) % 3_000 for place in rises(later)] == [0] * 16


def test_readings_are_what_is_heard() -> None:
    values = {"times-1": 1.0, "over-1": 4.0, "times-2": 3.0, "over-2": 2.0, "swing-3": 0.6}
    setting = setting_of(KIND, values=values, ways=3)
    said = KIND.rate((), setting)
    assert said is not None
    assert [p.per_quarter for p in said[:3]] == [Fraction(1, 4), Fraction(3, 2), Fraction(4)]
    assert [p.cycle_quarters for p in said[:3]] == [4, Fraction(2, 3), Fraction(1, 2)]
    assert [p.beat for p in said] == [Beat.STEADY, Beat.STEADY, Beat.PATTERN, Beat.NONE]
    out = play(KIND, setting, 48_000 * 16)
    levels = KIND.level((), setting)
    for i in range(3):
        wave = out[f"out-{i + 1}"]
        assert Fraction(len(rises(wave))) / 32 == said[i].per_quarter  # quarters in 16 s
        assert levels[i].dc_v == pytest.approx(wave.mean(), rel=0.01)
        assert levels[i].rms_v == pytest.approx(wave.std(), rel=0.01)
        assert said[i].length_s == pytest.approx(0.005)
