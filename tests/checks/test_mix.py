"""Mix findings against sums by power and the full scale of a sine, worked by hand; and against the sound."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from rigproof.checks import Bench
from rigproof.engine.render import render
from rigproof.model.edits import SetControl, apply_edits
from rigproof.model.patch import Settings
from rigproof.model.project import Project
from rigproof.model.set_edits import SetMove, SetPassageControl
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.net.flatten import flatten
from rigproof.net.timeline import timeline
from rigproof.readings.level import read_level
from rigproof.readings.over_set import levels_over, moments, net_at
from rigproof.readings.survey import survey
from tests.checks import play_cases as play
from tests.checks import rigs
from tests.checks.ask import findings, only

KEPT = 100.0 / 101.0
"""1 kohm into 100 kohm. Ohm's law."""


def test_nine_thousandths_are_41_decibels_down() -> None:
    """20 log10(0.009) = -40.915 dB. The mended gain is a tenth, rounded up where the last digit falls."""
    found = only("voice-lost-in-mix", play.two_voices(5.0, 5.0, 0.009))
    assert found.at == "mix.in-2"
    assert found.evidence["below_db"] == pytest.approx(40.915, abs=1e-3)
    assert found.evidence["rest_v"] == pytest.approx(5.0 * KEPT / math.sqrt(2.0), rel=1e-6)
    assert found.fix is not None
    (edit,) = found.fix.edits
    assert isinstance(edit, SetControl)
    assert edit.control == "mix.level-2"
    assert edit.value == pytest.approx(0.1, abs=1e-3)


def test_a_channel_that_is_shut_is_shut_on_purpose() -> None:
    assert not findings("voice-lost-in-mix", play.two_voices(5.0, 5.0, 0.0))


def test_the_loudest_bar_is_named() -> None:
    """Full scale at +10 dBu is sqrt(2 * 0.6) * 10^(10/20) = 3.464102 V; 4 V come as 4 * (100/101)^2 = 3.921 V."""
    found = only("set-overloads-interface", play.rising(4.0))
    assert found.at == "desk.in-1"
    assert "bar 2 of section only" in found.message
    assert found.evidence["typical_v"] == pytest.approx(4.0 * KEPT**2, rel=1e-9)
    assert found.evidence["peak_dbfs"] == pytest.approx(
        20.0 * math.log10(4.0 * KEPT**2 / 3.464102), abs=1e-5
    )


@pytest.mark.parametrize("level_v", [2.5, 4.0])
def test_the_survey_names_the_loudest_bar_whether_it_fits_or_not(level_v: float) -> None:
    """Against the same 3.464102 V; the second of the three bars is the loudest."""
    told = survey(Bench.of(play.rising(level_v)).readings)
    (bar,) = told.loudest
    assert (bar.section, bar.port, bar.passage, bar.bar) == ("desk.line-1", "in", "only", 2)
    assert bar.headroom_db == pytest.approx(
        20.0 * math.log10(3.464102 / (level_v * KEPT**2)), abs=1e-5
    )
    assert bar.peak_dbfs == -bar.headroom_db


def test_the_loudest_bar_is_as_loud_in_the_sound() -> None:
    """The engine plays the same set; 0.2 % is for the sine that is met between two samples."""
    project = play.rising(4.0)
    net = flatten(project)
    heard_v = np.abs(
        render(net, 6.0, probes=[net.contact("desk.in-1").row], events=timeline(net).events)
    ).max()
    found = only("set-overloads-interface", project)
    assert heard_v == pytest.approx(found.evidence["typical_v"], rel=2e-3)
    assert found.fix is not None
    mended = flatten(apply_edits(project, found.fix.edits))
    quiet_v = np.abs(
        render(
            mended, 6.0, probes=[mended.contact("desk.in-1").row], events=timeline(mended).events
        )
    ).max()
    assert quiet_v == pytest.approx(3.464102 * 10.0 ** (-1.0 / 20.0), rel=5e-3)


def test_a_gain_of_1_9_drives_6_volts_over_11() -> None:
    found = only("set-drives-into-rails", play.boosted(1.9))
    assert found.at == "mix.out"
    assert found.evidence["limit_v"] == 11.0
    assert found.fix is not None


@pytest.mark.parametrize(
    ("played", "turned"),
    [
        ((), "mix.master"),
        (("mix.master",), "mix.level-1"),
        (("mix.master", "mix.level-1"), "voice.level"),  # whose move brings it over
    ],
)
def test_a_volume_that_the_set_plays_is_no_cure(
    played: tuple[str, ...], turned: str | None
) -> None:
    """The patch may say what it likes of such a volume: the move goes where it goes."""
    rising = play.rising(4.0)
    assert rising.setlist is not None
    (passage,) = rising.setlist.sections
    moves = (*passage.moves, *(Move(control, 1.0, bar=1, beats=1.0) for control in played))
    setlist = replace(rising.setlist, sections=(replace(passage, moves=moves),))
    found = only("set-overloads-interface", replace(rising, setlist=setlist))
    assert found.fix is not None
    (edit,) = found.fix.edits
    assert isinstance(edit, SetMove if len(played) == 2 else SetControl)
    assert edit.control == turned


