"""What was seen in the sound, told apart from what is only possible: the engine plays, the checks are told."""

from __future__ import annotations

import math

import pytest

from rigproof.checks import CHECKS, Bench, Finding, run_checks
from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.model.edits import apply_edits
from rigproof.model.project import Project
from rigproof.net.flatten import flatten
from rigproof.net.timeline import timeline
from rigproof.readings.heard import Heard
from tests.checks.cases import into_desk, into_range
from tests.checks.play_cases import rising


def heard(project: Project, seconds: float) -> Heard:
    """Every row over the first seconds of the set, in the engine."""
    net = flatten(project)
    player = Player(schedule(net), (), timeline(net).events, watch=True)
    for _ in player.chunks(seconds):
        pass
    return Heard(seconds, "the set", player.lows_v.tolist(), player.highs_v.tolist())


def findings(name: str, project: Project, seconds: float) -> list[Finding]:
    """What one check finds when it is told what was seen."""
    bench = Bench.of(project, heard=heard(project, seconds))
    return run_checks(bench, [CHECKS[name]])


def test_what_the_first_bar_does_not_show_is_possible() -> None:
    """2 V at the start, 4 V from the end of bar 2 on; full scale is 3.46 V. One second shows only the start."""
    project = into_desk(2.0, later_v=4.0)
    (found,) = findings("interface-can-clip", project, 1.0)
    assert "Possible, not seen in 1 s of sound" in found.message
    assert found.evidence["seen_high_v"] == pytest.approx(2.0 * 100.0 / 101.0, rel=2e-3)
    assert not findings("interface-overloaded", project, 1.0)


def test_what_the_second_bar_shows_is_seen() -> None:
    project = into_desk(2.0, later_v=4.0)
    assert not findings("interface-can-clip", project, 3.9)
    (found,) = findings("interface-overloaded", project, 3.9)
    assert "Seen in 3.9 s of sound" in found.message
    assert found.evidence["seen_high_v"] == pytest.approx(4.0 * 100.0 / 101.0, rel=2e-3)
    assert found.evidence["peak_dbfs"] == pytest.approx(
        20.0 * math.log10(3.9604 / 3.464102), abs=0.02
    )


def test_an_input_that_was_seen_to_be_overdriven_is() -> None:
    """The input takes 2.5 V; 2 V are typical at the start and 4 V are reached, 20 log10(3.9604 / 2.5) = 3.996 dB."""
    project = into_range(2.0, 2.5, later_v=4.0)
    assert not run_checks(Bench.of(project), [CHECKS["input-overdriven"]])
    (found,) = findings("input-overdriven", project, 3.9)
    assert found.evidence["over_db"] == pytest.approx(3.996, abs=0.02)
    assert not findings("input-can-clip", project, 3.9)


def test_what_is_typical_says_whether_it_was_seen_too() -> None:
    (found,) = findings("input-overdriven", into_range(5.0, 2.5), 0.1)
    assert "Seen in 0.1 s of sound" in found.message


def test_the_fix_of_what_was_seen_is_seen_to_work() -> None:
    """The voice goes to 4 V by a hand; the mixer behind it is turned down until the desk has its 3 dB again."""
    project = rising(4.0)
    (found,) = findings("interface-overloaded", project, 3.9)
    assert found.fix is not None
    mended = apply_edits(project, found.fix.edits)
    assert not findings("interface-overloaded", mended, 3.9)
    net = flatten(mended)
    seen = heard(mended, 3.9).span(net.contact("desk.in-1").row)
    assert seen is not None
    assert seen.hi == pytest.approx(3.464102 * 10.0 ** (-3.0 / 20.0), rel=5e-3)
