"""For every check of mix, rhythm and gestures a rig that trips it and one that nearly does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.model.patch import Map, Settings
from rigproof.model.project import Project
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import (
    Control,
    ControlShape,
    Housing,
    Jack,
    Plug,
    Sheet,
    Signal,
    Slot,
    SlotTakes,
    Way,
)
from tests.checks import rigs

# --- mix -------------------------------------------------------------------------------------------------------------


def two_voices(first_v: float, second_v: float, gain: float = 1.0) -> Project:
    """Two voices into a mixer and the desk; the second comes through its own gain."""
    return rigs.project(
        {
            "voice-1": rigs.voice("voice-1", first_v),
            "voice-2": rigs.voice("voice-2", second_v),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-2"), ("mix.out", "desk.in-1")],
        settings={"mix.level-2": gain},
    )


def rising(level_v: float, *, full_scale_dbu: float = 10.0) -> Project:
    """A voice through a mixer to the desk; a move of the set brings it from 2 V to a level."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=2.0),
            "mix": rigs.mixer(ways=1),
            "desk": rigs.interface(full_scale_dbu=full_scale_dbu),
        },
        [("voice.sine", "mix.in-1"), ("mix.out", "desk.in-1")],
        setlist=rigs.playing("voice.level", 2.0, level_v, 1.0),
    )


def faded(to: float) -> Project:
    """A voice of 6 V through an amplifier that a fader opens over MIDI, up to 5 V of its 5; the set brings it up."""
    return rigs.project(
        {
            "faders": panel(1),
            "bridge": rigs.bridge(1),
            "voice": rigs.sheet(
                "voice",
                [rigs.jack_out("sine", "osc.sine")],
                {"osc": ("oscillator", {"level": 6.0})},
            ),
            "vca": rigs.vca(),
            "desk": rigs.interface(full_scale_dbu=10.0),
        },
        [
            ("faders.midi", "bridge.midi"),
            ("bridge.cv-1", "vca.cv"),
            ("voice.sine", "vca.in"),
            ("vca.out", "desk.in-1"),
        ],
        maps=[Map("faders.f1", 20, 1, ("bridge.cc-1",))],
        setlist=rigs.playing("faders.f1", 0.3, to),
    )


def boosted(gain: float) -> Project:
    """A voice of 6 V; a move of the set brings the mixer's gain up, and nothing else can make it loud."""
    return rigs.project(
        {"voice": rigs.voice(level_v=6.0), "mix": rigs.mixer(ways=1), "desk": rigs.interface()},
        [("voice.sine", "mix.in-1"), ("mix.out", "desk.in-1")],
        setlist=rigs.playing("mix.level-1", 1.0, gain),
    )


def boosted_alone(gain: float) -> Project:
    """The same voice into a mixer of one gain, which the set plays, and no other volume anywhere."""
    mix = rigs.sheet(
        "mix",
        [rigs.jack_in("in-1", "mix.in-1"), rigs.jack_out("out", "mix.out")],
        {"mix": ("mixer", {"ways": 1})},
        controls=[Control("level-1", hi=2.0, default=1.0, sets=("mix.gain-1",))],
    )
    return rigs.project(
        {"voice": rigs.voice(level_v=6.0), "mix": mix, "desk": rigs.interface()},
        [("voice.sine", "mix.in-1"), ("mix.out", "desk.in-1")],
        setlist=rigs.playing("mix.level-1", 1.0, gain),
    )


# --- rhythm ----------------------------------------------------------------------------------------------------------


def stepper(name: str, steps: str = "x...", **values: Any) -> Sheet:
    """One track of triggers with clock, reset, chance and division."""
    return rigs.sheet(
        name,
        [
            rigs.jack_in("clock", "seq.clock", signal=Signal.CLOCK, range_v=(0.0, 10.0)),
            rigs.jack_in("reset", "seq.reset", signal=Signal.TRIGGER, range_v=(0.0, 10.0)),
            rigs.jack_out("gate", "seq.gate", Signal.TRIGGER),
        ],
        {"seq": ("gate-sequencer", {"steps": steps, **values})},
        controls=[
            Control("chance", default=values.get("probability", 1.0), sets=("seq.probability",)),
            Control(
                "division",
                ControlShape.MENU,
                "steps",
                1.0,
                16.0,
                float(values.get("division", 1)),
                sets=("seq.division",),
            ),
        ],
    )