def levelled(*passages: Passage) -> Project:
    """A sine through a mixer to a desk of 3.464102 V, its level played by the set; nothing else has a volume."""
    voice = rigs.voice(level_v=2.0)
    mix = rigs.sheet(
        "mix",
        [rigs.jack_in("in", "mix.in-1"), rigs.jack_out("out", "mix.out")],
        {"mix": ("mixer", {"ways": 1})},
    )
    return rigs.project(
        {"voice": voice, "mix": mix, "desk": rigs.interface(full_scale_dbu=10.0)},
        [("voice.sine", "mix.in"), ("mix.out", "desk.in-1")],
        setlist=Setlist("tiny", sections=passages),
    )


MOST_V = 3.464102 * 10.0 ** (-1.0 / 20.0) / KEPT**2
"""Where the peak at the desk stands 1 dB below full scale: 3.1494 V at the voice."""


def test_a_move_that_brings_it_over_goes_only_so_far() -> None:
    """Rounded down to three digits. The note of the move, its hand and its time stay; lower moves stay as they are."""
    up = Move("voice.level", 4.0, bar=2, beats=2.0, start=3.5, hand="left", note="up")
    first = Passage("one", bars=4, moves=(Move("voice.level", 3.0, bar=1), up))
    again = Passage(
        "two", bars=2, moves=(Move("voice.level", 1.0), Move("voice.level", "3.8 V", bar=2))
    )
    project = levelled(first, again)
    found = only("set-overloads-interface", project)
    assert found.fix is not None
    value = math.floor(MOST_V * 100.0) / 100.0
    assert found.fix.edits == (
        SetMove("one", 1, "voice.level", value, 2, 1.0, 2.0, value, "left", "up"),
        SetMove("two", 1, "voice.level", value, 2, 1.0),
    )
    assert not findings("set-overloads-interface", apply_edits(project, found.fix.edits))


def test_a_gain_that_drives_into_the_rails_goes_only_so_far() -> None:
    """6 V * 100/101 into a gain g: half a decibel below 11 V is 10.384 V, so g is at most 1.748."""
    found = only("set-drives-into-rails", play.boosted_alone(1.9))
    assert found.fix is not None
    assert found.fix.edits == (SetMove("only", 1, "mix.level-1", 1.74, 2, 1.0, 1.0),)


def test_a_section_that_begins_too_loud_begins_softer() -> None:
    loud = Passage("loud", bars=2, settings=(Settings("voice.level", 5.0),))
    found = only("set-overloads-interface", levelled(Passage("soft", bars=2), loud))
    assert found.fix is not None
    value = math.floor(MOST_V * 100.0) / 100.0
    assert found.fix.edits == (SetPassageControl("loud", "voice.level", value),)


def test_a_fader_that_the_set_plays_over_midi_goes_only_so_far() -> None:
    """The last move up is the fader's; the mended sound is played."""
    project = play.faded(0.9)
    found = only("set-overloads-interface", project)
    assert found.fix is not None
    (edit,) = found.fix.edits
    assert isinstance(edit, SetMove)
    assert edit.control == "faders.f1"
    mended = flatten(apply_edits(project, found.fix.edits))
    row = mended.contact("desk.in-1").row
    heard_v = np.abs(render(mended, 6.0, probes=[row], events=timeline(mended).events)).max()
    # A fader's 128 steps and the last digit leave it a little lower.
    assert 3.464102 * 10.0 ** (-1.5 / 20.0) < heard_v <= 3.464102 * 10.0 ** (-1.0 / 20.0) * 1.002


def test_reading_what_changed_is_reading_it_all() -> None:
    """Gone on from moment to moment or read afresh, the levels are the same: a second, slower computation."""
    moves = (
        Move("mix.level-1", 0.25, bar=1, beats=8.0),
        Move("mix.level-2", 1.5, bar=2, beats=2.0),
        Move("voice-1.level", 1.0, bar=3, beats=1.0),
    )
    project = replace(
        play.two_voices(3.0, 2.0, 0.5),
        setlist=Setlist("tiny", sections=(Passage("only", bars=4, moves=moves),)),
    )
    bench = Bench.of(project)
    when = moments(bench.net, timeline(bench.net))
    assert [m.bar for m in when] == [1, 2, 3, 3]
    for moment, levels in levels_over(bench.net, bench.readings.volts, when):
        afresh = read_level(net_at(bench.net, moment.controls), volts=bench.readings.volts)
        assert list(levels) == list(afresh)


def test_a_control_on_its_way_stands_in_between() -> None:
    """A glide from 1 to 0 over bars 1 and 2 stands at a half when a section begins with bar 2."""
    project = rigs.project(
        {"mix": rigs.mixer()},
        setlist=Setlist(
            "tiny",
            sections=(
                Passage("one", bars=1, moves=(Move("mix.level-1", 0.0, beats=8.0),)),
                Passage("two", bars=2),
            ),
        ),
    )
    net = flatten(project)
    found = {m.passage: m.controls["mix.level-1"] for m in reversed(moments(net, timeline(net)))}
    assert found == {"one": 1.0, "two": pytest.approx(0.5)}
