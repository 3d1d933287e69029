"""The tour: what is said is what the net holds, on small rigs that can be read by eye and on the demo."""

from __future__ import annotations

from dataclasses import replace

from rigproof.model.patch import Filling, Map
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import Slot, SlotTakes
from rigproof.net.flatten import flatten
from rigproof.readings.proof import read
from rigproof.readings.tour import markdown, tour, voices
from tests.checks import play_cases as play
from tests.checks import rigs
from tests.readings.fader_rig import fader_net


def said(stops: object, heading: str) -> tuple[str, ...]:
    """What is said at one stop."""
    return next(s.says for s in stops if s.heading == heading)  # type: ignore[attr-defined]


def test_a_fader_opens_what_it_opens() -> None:
    """A fader over MIDI into a bridge whose voltage opens the amplifier of the only voice."""
    found = tour(read(fader_net()))
    (heading,) = [s.heading for s in found.stops if s.heading.startswith("Voice: ")]
    says = said(found.stops, heading)
    assert "faders.f5 under the hand: loudness, at amp.v." in says
    assert any(s.startswith("From there it runs through amp") for s in says)


def test_a_duck_and_its_clock() -> None:
    """Quarter notes fire the envelope that pushes the voice's amplifier down; the voice stands alone."""
    found = tour(read(flatten(play.ducking(0.3))))
    assert said(found.stops, "Time")[0] == "clock (clock) beats for all: clock.out-1 (once a beat)."
    says = said(found.stops, "Voice: voice")
    assert says[0] == "It comes from voice (voice)."
    assert says[1] == "From there it runs through duck (duck)."


def test_a_send_is_told_from_a_fader() -> None:
    """The voice goes to the desk by itself, and through an amplifier under a fader to an echo: that is a send."""
    sheets = {
        "faders": rigs.faders(1),
        "bridge": rigs.bridge(1),
        "voice": rigs.voice(level_v=2.0),
        "send": rigs.vca("send"),
        "echo": rigs.echo(),
        "mix": rigs.mixer(),
        "desk": rigs.interface(),
    }
    cables = [
        ("faders.midi", "bridge.midi"),
        ("bridge.cv-1", "send.cv"),
        ("voice.sine", "send.in"),
        ("send.out", "echo.left-in"),
        ("echo.left", "mix.in-2"),
        ("mix.out", "desk.in-1"),
    ]
    maps = [Map("faders.f1", 20, 1, ("bridge.cc-1",))]
    both = rigs.project(sheets, [*cables, ("voice.sine", "mix.in-1")], maps=maps)
    says = said(tour(read(flatten(both))).stops, "Voice: voice")
    assert "faders.f1 under the hand: how much goes on to echo, at send.vca." in says
    alone = rigs.project(sheets, cables, maps=maps)
    says = said(tour(read(flatten(alone))).stops, "Voice: voice")
    assert "faders.f1 under the hand: loudness, at send.vca." in says


def test_chance_is_how_often_it_plays() -> None:
    """A sequencer's chance, moved in the set, is told where it ends: at the voice that it fires."""
    project = play.by_chance(0.5)
    moves = (Move("seq.chance", 0.9, bar=2, beats=4.0, hand="left", note="more of it"),)
    sung = replace(
        project,
        setlist=Setlist(
            "tiny", sections=(Passage("only", title="All of it", bars=4, moves=moves),)
        ),
    )
    found = tour(read(flatten(sung)))
    assert said(found.stops, "Section: All of it") == (
        "4 bars at 120 beats a minute, 8 s.",
        "Bar 2, left hand: More of it: seq.chance to 0.9.",
    )


def test_what_no_ear_hears_is_no_voice() -> None:
    project = rigs.project(
        {
            "voice-1": rigs.voice("voice-1"),
            "voice-2": rigs.voice("voice-2"),
            "desk": rigs.interface(),
        },
        [("voice-1.sine", "desk.in-1"), ("voice-2.sine", "voice-1.pitch")],
    )
    assert [v.name for v in voices(read(flatten(project)))] == ["voice-1"]


def test_markdown_holds_what_a_file_says_and_no_more() -> None:
    """Names from files cannot make headings, links or code of themselves."""
    project = play.ducking(0.3)
    odd = replace(project, rig=replace(project.rig, name="# [x](y) `z`\n\n# \x1b[2J"))
    lines = markdown(tour(read(flatten(odd)))).splitlines()
    assert lines[4].startswith("- \\# \\[x\\](y) \\`z\\` \\# \\[2J: 4 modules")
    assert sum(line.startswith("# ") for line in lines) == 1


def test_a_filled_rhythm_changes_what_is_told() -> None:
    """Eight hits in sixteen sixteenths are twice a beat."""
    project = play.by_chance(1.0)
    seq = replace(
        project.sheets["seq"], slots={"rhythm": Slot("rhythm", SlotTakes.RHYTHM, ("seq",))}
    )
    filled = replace(
        project,
        sheets={**project.sheets, "seq": seq},
        patch=replace(
            project.patch, rhythms=(Filling("seq.rhythm", {"steps": "x.x.x.x.x.x.x.x."}),)
        ),
    )
    says = said(tour(read(flatten(filled))).stops, "Time")
    assert says[1] == "clock.out-1 steps seq (seq), which gives seq.gate (2 times a beat)."


def test_a_patch_that_nobody_hears_is_told_so() -> None:
    found = tour(read(flatten(rigs.project({"clock": rigs.clock((1, 1))}))))
    assert found.stops[0].says[1] == "Nothing can be heard: no sound reaches the way out."