def resetting_clock(name: str = "clock") -> Sheet:
    """Sixteenths and a reset."""
    return rigs.sheet(
        name,
        [
            rigs.jack_out("out", "clock.out-1", Signal.CLOCK),
            rigs.jack_out("reset", "clock.reset", Signal.TRIGGER),
        ],
        {"clock": ("clock", {"ways": 1, "times": (4,), "over": (1,)})},
    )


def running(*, both: bool) -> Project:
    """Two clocks, each with an envelope; a gate runs one or both of them."""
    sheets = {
        name: rigs.sheet(
            name,
            [
                rigs.jack_in("run", "clock.run", signal=Signal.GATE, range_v=(0.0, 10.0)),
                rigs.jack_out("out", "clock.out-1", Signal.CLOCK),
            ],
            {"clock": ("clock", {"ways": 1, "times": (1,), "over": (1,)})},
        )
        for name in ("one", "two")
    }
    sheets |= {f"env-{i}": rigs.envelope(f"env-{i}") for i in (1, 2)}
    cables = [("pedal.out", "one.run"), ("one.out", "env-1.gate"), ("two.out", "env-2.gate")]
    return rigs.project(
        {"pedal": rigs.steady(5.0, Signal.GATE, "pedal"), **sheets},
        cables + ([("pedal.out", "two.run")] if both else []),
    )


def lag(name: str = "lag", rise: str = "10 ms") -> Sheet:
    """A slew that pulses can be sent through."""
    return rigs.sheet(
        name,
        [
            rigs.jack_in("in", "rc.in", signal=Signal.GATE, range_v=(0.0, 10.0)),
            rigs.jack_out("out", "rc.out", Signal.GATE),
        ],
        {"rc": ("slew", {"rise": rise, "fall": "1 ms"})},
    )


def two_steppers(*, both: bool) -> Project:
    """Two tracks on one clock, one or both of them reset."""
    cables = [
        ("clock.out", "one.clock"),
        ("clock.out", "two.clock"),
        ("clock.reset", "one.reset"),
    ]
    return rigs.project(
        {"clock": resetting_clock(), "one": stepper("one"), "two": stepper("two")},
        cables + ([("clock.reset", "two.reset")] if both else []),
    )


def lagging(*, reset: bool, clock: bool) -> Project:
    """A track whose reset, or clock, or both, come through a lag."""
    sheets = {
        "clock": resetting_clock(),
        "lag-1": lag("lag-1"),
        "lag-2": lag("lag-2"),
        "seq": stepper("seq"),
    }
    cables = []
    for port, name, is_late in (("out", "lag-1", clock), ("reset", "lag-2", reset)):
        target = "seq.clock" if port == "out" else "seq.reset"
        if is_late:
            cables += [(f"clock.{port}", f"{name}.in"), (f"{name}.out", target)]
        else:
            cables.append((f"clock.{port}", target))
    return rigs.project(sheets, cables)


def free_echo(time: str, *tempi_bpm: float) -> Project:
    """An echo that runs free, in a set of sections at these tempi."""
    passages = tuple(
        Passage(f"part-{i}", tempo_bpm=tempo) for i, tempo in enumerate(tempi_bpm, start=1)
    )
    return rigs.project(
        {"clock": rigs.clock((4, 1)), "echo": rigs.echo()},
        [("clock.out-1", "echo.clock")],
        settings={"echo.sync": "free", "echo.time": time},
        setlist=Setlist("tiny", sections=passages),
    )


def divided(division: int, steps: str = "x...............") -> Project:
    """A track of a bar, stepped by every so many sixteenths."""
    return rigs.project(
        {"clock": rigs.clock((4, 1)), "seq": stepper("seq", steps, division=division)},
        [("clock.out-1", "seq.clock")],
    )


def divider(division: int) -> Project:
    """A clock divider on sixteenths, one output into an envelope."""
    box = rigs.sheet(
        "box",
        [
            rigs.jack_in("clock", "div.clock", signal=Signal.CLOCK, range_v=(0.0, 10.0)),
            rigs.jack_out("out", "div.out-1", Signal.CLOCK),
        ],
        {"div": ("clock-divider", {"ways": 1})},
        controls=[
            Control(
                "division",
                ControlShape.MENU,
                "steps",
                1.0,
                16.0,
                float(division),
                sets=("div.division-1",),
            )
        ],
    )
    return rigs.project(
        {"clock": rigs.clock((4, 1)), "box": box, "env": rigs.envelope()},
        [("clock.out-1", "box.clock"), ("box.out", "env.gate")],
    )


