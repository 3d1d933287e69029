"""What findings say, against the same rigs played: the engine is a second, independent computation of every volt."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.model.edits import apply_edits
from rigproof.model.project import Project
from rigproof.net.flatten import flatten
from rigproof.net.timeline import timeline
from tests.checks.ask import only
from tests.checks.cases import (
    clocked,
    clocked_envelope,
    doubled,
    into_desk,
    into_range,
    looped,
    pitch_line,
    swept,
    trimmed,
)

RATE_HZ = 48_000
SINE_RATIO = 2e-3
"""A sine of 261.6 Hz is met within 0.02 % of its peak at 48 kHz; ten times that for the start."""


def played(
    project: Project, contact: str, seconds: float = 0.1
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """The voltages at a contact."""
    net = flatten(project)
    row = net.contact(contact).row
    return np.asarray(render(net, seconds, probes=[row], events=timeline(net).events)[0])


def mended(name: str, project: Project) -> Project:
    """The project with the fix of its one finding made."""
    fix = only(name, project).fix
    assert fix is not None
    return apply_edits(project, fix.edits)


@pytest.mark.parametrize(
    ("name", "project", "contact"),
    [
        ("input-overdriven", into_range(5.0, 2.5), "mix.in-1"),
        ("interface-overloaded", into_desk(5.0), "desk.in-1"),
        ("interface-too-quiet", into_desk(0.05), "desk.in-1"),
    ],
)
def test_typical_peaks_are_those_that_are_heard(name: str, project: Project, contact: str) -> None:
    heard_v = np.abs(played(project, contact)).max()
    assert heard_v == pytest.approx(only(name, project).evidence["typical_v"], rel=SINE_RATIO)


def test_the_desk_keeps_its_three_decibels() -> None:
    """3.464102 V less 3 dB is 2.4524 V; the setting is rounded down to three digits."""
    heard_v = np.abs(played(mended("interface-overloaded", into_desk(5.0)), "desk.in-1")).max()
    assert heard_v == pytest.approx(2.4524, rel=5e-3)
    assert heard_v < 2.4524


def test_the_highest_pulse_is_the_highest_possible() -> None:
    project = clocked_envelope(2.0)
    heard_v = played(project, "env.gate").max()
    assert heard_v == pytest.approx(only("gate-below-threshold", project).evidence["possible_v"])


def test_a_pitch_line_droops_as_much_as_is_said() -> None:
    project = pitch_line(1_000.0, 3)
    heard_v = played(project, "keys.out", 0.01)[-1]
    assert heard_v == pytest.approx(only("pitch-line-droop", project).evidence["kept_ratio"])


def test_a_fitted_cv_covers_the_range_and_nothing_else() -> None:
    """The wave of 1 Hz goes from 0 to 5 V, the loads counted, within the last digit of the knobs."""
    fitted = mended("bipolar-into-unipolar", trimmed(1.0, range_v=(0.0, 5.0)))
    heard_v = played(fitted, "vca.cv", 1.1)
    assert heard_v.min() == pytest.approx(0.0, abs=0.01)
    assert heard_v.max() == pytest.approx(5.0, abs=0.01)


def test_a_loop_over_one_runs_into_the_rails_and_the_mended_one_does_not() -> None:
    """A sine of 0.99 V in a loop that gives back 0.9 makes at most ten times as much, 9.9 V."""
    project = looped(1.1)
    rails_v = 11.0 * 50.0 / 51.0
    assert np.abs(played(project, "mix.out")).max() == pytest.approx(rails_v)
    assert np.abs(played(mended("loop-gain-over-one", project), "mix.out")).max() < 9.9


def test_a_clock_line_has_as_many_pulses_as_is_said() -> None:
    """24 a quarter note for one second at 120 bpm are 48 rises; the mended one has 8."""
    project = clocked((24, 1), (4, 1))

    def rises(one: Project) -> int:
        high = played(one, "seq.clock", 1.0) > 2.0
        return int(np.count_nonzero(high[1:] & ~high[:-1])) + int(high[0])

    assert rises(project) == only("clock-rate-unexpected", project).evidence["found_ppqn"] * 2
    assert rises(mended("clock-rate-unexpected", project)) == 8


def test_messages_are_as_late_as_is_said() -> None:
    """The last message of two sweeps in 187.5 ms arrives 56.34 ms after their end, but for the first two at rest."""
    project = swept(0.375)
    late_s = only("midi-line-overrun", project).evidence["late_s"]
    arrivals = np.flatnonzero(played(project, "bridge.midi", 0.4))
    last_s = arrivals[-1] / RATE_HZ
    assert last_s == pytest.approx(0.1875 + late_s, abs=3 * 0.00096)


def test_a_note_on_the_first_notch_is_gone() -> None:
    """Half a period of 261.6256 Hz is 1.911129 ms; the echo comes whole samples late, at most one off."""
    project = doubled("1.911129 ms")
    notch_hz = only("sound-meets-itself", project).evidence["first_notch_hz"]
    assert notch_hz == pytest.approx(261.6256, rel=0.012)  # one sample of 92
    alone_v = np.abs(played(project, "mix.in-1")).max()
    together_v = np.abs(played(project, "mix.out")[RATE_HZ // 20 :]).max()
    assert (
        together_v < 0.04 * alone_v
    )  # 2 |cos(pi f d)| for half a sample off is 0.017, for one 0.034
