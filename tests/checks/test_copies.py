"""Copies against sums made by hand: superposition, and who is heard where."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rigproof.checks.copies import meetings
from rigproof.model.edits import AddCable, SetControl
from rigproof.model.patch import Cable
from tests.checks import rigs
from tests.checks.ask import bench_of, findings, only
from tests.checks.cases import inverted, sent, stereo_voice

LOAD = 100.0 / 101.0
"""1 kohm into 100 kohm leaves 100/101 (divider, closed form)."""


@pytest.mark.parametrize("gain", [-1.0, -0.9, -0.75])
def test_what_is_left_of_a_signal_and_its_copy(gain: float) -> None:
    """The straight way gives 1, the other one `gain` behind one more divider: 1 + gain * 100/101 is left."""
    found = only("copies-cancel", inverted(gain))
    left = abs(1.0 + gain * LOAD)
    assert found.at == "mix.mix"
    assert found.evidence["left_ratio"] == pytest.approx(left, rel=1e-9)
    assert found.evidence["lost_db"] == pytest.approx(-20.0 * math.log10(left), rel=1e-9)


def test_the_copy_is_turned_over() -> None:
    found = only("copies-cancel", inverted(-0.9))
    assert found.fix is not None
    assert found.fix.edits == (SetControl("trim.gain", 0.9),)


def test_copies_of_one_sign_add() -> None:
    assert not findings("copies-cancel", inverted(0.9))
    (meeting,) = meetings(bench_of(inverted(0.9)))
    assert sum(copy.gain for _, copy in meeting.parts) == pytest.approx(
        meeting.parts[0][1].gain + meeting.parts[1][1].gain
    )
    assert meeting.left_ratio == pytest.approx(1.0 + 0.9 * LOAD)


def test_a_gain_that_the_set_moves_is_not_judged() -> None:
    """It is a gesture then, and where it stands at the start settles nothing."""
    project = replace(inverted(-1.0), setlist=rigs.playing("trim.gain", 0.5))
    assert not findings("copies-cancel", project)


def test_two_different_voices_do_not_cancel() -> None:
    project = inverted(-1.0)
    cables = [c for c in project.patch.cables if c.target != "trim.in"]
    other = Cable("voice.saw", "trim.in")
    project = replace(project, patch=replace(project.patch, cables=(*cables, other)))
    assert not findings("copies-cancel", project)


def test_how_much_dry_sound_a_return_brings() -> None:
    found = only("dry-comes-twice", sent(0.6))
    assert found.at == "echo.echo"
    assert found.evidence["dry_ratio"] == pytest.approx(0.4)
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.mix", 1.0),)


def test_an_insert_brings_its_dry_sound_once() -> None:
    assert not findings("dry-comes-twice", sent(0.6, has_dry=False))


def test_an_echo_that_stands_alone_is_late_by_its_time() -> None:
    found = only("echo-without-its-sound", sent(1.0, has_dry=False))
    assert found.evidence["late_s"] == pytest.approx(0.300, abs=0.002)  # its tape drifts by 1 ms
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.mix", 0.5),)


@pytest.mark.parametrize(("side", "lost"), [("left", "right"), ("right", "left")])
def test_the_other_side_is_plugged_beside_the_first(side: str, lost: str) -> None:
    found = only("stereo-side-lost", stereo_voice(side))
    assert found.at == f"voice.{lost}"
    assert found.fix is not None
    assert found.fix.edits == (AddCable(Cable(f"voice.{lost}", f"out.{lost}-1")),)


def test_a_mono_rig_has_no_other_side() -> None:
    project = stereo_voice("left")
    cables = tuple(c for c in project.patch.cables if "right" not in c.target)
    assert not findings(
        "stereo-side-lost", replace(project, patch=replace(project.patch, cables=cables))
    )


def test_nothing_of_a_voice_that_is_not_plugged_is_lost() -> None:
    assert not findings("stereo-side-lost", stereo_voice())


def test_what_comes_to_the_lost_side_alone_is_lost_with_it() -> None:
    """The mix's left only, normalled to the right at the desk: both ears hear it, but nobody what is right alone."""
    project = stereo_voice("left", "right")
    desk = project.sheets["desk"]
    right = replace(desk.jacks["right"], normal="left")
    sheets = {**project.sheets, "desk": replace(desk, jacks={**desk.jacks, "right": right})}
    cables = tuple(c for c in project.patch.cables if c.source != "out.out-right")
    project = replace(project, sheets=sheets, patch=replace(project.patch, cables=cables))
    found = only("stereo-side-lost", project)
    assert found.at == "out.out-right"
    assert found.fix is not None
    assert found.fix.edits == (AddCable(Cable("out.out-right", "desk.right")),)


def test_one_mono_voice_on_the_left_is_no_lost_side() -> None:
    project = stereo_voice("left")
    desk = project.sheets["desk"]
    right = replace(desk.jacks["right"], normal="left")
    sheets = {**project.sheets, "desk": replace(desk, jacks={**desk.jacks, "right": right})}
    keep = ("voice.left", "out.out-left")
    cables = tuple(c for c in project.patch.cables if c.source in keep)
    project = replace(project, sheets=sheets, patch=replace(project.patch, cables=cables))
    assert not findings("stereo-side-lost", project)