def swung(first: float, second: float) -> Project:
    """Sixteenths that swing, through something that swings them."""
    clock = rigs.sheet(
        "clock",
        [rigs.jack_out("out", "clock.out-1", Signal.CLOCK)],
        {"clock": ("clock", {"ways": 1, "times": (4,), "over": (1,), "swing": (first,)})},
    )
    box = rigs.sheet(
        "box",
        [
            rigs.jack_in("clock", "late.clock", signal=Signal.CLOCK, range_v=(0.0, 10.0)),
            rigs.jack_out("out", "late.out", Signal.CLOCK),
        ],
        {"late": ("swing", {})},
        controls=[Control("swing", lo=0.5, hi=0.75, default=second, sets=("late.swing",))],
    )
    return rigs.project(
        {"clock": clock, "box": box, "env": rigs.envelope()},
        [("clock.out", "box.clock"), ("box.out", "env.gate")],
    )


def by_chance(chance: float, bars: int = 4, **rules: Any) -> Project:
    """One hit a bar, by chance, in a section of so many bars."""
    return rigs.project(
        {
            "clock": rigs.clock((4, 1)),
            "seq": stepper("seq", "x...............", probability=chance, **rules),
            "env": rigs.envelope(),
        },
        [("clock.out-1", "seq.clock"), ("seq.gate", "env.gate")],
        setlist=Setlist("tiny", sections=(Passage("only", bars=bars),)),
    )


def ducking(decay_s: float, *, depth: float = -0.9, curve: str = "exponential") -> Project:
    """Quarter notes fire an envelope that pushes an amplifier down: 5 V less so much of its 5 V."""
    env = rigs.sheet(
        "env",
        [
            rigs.jack_in("gate", "env.gate", signal=Signal.GATE, range_v=(0.0, 10.0)),
            rigs.jack_out("cv", "env.cv", Signal.CV, resistance_ohm=1e-3),
        ],
        {"env": ("ad-envelope", {"attack": "2 ms", "curve": curve})},
        controls=[
            Control("decay", unit="s", lo=0.01, hi=5.0, default=decay_s, sets=("env.decay",))
        ],
    )
    duck = rigs.sheet(
        "duck",
        [
            rigs.jack_in("in", "vca.in", range_v=(-11.0, 11.0)),
            rigs.jack_in("cv", "push.in", signal=Signal.CV, range_v=(0.0, 5.0)),
            rigs.jack_out("out", "vca.out"),
        ],
        {
            "push": ("attenuverter", {"gain": depth, "offset": "5 V"}),
            "vca": ("vca", {}),
        },
        wires=[("push.out", "vca.cv")],
    )
    return rigs.project(
        {
            "clock": rigs.clock((1, 1)),
            "env": env,
            "voice": rigs.voice(level_v=2.0),
            "duck": duck,
            "desk": rigs.interface(),
        },
        [
            ("clock.out-1", "env.gate"),
            ("env.cv", "duck.cv"),
            ("voice.sine", "duck.in"),
            ("duck.out", "desk.in-1"),
        ],
    )


# --- gestures --------------------------------------------------------------------------------------------------------


def panel(count: int, pitch_mm: float = 60.0, name: str = "faders") -> Sheet:
    """A controller of faders in a row."""
    plain = rigs.faders(count, name=name)
    controls = [
        Control(
            f"f{i}",
            ControlShape.FADER,
            sets=(f"cc-{i}.position",),
            at_mm=(pitch_mm * i, 50.0),
            size_mm=60.0,
        )
        for i in range(1, count + 1)
    ]
    return rigs.sheet(
        name,
        list(plain.jacks.values()),
        {k: (s.kind, s.values) for k, s in plain.sections.items()},
        wires=[(w.source, w.target) for w in plain.wires],
        controls=controls,
        housing=Housing.CONTROLLER,
    )


def played(
    *moves: Move, faders: int = 3, pitch_mm: float = 60.0, settings: Sequence[Settings] = ()
) -> Project:
    """Faders into a bridge of as many slots, and a set of two sections; the moves are in the second, at 120 bpm."""
    return rigs.project(
        {"faders": panel(faders, pitch_mm), "bridge": rigs.bridge(faders)},
        [("faders.midi", "bridge.midi")],
        maps=[Map(f"faders.f{i}", 19 + i, 1, (f"bridge.cc-{i}",)) for i in range(1, faders + 1)],
        setlist=Setlist(
            "tiny",
            tempo_bpm=120.0,
            sections=(
                Passage("first", bars=2),
                Passage("second", bars=8, settings=tuple(settings), moves=moves),
            ),
        ),
    )


