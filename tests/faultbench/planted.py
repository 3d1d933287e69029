"""Every fault that is planted: rig by rig, with the finding that has to name it and the place where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rigproof.model.edits import (
    AddCable,
    HangOnBoard,
    SetBoardLead,
    SetCableLead,
    SetControl,
    SetMap,
    SetMoveLength,
    SetRhythm,
)
from rigproof.model.patch import Cable
from rigproof.model.project import Project
from rigproof.model.sheet import Plug
from tests.faultbench.faults import (
    Fault,
    both,
    edited,
    fit_faults,
    jack_says,
    joined,
    lengths,
    mapped_too,
    moved,
    opened,
    plugged,
    power_faults,
    pulled,
    second_controller,
    set_wrong,
    sheet_says,
    supply_says,
    taut,
    told_wrong,
)
from tests.faultbench.planted_in_play import PLAYED


def small_faults() -> Iterator[Fault]:
    """The two lanterns."""
    rig = "small"
    yield from power_faults(rig, "lfo")
    pairs = (("clock", "beat"), ("env", "lfo"), ("bass", "lead"), ("echo", "submix"))
    yield from fit_faults(rig, pairs, "out")

    # boards
    def tight(p: Project) -> Project:
        assert p.rig.supply is not None
        upper, lower = p.rig.supply.boards
        return supply_says(boards=(replace(upper, limit_ma={"+12V": 300.0}), lower))(p)

    yield Fault(rig, "fuse of 300 mA on the upper board", tight, "board-overloaded", "upper +12V")

    def forgotten(p: Project) -> Project:
        assert p.rig.supply is not None
        upper, lower = p.rig.supply.boards
        without = tuple(m for m in lower.modules if m != "echo")
        return supply_says(boards=(upper, replace(lower, modules=without)))(p)

    yield Fault(rig, "echo on no board", forgotten, "module-on-no-board", "echo")
    thin = edited(SetBoardLead("lower", 0.01))
    yield Fault(rig, "hair-thin lead to the lower board", thin, "board-lead-sags", "lower")
    lower = ("bass", "lead", "ladder", "vcas", "echo", "submix", "out")
    crowd = edited(*(HangOnBoard(m, "upper") for m in lower))
    yield Fault(rig, "all on the upper board", crowd, "board-overloaded", "upper +12V")

    # cables
    yield from joined(
        rig,
        ("bass.pulse", "ladder.in", "bass.saw and bass.pulse"),
        ("lfo.sine-2", "vcas.cv-1", "env.env-1 and lfo.sine-2"),
        ("bridge.out-2", "lead.pitch", "notes.pitch and bridge.out-2"),
        ("lead.sine", "out.left-1", "lead.sine and submix.out-left"),
    )
    yield from opened(
        rig,
        ("clock.sixteenth", "beat.clock"),
        ("beat.trig-2", "notes.clock"),
        ("bass.saw", "ladder.in"),
        ("vcas.out-2", "echo.left"),
        ("out.line-right", "desk.right"),
    )
    yield Fault(
        rig,
        "two inputs joined",
        plugged("echo.time-cv", "echo.feedback-cv"),
        "cable-without-source",
        "echo.time-cv to echo.feedback-cv",
    )
    yield Fault(
        rig,
        "the same cable twice",
        plugged("env.env-1", "vcas.cv-1"),
        "same-cable-twice",
        "env.env-1 to vcas.cv-1",
    )
    yield Fault(
        rig,
        "filter pulled",
        pulled("vcas.out-1", "submix.left-1"),
        "voice-without-way-out",
        "ladder",
    )
    yield Fault(
        rig,
        "lead pulled",
        pulled("lead.triangle", "vcas.in-2"),
        "signal-ends-nowhere",
        "notes.pitch",
    )
    yield Fault(
        rig,
        "envelope pulled",
        pulled("env.env-2", "vcas.cv-2"),
        "signal-ends-nowhere",
        "notes.gate",
    )
    yield from told_wrong(
        rig,
        ("notes.pitch", {"resistance_ohm": 1_000.0}, "pitch-line-droop"),
        ("ladder.cutoff-cv-2", {"range_v": (-1.0, 1.0)}, "cv-overdrives"),
        ("vcas.cv-3", {"is_ac_coupled": True}, "steady-voltage-blocked"),
        ("ladder.cutoff-cv-2", {"is_ac_coupled": True}, "steady-voltage-blocked"),
        ("env.trig-1", {"threshold_v": 6.0}, "gate-below-threshold"),
        ("beat.clock", {"threshold_v": 5.5}, "gate-below-threshold"),
        ("env.trig-1", {"min_pulse_s": 0.05}, "gate-too-short"),
        ("beat.clock", {"min_pulse_s": 0.02}, "gate-too-short"),
        ("ladder.in", {"range_v": (-1.0, 1.0)}, "input-overdriven"),
        ("vcas.in-2", {"range_v": (-2.0, 2.0)}, "input-overdriven"),
    )
    device = jack_says("bridge.usb", plug=Plug.USB_DEVICE)
    yield Fault(rig, "two USB devices", device, "usb-ends-alike", "faders.usb to bridge.usb")
    hungry = jack_says("faders.usb", usb_ma=600.0)
    yield Fault(rig, "600 mA of lamps", hungry, "usb-port-overdrawn", "bridge.usb")
    second = second_controller("fader-box-8", "second.usb", "bridge.usb")
    yield Fault(rig, "two controllers in one port", second, "midi-line-shared", "bridge.usb")
    yield from lengths(
        rig,
        (
            ("notes.pitch", "lead.pitch"),
            ("env.env-1", "vcas.cv-1"),
            ("bass.saw", "ladder.in"),
            ("bridge.out-1", "vcas.cv-3"),
        ),
        (("mono-3.5", 30, 5), ("mono-3.5", 45, 3), ("usb", 100, 0), ("line-6.3", 300, 1)),
    )

    yield from taut(rig, ("notes.pitch", "lead.pitch"), ("lfo.sine-1", "ladder.cutoff-cv-2"))
    # copies
    yield from set_wrong(
        rig,
        ("echo.mix", 0.5, "dry-comes-twice", "echo.echo"),
        ("echo.feedback", 1.05, "echo-never-fades", "echo.echo"),
        ("echo.beats-left", "1/1", "echo-longer-than-memory", "echo.echo.left"),
    )
    yield Fault(
        rig,
        "lead only through the echo",
        pulled("vcas.out-2", "submix.left-2"),
        "echo-without-its-sound",
        "echo.echo",
    )
    yield Fault(
        rig,
        "right side of the mix pulled",
        pulled("submix.out-right", "out.right-1"),
        "stereo-side-lost",
        "submix.out-right",
    )

    # control and clocks
    yield Fault(
        rig,
        "wave into an amplifier",
        moved("env.env-1", "vcas.cv-1", new_source="lfo.sine-2"),
        "bipolar-into-unipolar",
        "vcas.cv-1",
    )
    yield Fault(
        rig,
        "clock from the DIN jack",
        moved("clock.sixteenth", "beat.clock", new_source="clock.din"),
        "clock-rate-unexpected",
        "beat.clock",
    )
    yield Fault(
        rig,
        "echo on quarters",
        moved("clock.sixteenth-straight", "echo.clock", new_source="clock.quarter"),
        "clock-rate-unexpected",
        "echo.clock",
    )
    yield Fault(
        rig,
        "envelope without its trigger",
        pulled("beat.trig-1", "env.trig-1"),
        "trigger-never-comes",
        "env.trig-1",
    )
    rests = edited(SetRhythm("beat.rhythm-1", "steps", "." * 16))
    yield Fault(rig, "a pattern of rests", rests, "trigger-never-comes", "env.trig-1")
    odd = edited(
        SetRhythm("beat.rhythm-1", "steps", "x..x..x...x"),
        SetRhythm("beat.rhythm-2", "steps", "x" * 13),
    )
    yield Fault(rig, "eleven against thirteen", odd, "pattern-never-meets", "patch")

    yield Fault(
        rig,
        "envelope at a gate too high for it",
        both(
            moved("beat.trig-1", "env.trig-1", new_source="env.env-2-too"),
            jack_says("env.trig-1", threshold_v=5.5),
        ),
        "gate-below-threshold",
        "env.trig-1",
    )
    yield from set_wrong(
        rig,
        ("out.master", 0.001, "interface-too-quiet", "desk.right"),
        ("out.master", 0.0, "way-out-silent", "desk.left"),
    )

    # hands and messages
    def left_at_once(p: Project) -> Project:
        assert p.setlist is not None
        first, second = p.setlist.sections
        move = replace(first.moves[1], hand="left", bar=4)
        moves = (first.moves[0], move)
        return replace(
            p, setlist=replace(p.setlist, sections=(replace(first, moves=moves), second))
        )

    at = "first bar 4 beat 1: submix.level-2"
    yield Fault(rig, "left hand in two places", left_at_once, "hand-at-two-controls", at)

    def elsewhere(p: Project) -> Project:
        assert p.setlist is not None
        first, second = p.setlist.sections
        moves = (replace(second.moves[0], start=0.9),)
        return replace(
            p, setlist=replace(p.setlist, sections=(first, replace(second, moves=moves)))
        )

    at = "second bar 9 beat 1: faders.f1"
    yield Fault(rig, "a fader that stands elsewhere", elsewhere, "control-jumps-in-set", at)

    twice = mapped_too("faders.f2", 20)
    yield Fault(rig, "two faders on one number", twice, "cc-sent-twice", "faders.f2")
    again = mapped_too("faders.f1", 33, "bridge.cc-1")
    yield Fault(rig, "one fader mapped twice", again, "map-overruled", "faders.f1")
    unheard = pulled("faders.usb", "bridge.usb")
    yield Fault(rig, "controller not plugged", unheard, "cc-unheard", "faders.f1")
    reserved = edited(SetMap("faders.f1", 121))
    yield Fault(rig, "fader on a reset number", reserved, "cc-number-reserved", "faders.f1")

    def other_channel(p: Project) -> Project:
        sections = p.sheets["midi-cv-12"].sections
        bridge = replace(sections["cc-1"], values={**sections["cc-1"].values, "number": 20})
        told = sheet_says("bridge", sections={**sections, "cc-1": bridge})(p)
        maps = (replace(told.patch.maps[0], channel=2, to=()),)
        return replace(told, patch=replace(told.patch, maps=maps))

    yield Fault(rig, "fader on channel 2", other_channel, "midi-channels-differ", "faders.f1")


def demo_faults() -> Iterator[Fault]:
    """The demo; what no set can show is planted in it without its set, which takes half the time."""
    rig = "case"
    yield from power_faults(rig, "echo")
    yield from fit_faults(rig, (("clock", "rhythm"), ("ladder", "pad"), ("sends", "echo")), "out")
    yield from joined(
        rig,
        ("bass.pulse", "ladder.in", "bass.saw and bass.pulse"),
        ("bridge.out-12", "bass.pitch", "notes.pitch and bridge.out-12"),
        ("lfo.square-1", "vcas.cv-2", "lfo.square-1 and bridge.out-1"),
    )
    yield from opened(
        rig, ("bass.saw", "ladder.in"), ("sends.mix", "echo.left"), ("rhythm.trig-4", "notes.clock")
    )
    yield Fault(
        rig,
        "ribbon not fitted",
        pulled("sampler.ribbon", "outs.ribbon"),
        "link-not-fitted",
        "outs.ribbon",
    )
    crossed = edited(SetCableLead("bridge.midi-out", "sampler.midi-in", "midi-crossed"))
    line = "bridge.midi-out to sampler.midi-in"
    yield Fault(rig, "crossed MIDI lead", crossed, "midi-types-crossed", line)
    mono = edited(SetCableLead("bridge.midi-out", "sampler.midi-in", "mono-3.5"))
    yield Fault(rig, "mono MIDI lead", mono, "midi-types-crossed", line)
    din = jack_says("sampler.midi-in", plug=Plug.MIDI_DIN)
    yield Fault(rig, "DIN where TRS was thought", din, "connectors-unlike", line)
    hungry = jack_says("faders.usb", usb_ma=600.0)
    yield Fault(rig, "600 mA of lamps", hungry, "usb-port-overdrawn", "bridge.usb")
    yield Fault(
        rig,
        "the same cable twice",
        plugged("env.env-1", "vcas.cv-1"),
        "same-cable-twice",
        "env.env-1 to vcas.cv-1",
    )
    yield from told_wrong(
        rig,
        ("shape.in-2", {"is_ac_coupled": True}, "steady-voltage-blocked"),
        ("notes.pitch", {"resistance_ohm": 1_000.0}, "pitch-line-droop"),
        ("env.trig-1", {"threshold_v": 6.0}, "gate-below-threshold"),
        ("sampler.trig-2", {"min_pulse_s": 0.05}, "gate-too-short"),
    )
    yield from taut(rig, ("notes.pitch", "bass.pitch"), ("env.env-1", "vcas.cv-1"))
    yield from lengths(
        rig,
        (("notes.pitch", "bass.pitch"), ("roots.pitch", "pad.pitch"), ("bass.saw", "ladder.in")),
        (("mono-3.5", 45, 20), ("mono-3.5", 90, 1), ("usb", 100, 0)),
    )
    rig = "demo"
    yield from set_wrong(
        rig,
        ("echo.mix", 0.4, "dry-comes-twice", "echo.echo"),
        ("shape.amount-1", 0.1, "cv-covers-part-of-range", "sampler.select-4"),
        ("shape.offset-2", 0.0, "bipolar-into-unipolar", "sampler.select-5"),
        ("echo.beats-left", "1/1", "echo-longer-than-memory", "echo.echo.left"),
    )
    yield Fault(
        rig,
        "left side of the mix pulled",
        pulled("submix.out-left", "out.left-1"),
        "stereo-side-lost",
        "submix.out-left",
    )
    yield Fault(
        rig,
        "clock from the DIN jack",
        moved("clock.sixteenth-straight", "echo.clock", new_source="clock.din"),
        "clock-rate-unexpected",
        "echo.clock",
    )
    for control, other in (("f2", 30), ("k8", 20)):
        yield Fault(
            rig,
            f"{control} on number {other}",
            edited(SetMap(f"faders.{control}", other)),
            "cc-sent-twice",
            f"faders.{control}",
        )

    def buried(p: Project) -> Project:
        assert p.setlist is not None
        first, *rest = p.setlist.sections
        move = replace(first.moves[1], control="sends.level-1", to=0.5)
        moves = (first.moves[0], move, *first.moves[2:])
        return replace(p, setlist=replace(p.setlist, sections=(replace(first, moves=moves), *rest)))

    yield Fault(rig, "a knob behind cables", buried, "control-under-cables", "sends.level-1")
    rush = edited(SetMoveLength("slack-water", 2, 0.05))
    yield Fault(rig, "bells all at once", rush, "midi-line-overrun", line)
    yield Fault(
        rig, "fader on 123", edited(SetMap("faders.f5", 123)), "cc-number-reserved", "faders.f5"
    )
    yield Fault(
        rig,
        "MIDI to the sampler pulled",
        pulled("bridge.midi-out", "sampler.midi-in"),
        "cc-unheard",
        "faders.f2",
    )


def large_faults() -> Iterator[Fault]:
    """Sixty lanterns, a fault in each block in turn."""
    rig = "large"
    yield from power_faults(rig, "lfo-3")
    pairs = (("env-1", "lfo-1"), ("osc-2", "sub-2"), ("vcas-4", "echo-4"))
    yield from fit_faults(rig, pairs, "out-2")
    eater = both(
        sheet_says("echo-4", draw_ma={"+12V": 2100.0}),
        supply_says(rails_ma={"+12V": 9e4, "-12V": 9e4}),
    )
    yield Fault(rig, "2.1 A through one ribbon", eater, "bus-ribbon-overloaded", "echo-4 +12V")
    yield from joined(
        rig,
        ("sub-1.pulse", "mix-1.in-1", "osc-1.saw and sub-1.pulse"),
        ("lfo-3.sine-2", "vcas-3.cv-1", "env-3.env-1 and lfo-3.sine-2"),
    )
    yield from opened(
        rig,
        ("mult-2.a-2", "beat-2.clock"),
        ("mix-3.out", "ladder-3.in"),
        ("vcas-4.mix", "echo-4.left"),
    )
    for b in (1, 3):
        upside = edited(
            AddCable(Cable(f"osc-{b}.saw", f"shape-{b}.in-2")),
            AddCable(Cable(f"shape-{b}.out-2", f"mix-{b}.in-3")),
            SetControl(f"shape-{b}.amount-2", -1.0),
            SetControl(f"mix-{b}.level-3", 0.4),
        )
        yield Fault(rig, f"copy upside down in {b}", upside, "copies-cancel", f"mix-{b}.mix")
    yield Fault(
        rig,
        "mixer of block 2 pulled",
        pulled("mix-2.out", "ladder-2.in"),
        "voice-without-way-out",
        "osc-2",
    )
    yield Fault(
        rig,
        "envelope of block 4 pulled",
        pulled("env-4.env-2", "vcas-4.cv-2"),
        "signal-ends-nowhere",
        "notes-4.gate",
    )
    yield Fault(
        rig,
        "right side of block 2 pulled",
        pulled("submix-2.out-right", "out-1.right-2"),
        "stereo-side-lost",
        "submix-2.out-right",
    )
    yield from set_wrong(
        rig,
        ("echo-3.mix", 0.5, "dry-comes-twice", "echo-3.echo"),
        ("echo-1.feedback", 1.08, "echo-never-fades", "echo-1.echo"),
        ("echo-2.beats-right", "1/1", "echo-longer-than-memory", "echo-2.echo.right"),
    )
    yield from told_wrong(
        rig,
        ("shape-2.in-1", {"is_ac_coupled": True}, "steady-voltage-blocked"),
        ("notes-4.pitch", {"resistance_ohm": 1_000.0}, "pitch-line-droop"),
        ("env-2.trig-1", {"threshold_v": 6.0}, "gate-below-threshold"),
        ("env-1.trig-1", {"min_pulse_s": 0.05}, "gate-too-short"),
    )
    yield Fault(
        rig,
        "block 3 clocked by its reset",
        moved("mult-3.a-2", "beat-3.clock", new_source="clock.din"),
        "clock-rate-unexpected",
        "beat-3.clock",
    )
    loop = edited(AddCable(Cable("mix-1.out", "mix-1.in-3")), SetControl("mix-1.level-3", 1.0))
    yield Fault(rig, "mixer 1 into itself", loop, "output-clips", "mix-1.out")
    yield Fault(
        rig, "f3 on number 20", edited(SetMap("faders.f3", 20)), "cc-sent-twice", "faders.f3"
    )
    yield Fault(
        rig,
        "wave into an amplifier",
        moved("env-2.env-1", "vcas-2.cv-1", new_source="lfo-2.sine-2"),
        "bipolar-into-unipolar",
        "vcas-2.cv-1",
    )


FAULTS: tuple[Fault, ...] = (*small_faults(), *demo_faults(), *large_faults(), *PLAYED)
