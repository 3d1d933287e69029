"""Clock findings against exact fractions, worked by hand."""

from __future__ import annotations

import pytest

from rigproof.kinds.pulses_to_midi_clock import CHOICES
from rigproof.model.edits import Replug, SetControl, apply_edits
from rigproof.model.project import Project
from rigproof.model.sheet import Control, Jack, Plug, Signal, Way
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import clocked, echoing, patterns, pulsed


def test_twenty_four_where_four_are_expected_is_six_times_too_fast() -> None:
    found = only("clock-rate-unexpected", clocked((24, 1), (4, 1)))
    assert found.at == "seq.clock"
    assert found.evidence == {"found_ppqn": 24.0, "expected_ppqn": 4.0, "tempo_ratio": 6.0}


def test_the_output_with_the_right_rate_is_taken_first() -> None:
    found = only("clock-rate-unexpected", clocked((24, 1), (4, 1)))
    assert found.fix is not None
    assert found.fix.edits == (Replug("clock.out-1", "seq.clock", "clock.out-2", "seq.clock"),)


def test_the_clock_is_set_when_no_output_has_the_rate() -> None:
    found = only("clock-rate-unexpected", clocked((24, 1), (2, 1)))
    assert found.fix is not None
    assert found.fix.edits == (SetControl("clock.times-1", 4),)


def test_a_rate_that_no_whole_number_gives_has_no_fix() -> None:
    """In 96 quarter notes 4 a quarter take 384 pulses; the control stops at 96."""
    found = only("clock-rate-unexpected", clocked((1, 96)))
    assert found.evidence["tempo_ratio"] == pytest.approx(1.0 / 96.0 / 4.0)
    assert found.fix is None


@pytest.mark.parametrize(("rate", "ppqn"), [((12, 3), 4), ((24, 1), 24), ((1, 1), 1)])
def test_equal_fractions_are_equal(rate: tuple[int, int], ppqn: int) -> None:
    assert not findings("clock-rate-unexpected", clocked(rate, ppqn=ppqn))


def to_midi(rate: int, ppqn: str) -> Project:
    """A clock into a box that makes MIDI clock of it; its menu says how many pulses make a quarter note."""
    menu = Control("ppqn", hi=8.0, default=3.0, choices=CHOICES, sets=("clock.ppqn",))
    box = rigs.sheet(
        "box",
        [
            rigs.jack_in("clock", "clock.clock", signal=Signal.CLOCK),
            Jack("out", Way.OUT, Signal.MIDI, lanes={"tip": ("clock.out",)}, plug=Plug.MIDI_A),
        ],
        {"clock": ("pulses-to-midi-clock", {})},
        controls=[menu],
    )
    return rigs.project(
        {"time": rigs.clock((rate, 1)), "box": box},
        [("time.out-1", "box.clock")],
        settings={"box.ppqn": ppqn},
    )


@pytest.mark.parametrize("ppqn", CHOICES)
def test_a_menu_means_what_is_written_on_it(ppqn: str) -> None:
    """And not its place in the menu: the 4 is the fourth of them, counted from 0 the third."""
    assert not findings("clock-rate-unexpected", to_midi(int(ppqn), ppqn))


def test_a_menu_is_set_to_what_the_clock_gives() -> None:
    found = only("clock-rate-unexpected", to_midi(24, "4"))
    assert found.evidence == {"found_ppqn": 24.0, "expected_ppqn": 4.0, "tempo_ratio": 6.0}
    assert found.fix is not None
    assert found.fix.edits == (SetControl("box.ppqn", "24"),)
    assert not findings("clock-rate-unexpected", apply_edits(to_midi(24, "4"), found.fix.edits))


def test_a_pulse_of_1_9_ms_where_2_are_needed() -> None:
    found = only("gate-too-short", pulsed("1.9 ms"))
    assert found.evidence == {"pulse_s": pytest.approx(0.0019), "needed_s": 0.002}
    assert found.fix is not None
    assert found.fix.edits == (SetControl("clock.width", 0.002),)


def test_a_pulse_longer_than_half_the_way_to_the_next_cannot_be() -> None:
    """Sixteenths at 120 bpm come every 125 ms, so no pulse lasts 70."""
    assert only("gate-too-short", pulsed("5 ms", needed_s=0.07)).fix is None


def test_cycles_of_5_7_and_11_sixteenths_meet_after_385() -> None:
    """lcm(5, 7, 11) = 385 sixteenths = 24.0625 bars of 4/4."""
    found = only("pattern-never-meets", patterns(7, 11, 5))
    assert found.evidence["cycle_bars"] == pytest.approx(385.0 / 16.0)
    assert found.evidence["limit_bars"] == 8
    assert not findings("pattern-never-meets", patterns(7, 11, 5, bars=25))


def test_a_whole_note_at_119_bpm_takes_more_than_two_seconds() -> None:
    """4 x 60/119 = 2.016807 s; at 120 bpm exactly 2 s. The next shorter note is a dotted half."""
    found = only("echo-longer-than-memory", echoing("1/1", 124.0, 119.0))
    assert found.at == "echo.echo.left"
    assert found.evidence == {
        "needed_s": pytest.approx(240.0 / 119.0),
        "memory_s": 2.0,
        "slowest_bpm": 119.0,
    }
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.beats-left", "dotted 1/2"),)


def test_a_clock_half_as_fast_as_expected_doubles_the_echo() -> None:
    """A half note at 120 bpm is 1 s; with 4 pulses expected and 1 given it is 4 s; a quarter note is 2 s."""
    found = only("echo-longer-than-memory", echoing("1/2", times=1))
    assert found.evidence["needed_s"] == pytest.approx(4.0)
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.beats-left", "1/4"),)


def test_feedback_of_one_is_turned_down() -> None:
    found = only("echo-never-fades", echoing("1/8", feedback=1.0))
    assert found.evidence == {"feedback_ratio": 1.0, "feedback_db": 0.0}
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.feedback", 0.95),)