def move(
    number: int, begin: float, beats: float, hand: str = "right", *, to: float = 1.0, **more: Any
) -> Move:
    """Fader so and so goes somewhere, from a beat of the section's first bars on."""
    bar, beat = divmod(begin, 4.0)
    return Move(f"faders.f{number}", to, int(bar) + 1, beat + 1.0, beats, hand=hand, **more)


def set_at_once(count: int) -> Project:
    """So many faders are elsewhere when the second section begins."""
    return played(
        faders=count, settings=[Settings(f"faders.f{i}", 1.0) for i in range(1, count + 1)]
    )


def turned(control: str, *, second_v: float = 2.0, mixed: float = 1.0) -> Project:
    """Two voices through a mixer; the set turns one of its controls, or an amplifier's that no cable leads out of."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=2.0),
            "second": rigs.voice("second", second_v),
            "mix": rigs.mixer(),
            "spare": rigs.mixer("spare"),
            "desk": rigs.interface(),
        },
        [
            ("voice.sine", "mix.in-1"),
            ("second.sine", "mix.in-2"),
            ("second.sine", "spare.in-1"),
            ("mix.out", "desk.in-1"),
        ],
        settings={"mix.level-2": mixed},
        setlist=Setlist(
            "tiny",
            tempo_bpm=120.0,
            sections=(
                Passage("first", bars=2),
                Passage("second", bars=8, moves=(Move(control, 0.5, 1, 1.0, 4.0, hand="right"),)),
            ),
        ),
    )


def overheard(number: int) -> Project:
    """A fader mapped to one slot of a bridge; another section of it, in use, listens to a number by itself."""
    bridge = rigs.sheet(
        "bridge",
        [
            Jack(
                "midi",
                Way.IN,
                Signal.MIDI,
                Plug.MIDI_DIN,
                lanes={"midi": ("cv-1.in", "cv-2.in")},
            ),
            *(rigs.jack_out(f"cv-{i}", f"cv-{i}.out", Signal.CV) for i in (1, 2)),
        ],
        {"cv-1": ("cc-to-cv", {}), "cv-2": ("cc-to-cv", {"number": number})},
        slots=[Slot("cc-1", SlotTakes.CC, ("cv-1",))],
    )
    return rigs.project(
        {
            "faders": rigs.faders(1),
            "bridge": bridge,
            "voice-1": rigs.voice("voice-1", 2.0),
            "voice-2": rigs.voice("voice-2", 2.0),
            "vca-1": rigs.vca("vca-1"),
            "vca-2": rigs.vca("vca-2"),
            "desk": rigs.interface(),
        },
        [
            ("faders.midi", "bridge.midi"),
            *((f"bridge.cv-{i}", f"vca-{i}.cv") for i in (1, 2)),
            *((f"voice-{i}.sine", f"vca-{i}.in") for i in (1, 2)),
            *((f"vca-{i}.out", f"desk.in-{i}") for i in (1, 2)),
        ],
        maps=[Map("faders.f1", 20, 1, ("bridge.cc-1",))],
    )


def stepping(
    signal: Signal, *, slew_s: float = 0.0, beats: float = 8.0, hi: str = "5 V"
) -> Project:
    """A fader into a voice's pitch or an amplifier, through a converter with a slew knob, in a sweep of the set."""
    bridge = rigs.sheet(
        "bridge",
        [
            Jack("midi", Way.IN, Signal.MIDI, Plug.MIDI_DIN, lanes={"midi": ("cv.in",)}),
            rigs.jack_out("cv", "cv.out", Signal.CV, resistance_ohm=1e-3),
        ],
        {"cv": ("cc-to-cv", {"hi": hi})},
        slots=[Slot("cc-1", SlotTakes.CC, ("cv",))],
        controls=[Control("slew", unit="s", hi=1.0, default=slew_s, sets=("cv.slew",))],
    )
    target = "voice.pitch" if signal is Signal.PITCH else "vca.cv"
    return rigs.project(
        {
            "faders": rigs.faders(1),
            "bridge": bridge,
            "voice": rigs.voice(level_v=2.0),
            "vca": rigs.vca(cv_range_v=(0.0, 10.0)),
            "desk": rigs.interface(),
        },
        [
            ("faders.midi", "bridge.midi"),
            ("bridge.cv", target),
            ("voice.sine", "vca.in"),
            ("vca.out", "desk.in-1"),
        ],
        maps=[Map("faders.f1", 20, 1, ("bridge.cc-1",))],
        setlist=Setlist(
            "tiny",
            tempo_bpm=120.0,
            sections=(Passage("only", bars=8, moves=(Move("faders.f1", 1.0, beats=beats),)),),
        ),
    )
