"""Faults that show in time, in the hand or in the level: the set of each rig, its rhythms and what is loud."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.model.edits import AddCable, RemoveCable, Replug, SetControl, SetRhythm
from rigproof.model.patch import Cable
from rigproof.model.setlist import Move
from tests.faultbench.faults import (
    Fault,
    begun_with,
    beside,
    both,
    box_says,
    edited,
    fitted,
    jack_says,
    moved,
    played_too,
    plugged,
    pulled,
    section_says,
    set_wrong,
)


def small_in_play() -> Iterator[Fault]:
    """The two lanterns, played."""
    rig = "small"
    yield from _rhythm(rig)
    yield from _levels(rig)
    yield from _hands(rig)
    yield from _messages(rig)


def _rhythm(rig: str) -> Iterator[Fault]:
    """Time: resets, swing, divisions, chance, echoes, ducks."""
    late = both(
        fitted("lag", "dual-slew", 1, 70),
        edited(
            Replug("clock.reset", "beat.reset", "clock.reset", "lag.in-1"),
            AddCable(Cable("lag.out-1", "beat.reset")),
            SetControl("lag.rise-1", 0.01),
        ),
    )
    yield Fault(rig, "reset through a slew", late, "reset-after-clock", "beat.reset")
    alone = both(
        fitted("keys", "midi-note-cv", 1, 62),
        fitted("second", "clock-6", 1, 72),
        edited(
            AddCable(Cable("keys.run", "clock.run")),
            AddCable(Cable("second.quarter", "lfo.clock-1")),
        ),
    )
    yield Fault(rig, "a second clock that nobody stops", alone, "run-left-open", "second.run")
    twice = both(
        fitted("shuffle", "clock-tools", 1, 70),
        edited(
            SetControl("clock.swing", 0.6),
            Replug("clock.sixteenth", "beat.clock", "clock.sixteenth", "shuffle.clock"),
            AddCable(Cable("shuffle.swung", "beat.clock")),
            SetControl("shuffle.swing", 0.6),
        ),
    )
    yield Fault(rig, "swing on swing", twice, "swing-applied-twice", "shuffle.shuffle")
    thirds = both(
        fitted("slower", "clock-tools", 1, 70),
        edited(
            Replug("clock.sixteenth", "beat.clock", "clock.sixteenth", "slower.clock"),
            AddCable(Cable("slower.slower-3", "env.trig-2")),
            AddCable(Cable("clock.sixteenth", "beat.clock")),
            RemoveCable("notes.gate", "env.trig-2"),
            SetControl("slower.divide-3", 3),
        ),
    )
    yield Fault(rig, "every third sixteenth", thirds, "division-slides-pattern", "slower.slower-3")
    rare = edited(
        SetRhythm("beat.rhythm-1", "steps", "x" + "." * 63), SetControl("beat.chance-1", 0.1)
    )
    yield Fault(rig, "a rare hit by chance", rare, "pattern-may-stay-away", "beat.track-1")
    free = edited(SetControl("echo.sync", "free"), SetControl("echo.time", 0.34))
    yield Fault(rig, "echo left running free", free, "echo-off-the-grid", "echo.echo")
    close = edited(SetControl("echo.sync", "free"), SetControl("echo.time", 0.012))
    yield Fault(rig, "echo of 12 ms", close, "sound-meets-itself", "submix.mix-left")
    down = edited(
        AddCable(Cable("env.env-1-too", "submix.duck")),
        SetControl("submix.duck", -0.9),
        SetControl("env.decay-1", 8.0),
    )
    yield Fault(rig, "a duck of eight seconds", down, "duck-stays-down", "submix.vca-left")


def _levels(rig: str) -> Iterator[Fault]:
    """Level: what clips, what is lost."""
    slow = plugged("lfo.sine-2", "submix.right-4")
    yield Fault(rig, "slow wave into the submix", slow, "cv-on-the-sound-path", "submix.right-4")
    plugs = plugged("lfo.sine-2", "lfo.square-2")
    yield Fault(rig, "output into output", plugs, "outputs-joined", "lfo.sine-2 and lfo.square-2")
    held = both(
        fitted("shift", "attenuverter-4", 1, 70),
        edited(
            Replug("beat.trig-1", "env.trig-1", "shift.out-1", "env.trig-1"),
            AddCable(Cable("beat.trig-1", "shift.in-1")),
            SetControl("shift.amount-1", 0.5),
            SetControl("shift.offset-1", 3.0),
        ),
    )
    yield Fault(rig, "trigger lifted by 3 V", held, "gate-never-falls", "env.trig-1")
    tender = section_says("desk.left", "full-scale", "-8 dBu")
    yield Fault(rig, "desk turned up to -8 dBu", tender, "interface-overloaded", "desk.left")
    ready = section_says("desk.left", "full-scale", "1 dBu")
    yield Fault(rig, "desk turned up to 1 dBu", ready, "interface-can-clip", "desk.left")
    small = jack_says("submix.left-1", range_v=(-4.6, 4.6))
    yield Fault(rig, "a channel for 4.6 V", small, "input-can-clip", "submix.left-1")
    yield from set_wrong(rig, ("submix.level-3", 0.001, "voice-lost-in-mix", "submix.left-3"))
    steady = both(
        jack_says("desk.left", is_ac_coupled=False),
        fitted("shift", "attenuverter-4", 1, 70),
        edited(
            Replug("out.line-left", "desk.left", "shift.out-1", "desk.left"),
            SetControl("shift.offset-1", 2.0),
        ),
    )
    yield Fault(rig, "a steady voltage to the desk", steady, "dc-on-audio", "desk.left")
    up = both(
        section_says("desk.left", "full-scale", "2 dBu"),
        section_says("desk.right", "full-scale", "2 dBu"),
        played_too("second", Move("out.master", 1.0, bar=1, beats=4.0)),
    )
    yield Fault(rig, "the master up in the last bars", up, "set-overloads-interface", "desk.left")
    yield Fault(rig, "the desk within a hair", up, "clips-with-all-up", "patch")
    loud = both(
        section_says("desk.left", "full-scale", "0.5 dBu"),
        played_too(
            "second",
            Move("submix.level-1", 1.0, bar=1, beats=4.0),
            Move("submix.level-2", 1.0, bar=3, beats=4.0),
        ),
    )
    yield Fault(rig, "two channels up at the end", loud, "set-overloads-interface", "desk.left")


def _hands(rig: str) -> Iterator[Fault]:
    """Two hands."""
    third = played_too(
        "first",
        Move("echo.feedback", 0.6, bar=10, beats=4.0, hand="left"),
        Move("ladder.cutoff", 300.0, bar=10, beats=4.0, hand="right"),
    )
    yield Fault(
        rig, "three knobs at once", third, "third-hand-needed", "first bar 10 beat 1: ladder.cutoff"
    )
    quick = played_too(
        "first", Move("echo.feedback", 0.5, bar=11, beat=1.25, beats=4.0, hand="right")
    )
    idle = played_too("first", Move("vcas.level-4", 0.6, bar=12, beats=2.0, hand="right"))
    yield Fault(
        rig,
        "an amplifier into which nothing is plugged",
        idle,
        "move-unheard",
        "first bar 12 beat 1: vcas.level-4",
    )
    yield Fault(
        rig,
        "from level to feedback in no time",
        quick,
        "reach-too-quick",
        "first bar 11 beat 1.25: echo.feedback",
    )


def _messages(rig: str) -> Iterator[Fault]:
    """What goes down the lines."""
    stranger = both(
        section_says("bridge.cc-2", "number", 20),
        edited(AddCable(Cable("bridge.out-2", "echo.feedback-cv"))),
    )
    yield Fault(
        rig, "second voltage on the same number", stranger, "message-moves-a-stranger", "faders.f1"
    )
    stepping = moved("notes.pitch", "lead.pitch", new_source="bridge.out-1")
    yield Fault(rig, "fader into a pitch", stepping, "steps-will-be-heard", "bridge.cc-1")
    round_ = both(
        fitted("merge", "midi-merger-3", 1, 70),
        edited(
            AddCable(Cable("bridge.midi-out", "merge.in-a")),
            AddCable(Cable("merge.out-din", "merge.in-din")),
        ),
    )
    yield Fault(rig, "merger into itself", round_, "midi-loop", "merge.out-din to merge.in-din")
    mono = both(
        fitted("ears", "headphone-out", 1, 70),
        beside("recorder", "pocket-recorder"),
        box_says("stereo-3.5", 100, 1),
        edited(
            AddCable(Cable("submix.out-left", "ears.left")),
            AddCable(Cable("ears.phones", "recorder.line", lead="mono-3.5")),
        ),
    )
    yield Fault(
        rig,
        "mono lead to the recorder",
        mono,
        "mono-plug-in-stereo-jack",
        "ears.phones to recorder.line",
    )


def demo_in_play() -> Iterator[Fault]:
    """The demo, played."""
    at_once = begun_with("fog-bank", {f"faders.f{i}": 1.0 for i in (1, 2, 6, 7)})
    yield Fault(
        "demo",
        "four faders at once",
        at_once,
        "messages-bunch-up",
        "bridge.midi-out to sampler.midi-in",
    )


def large_in_play() -> Iterator[Fault]:
    """The sixty lanterns, played."""
    rig = "large"
    yield Fault(
        rig,
        "no reset for block 2",
        pulled("mult-2.b-2", "beat-2.reset"),
        "reset-left-open",
        "beat-2.reset",
    )
    loop = edited(
        AddCable(Cable("mix-1.out", "mix-1.in-3")),
        Replug("osc-1.pulse", "mix-1.in-4", "mix-1.out", "mix-1.in-4"),
        SetControl("mix-1.level-4", 0.8),
    )
    rails = both(
        edited(AddCable(Cable("sub-3.sine", "mix-3.in-3"))),
        played_too(
            "bright",
            Move("mix-3.level-1", 1.0, bar=3, beats=4.0, hand="right"),
            Move("mix-3.level-2", 1.0, bar=5, beats=4.0, hand="right"),
        ),
    )
    yield Fault(rig, "both oscillators up at the end", rails, "set-drives-into-rails", "mix-3.out")
    yield Fault(rig, "mixer 1 into itself twice", loop, "loop-gain-over-one", "mix-1.out")


PLAYED: tuple[Fault, ...] = (*small_in_play(), *demo_in_play(), *large_in_play())
