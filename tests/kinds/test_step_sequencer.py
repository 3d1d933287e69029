"""The step sequencer against equal temperament and the arithmetic of its clock."""

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import NO_PULSE, ZERO, Beat, Level, Pulse, Span
from rigproof.kinds.step_sequencer import KIND, note_v
from rigproof.units import hz_from_note, hz_from_pitch_v
from tests.kinds.running import Floats, play, pulses, rises, setting_of

STEP = 600
NOTES = ("C4", "D4", "E4", "G4")


def clocks(count: int) -> Floats:
    return pulses(range(0, count * STEP, STEP), count * STEP, length=100)


def run(count: int, ins: dict[str, Any] | None = None, **given: Any) -> dict[str, Floats]:
    return play(
        KIND, setting_of(KIND, **given), count * STEP, {"clock": clocks(count), **(ins or {})}
    )


def semitones(count: int, ins: dict[str, Any] | None = None, **given: Any) -> list[float]:
    """The pitch in the middle of each clock period."""
    return [round(12 * v, 9) for v in run(count, ins, **given)["pitch"][STEP // 2 :: STEP]]


# Source: MIDI note numbers and equal temperament, A4 = 440 Hz (ISO 16), note 69. [name, note, Hz]
NAMES = [
    ("C4", 60, 261.625565),
    ("A4", 69, 440.0),
    ("A0", 21, 27.5),
    ("C0", 12, 16.351598),
    ("C8", 108, 4186.009045),
    ("D2", 38, None),
    ("F#3", 54, None),
    ("Gb3", 54, None),
    ("Bb-1", 10, None),
    ("B#3", 60, None),
    ("g9", 127, 12543.853951),
]


@pytest.mark.parametrize(("name", "note", "hz"), NAMES)
def test_names_are_the_notes_of_equal_temperament(name: str, note: int, hz: float | None) -> None:
    volts = note_v(name)
    assert volts is not None
    assert hz_from_pitch_v(volts) == pytest.approx(hz_from_note(note), rel=1e-12)
    if hz is not None:
        assert hz_from_pitch_v(volts) == pytest.approx(hz, abs=1e-6)


def test_notes_follow_the_clock_and_come_round() -> None:
    out = run(9, options={"notes": NOTES})
    assert [round(12 * v) for v in out["pitch"][::STEP]] == [0, 2, 4, 7, 0, 2, 4, 7, 0]
    assert rises(out["gate"]) == [i * STEP for i in range(9)]
    assert rises(out["cycle"]) == [4 * STEP, 8 * STEP]


@pytest.mark.parametrize(
    ("direction", "expected"),
    [
        (0, [0, 2, 4, 7, 0, 2, 4, 7, 0, 2]),
        (1, [7, 4, 2, 0, 7, 4, 2, 0, 7, 4]),
        (2, [0, 2, 4, 7, 4, 2, 0, 2, 4, 7]),
    ],
)
def test_directions(direction: int, expected: list[float]) -> None:
    assert semitones(10, options={"notes": NOTES}, values={"direction": direction}) == expected


def test_random_takes_every_step_as_often() -> None:
    """Binomial: 1000 of 4000, give or take four times sqrt(4000 3/16) = 27.4."""
    wave = pulses(range(0, 40_000, 10), 40_000, length=5)
    setting = setting_of(KIND, options={"notes": NOTES}, values={"direction": 3})
    pitch = play(KIND, setting, 40_000, {"clock": wave})["pitch"][5::10]
    for volts in (0.0, 2 / 12, 4 / 12, 7 / 12):
        assert abs(int(np.count_nonzero(np.isclose(pitch, volts))) - 1000) < 4 * 27.4


def test_rests_keep_the_pitch() -> None:
    out = run(8, options={"notes": NOTES, "gates": "x.xx"})
    assert rises(out["gate"]) == [i * STEP for i in (0, 2, 3, 4, 6, 7)]
    assert semitones(8, options={"notes": NOTES, "gates": "x.xx"}) == [0, 0, 4, 7, 0, 0, 4, 7]


def test_length_division_volts_knobs_and_transposition() -> None:
    assert semitones(5, options={"notes": NOTES}, values={"length": 3}) == [0, 2, 4, 0, 2]
    assert semitones(5, options={"notes": NOTES}, values={"length": 5}) == [0, 2, 4, 7, 0]
    assert semitones(5, options={"notes": NOTES}, values={"division": 2}) == [0, 0, 2, 2, 4]
    assert semitones(3, options={"volts": (0.5, -1.0)}) == [6, -12, 6]
    knobs = {"step-1": 0.25, "step-2": 0.5}
    assert semitones(3, values=knobs, ways=2) == [3, 6, 3]
    assert semitones(2, values=knobs, options={"notes": (1, 1)}, ways=2) == [4, 7]
    assert semitones(2, {"transpose": 1.0}, options={"notes": NOTES}) == [12, 14]
    assert semitones(2, options={"notes": NOTES}, values={"transpose": -5}) == [-5, -3]


def test_reset_with_the_clock_plays_the_first_note() -> None:
    reset = pulses([2 * STEP], 6 * STEP, length=50)
    assert semitones(6, {"reset": reset}, options={"notes": NOTES}) == [0, 2, 0, 2, 4, 7]


def test_a_glide_takes_its_time_in_a_straight_line() -> None:
    setting: dict[str, Any] = {
        "options": {"notes": ("C4", "C5")},
        "values": {"glide": 0.01},
    }  # 480 samples
    pitch = run(4, **setting)["pitch"]
    assert pitch[STEP : STEP + 480] == pytest.approx(np.arange(1, 481) / 480)
    assert np.all(pitch[STEP + 479 : 2 * STEP] == 1.0)
    slides: dict[str, Any] = {**setting, "options": {"notes": ("C4", "C5"), "slides": "x."}}
    pitch = run(4, **slides)["pitch"]
    assert pitch[STEP] == 1.0  # no slide into the second
    assert pitch[2 * STEP + 239] == pytest.approx(0.5)


def test_a_whole_gate_ties() -> None:
    out = run(12, options={"notes": NOTES, "gates": "xx.x"}, values={"gate": 1.0})["gate"][
        4 * STEP :
    ]
    assert rises(out[STEP:]) == [0, 2 * STEP, 6 * STEP]
    setting = setting_of(KIND, options={"notes": NOTES, "gates": "xx.x"}, values={"gate": 1.0})
    said = KIND.rate([Pulse.steady(Fraction(4)), NO_PULSE, NO_PULSE], setting)
    assert said is not None
    assert said[1].per_quarter == 1


def test_gates_last_their_share_of_the_step() -> None:
    gate = run(6, options={"notes": NOTES}, values={"gate": 0.25})["gate"][STEP:]
    assert int(np.count_nonzero(gate)) == 5 * 150


@pytest.mark.parametrize(
    ("given", "per_quarter", "cycle"),
    [
        ({"options": {"notes": NOTES}}, Fraction(4), Fraction(1, 4)),
        ({"options": {"notes": NOTES, "gates": "x.xx"}}, Fraction(3), Fraction(1)),
        ({"options": {"notes": NOTES, "gates": "x..."}}, Fraction(1), Fraction(1)),
        (
            {
                "options": {"notes": NOTES, "gates": "xx.x"},
                "values": {"direction": 2, "division": 2},
            },
            Fraction(4, 3),
            Fraction(3),
        ),
    ],
)
def test_the_pulse_reading_counts_what_is_heard(
    given: dict[str, Any], per_quarter: Fraction, cycle: Fraction
) -> None:
    said = KIND.rate([Pulse.steady(Fraction(4)), NO_PULSE, NO_PULSE], setting_of(KIND, **given))
    assert said is not None
    assert (said[0].beat, said[1].per_quarter, said[1].cycle_quarters) == (
        Beat.NONE,
        per_quarter,
        cycle,
    )
    quarters = 12
    gate = run(4 * quarters, **given)["gate"]
    assert Fraction(len(rises(gate)), quarters) == per_quarter
    period = int(cycle * 4 * STEP)
    tail = gate[8 * STEP :]
    assert np.array_equal(tail[period:], tail[:-period])


def test_the_interval_holds_the_notes_and_no_more() -> None:
    def pitch(**given: Any) -> Span:
        return KIND.interval([Span(0, 5), ZERO, ZERO], setting_of(KIND, **given))[0]

    assert pitch(options={"notes": NOTES}) == Span(0.0, 7 / 12)
    assert pitch(options={"notes": NOTES}, values={"length": 2}) == Span(0.0, 2 / 12)
    assert pitch(options={"notes": ("C5",)}) == Span(1.0, 1.0)
    wide = pitch(options={"notes": NOTES}, spans={"step-4": Span(-1.0, 1.0)})
    assert wide == Span(7 / 12 - 1.0, 7 / 12 + 1.0)


def test_the_level_said_is_the_level_heard() -> None:
    setting = setting_of(KIND, options={"notes": NOTES, "gates": "xxx."}, values={"gate": 0.5})
    pitch, gate, _ = KIND.level([Level(0.0, 5.0), Level(), Level()], setting)
    sounding = np.array([0.0, 2 / 12, 4 / 12])
    assert pitch.lo_v == 0.0
    assert pitch.hi_v == pytest.approx(4 / 12)
    assert pitch.dc_v == pytest.approx(sounding.mean())
    assert pitch.rms_v == pytest.approx(sounding.std())
    heard = play(KIND, setting, 40 * STEP, {"clock": clocks(40)})["gate"][4 * STEP :]
    assert gate.dc_v == pytest.approx(heard.mean())
    assert gate.rms_v == pytest.approx(heard.std())


def test_without_a_clock_no_gate_is_said_and_none_is_heard() -> None:
    setting = setting_of(KIND, options={"notes": NOTES})
    said = KIND.level([Level(), Level(), Level()], setting)
    assert said[1:] == [Level(), Level()]
    heard = play(KIND, setting, 8 * STEP, {"clock": np.zeros(8 * STEP)})
    assert not heard["gate"].any()
    assert not heard["cycle"].any()


@pytest.mark.parametrize("raw", [("H2",), ("C",), "C4", (True,), ("C4",) * 65, ("C#",), (200,)])
def test_what_is_no_note_is_refused(raw: Any) -> None:
    check = {option.name: option.check for option in KIND.options}["notes"]
    assert check(raw) is not None
    assert check(NOTES) is None
    assert check((0, 7, -5.5)) is None
    assert str(check(("D3", "H3", "F3"))).endswith("; number 2, 'H3', is none")


@pytest.mark.parametrize("raw", [("C4",), (12,), (math.nan,), 3.0])
def test_what_is_no_voltage_is_refused(raw: Any) -> None:
    check = {option.name: option.check for option in KIND.options}["volts"]
    assert check(raw) is not None
    assert check((0, 1.5, -2)) is None
