"""Tiny rigs in memory, made for one fault each. Every name and figure is invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from rigproof.kinds.stereo_delay import NOTE_NAMES
from rigproof.model.patch import Cable, Declined, Filling, Map, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import CableStock, Mounted, Outside, Rig, Row, Supply
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import (
    Control,
    ControlShape,
    Housing,
    Jack,
    Plug,
    Section,
    Sheet,
    Signal,
    Slot,
    SlotTakes,
    Way,
    Wire,
)

ROWS = (Row(84, 50.0), Row(84, 50.0))
SUPPLY = Supply({"+12V": 1000.0, "-12V": 1000.0, "+5V": 500.0})


def jack_in(name: str, *ports: str, signal: Signal = Signal.AUDIO, **more: Any) -> Jack:
    """An input of one lane."""
    return Jack(name, Way.IN, signal, lanes={"tip": ports}, **more)


def jack_out(name: str, port: str, signal: Signal = Signal.AUDIO, **more: Any) -> Jack:
    """An output of one lane, 1 kohm unless said otherwise."""
    more.setdefault("resistance_ohm", 1_000.0)
    return Jack(name, Way.OUT, signal, lanes={"tip": (port,)}, **more)


def stereo(name: str, way: Way, left: str, right: str, **more: Any) -> Jack:
    """A stereo jack."""
    more.setdefault("resistance_ohm", 1_000.0 if way is Way.OUT else 100_000.0)
    more.setdefault("plug", Plug.STEREO)
    return Jack(name, way, Signal.AUDIO, lanes={"tip": (left,), "ring": (right,)}, **more)


def sheet(
    name: str,
    jacks: Sequence[Jack] = (),
    sections: Mapping[str, tuple[str, Mapping[str, Any]]] | None = None,
    *,
    controls: Sequence[Control] = (),
    slots: Sequence[Slot] = (),
    wires: Sequence[tuple[str, str]] = (),
    **more: Any,
) -> Sheet:
    """A sheet from jacks, and sections as `id: (kind, values)`; 8 HP wide and 25 mm deep unless said otherwise."""
    more.setdefault("hp", 8)
    more.setdefault("depth_mm", 25.0)
    return Sheet(
        name,
        name,
        jacks={j.id: j for j in jacks},
        sections={k: Section(k, kind, values) for k, (kind, values) in (sections or {}).items()},
        controls={c.id: c for c in controls},
        slots={s.id: s for s in slots},
        wires=tuple(Wire(a, b) for a, b in wires),
        **more,
    )


def project(
    sheets: Mapping[str, Sheet],
    cables: Sequence[tuple[str, str] | Cable] = (),
    *,
    places: Mapping[str, tuple[int, int]] | None = None,
    turned: Sequence[str] = (),
    rows: Sequence[Row] = ROWS,
    supply: Supply | None = SUPPLY,
    stock: Sequence[CableStock] = (),
    settings: Mapping[str, Any] | None = None,
    rhythms: Mapping[str, Mapping[str, Any]] | None = None,
    maps: Sequence[Map] = (),
    declined: Sequence[Declined] = (),
    tempo_bpm: float = 120.0,
    setlist: Setlist | None = None,
) -> Project:
    """A project of one module for each sheet, side by side in row 1 unless `places` says otherwise.

    `sheets` maps the id of the module to its sheet.
    """
    modules, outside, edge = [], [], 0
    for name, one in sheets.items():
        if one.housing is not Housing.MODULE:
            outside.append(Outside(name, name))
            continue
        row, hp = (places or {}).get(name, (1, edge))
        modules.append(Mounted(name, name, row, hp, name in turned))
        edge = hp + one.hp
    rig = Rig("tiny", tuple(rows), supply, tuple(modules), tuple(outside), tuple(stock))
    patch = Patch(
        "tiny",
        tempo_bpm=tempo_bpm,
        cables=tuple(c if isinstance(c, Cable) else Cable(*c) for c in cables),
        settings=tuple(Settings(k, v) for k, v in (settings or {}).items()),
        rhythms=tuple(Filling(k, v) for k, v in (rhythms or {}).items()),
        maps=tuple(maps),
        declined=tuple(declined),
    )
    return Project(rig, patch, dict(sheets), setlist)


def playing(control: str, *values: float) -> Setlist:
    """A set of one section in which a control goes to each of these values, a bar apart."""
    moves = tuple(Move(control, v, bar=i, beats=1.0) for i, v in enumerate(values, start=1))
    return Setlist("tiny", sections=(Passage("only", bars=len(values), moves=moves),))


# --- modules that several families use -------------------------------------------------------------------------------


def voice(name: str = "voice", level_v: float = 5.0, **more: Any) -> Sheet:
    """An oscillator: `pitch` in, `sine` out."""
    return sheet(
        name,
        [
            jack_in("pitch", "osc.pitch", signal=Signal.PITCH),
            jack_out("sine", "osc.sine"),
            jack_out("saw", "osc.saw"),
        ],
        {"osc": ("oscillator", {"level": level_v})},
        controls=[Control("level", unit="V", hi=10.0, default=level_v, sets=("osc.level",))],
        **more,
    )


def steady(value_v: float, signal: Signal = Signal.CV, name: str = "steady", **more: Any) -> Sheet:
    """A module that gives a steady voltage: an unplugged input normalled to it, then a gain control."""
    more.setdefault("resistance_ohm", 1_000.0)
    return sheet(
        name,
        [
            jack_in("in", "mix.in-1", signal=Signal.CV, normal_v=value_v, range_v=(-11.0, 11.0)),
            jack_out("out", "mix.out", signal, **more),
        ],
        {"mix": ("mixer", {"ways": 1})},
        controls=[Control("gain", lo=-2.0, hi=2.0, default=1.0, sets=("mix.gain-1",))],
    )


def mixer(
    name: str = "mix", ways: int = 2, *, range_v: tuple[float, float] = (-11.0, 11.0)
) -> Sheet:
    """A mixer with a gain control for each input and one for the sum."""
    return sheet(
        name,
        [
            *(jack_in(f"in-{i}", f"mix.in-{i}", range_v=range_v) for i in range(1, ways + 1)),
            jack_out("out", "mix.out"),
        ],
        {"mix": ("mixer", {"ways": ways})},
        controls=[
            *(
                Control(f"level-{i}", hi=2.0, default=1.0, sets=(f"mix.gain-{i}",))
                for i in range(1, ways + 1)
            ),
            Control("master", ControlShape.FADER, default=1.0, sets=("mix.master",)),
        ],
    )


def interface(name: str = "desk", full_scale_dbu: float = 20.0, inputs: int = 2) -> Sheet:
    """An interface outside the case; what comes in is heard."""
    return sheet(
        name,
        [
            jack_in(f"in-{i}", f"line-{i}.in", plug=Plug.LINE, range_v=(-20.0, 20.0))
            for i in range(1, inputs + 1)
        ],
        {f"line-{i}": ("line-input", {"full-scale": full_scale_dbu}) for i in range(1, inputs + 1)},
        housing=Housing.INTERFACE,
    )


def clock(
    *rates: tuple[int, int], name: str = "clock", level_v: float = 5.0, width: str = "5 ms"
) -> Sheet:
    """A clock with one output for each rate of `times` pulses in `over` quarter notes."""
    ways = len(rates)
    return sheet(
        name,
        [jack_out(f"out-{i}", f"clock.out-{i}", Signal.CLOCK) for i in range(1, ways + 1)],
        {
            "clock": (
                "clock",
                {
                    "ways": ways,
                    "times": tuple(t for t, _ in rates),
                    "over": tuple(o for _, o in rates),
                    "level": level_v,
                    "width": width,
                },
            )
        },
        controls=[
            Control("width", unit="s", lo=1e-4, hi=0.1, default=0.005, sets=("clock.width",)),
            Control("level", unit="V", lo=0.0, hi=10.0, default=level_v, sets=("clock.level",)),
            *(
                Control(
                    f"times-{i}",
                    ControlShape.MENU,
                    "steps",
                    1.0,
                    96.0,
                    float(rates[i - 1][0]),
                    sets=(f"clock.times-{i}",),
                )
                for i in range(1, ways + 1)
            ),
        ],
    )


def envelope(
    name: str = "env", signal: Signal = Signal.GATE, *, ppqn: Fraction | None = None, **more: Any
) -> Sheet:
    """An envelope fired by a pulse at `gate`; 5 V at `cv`."""
    more.setdefault("threshold_v", 2.0)
    return sheet(
        name,
        [
            jack_in("gate", "env.gate", signal=signal, range_v=(0.0, 10.0), ppqn=ppqn, **more),
            jack_out("cv", "env.cv", Signal.CV),
        ],
        {"env": ("ad-envelope", {})},
    )


def lfo(name: str = "lfo") -> Sheet:
    """A wave of 5 V either way, once a second."""
    rate = Control("rate", unit="Hz", lo=0.001, hi=200.0, default=1.0, sets=("lfo.rate",))
    return sheet(
        name, [jack_out("sine", "lfo.sine", Signal.CV)], {"lfo": ("lfo", {})}, controls=[rate]
    )


def attenuverter(name: str = "trim", signal: Signal = Signal.CV) -> Sheet:
    """Gain from -1 to 1 and an offset."""
    return sheet(
        name,
        [
            jack_in("in", "trim.in", signal=signal, range_v=(-11.0, 11.0)),
            jack_out("out", "trim.out", signal),
        ],
        {"trim": ("attenuverter", {})},
        controls=[
            Control("gain", lo=-1.0, hi=1.0, default=1.0, sets=("trim.gain",)),
            Control("offset", unit="V", lo=-5.0, hi=5.0, sets=("trim.offset",)),
        ],
    )


def vca(name: str = "vca", cv_range_v: tuple[float, float] = (0.0, 5.0)) -> Sheet:
    """An amplifier with a control voltage."""
    return sheet(
        name,
        [
            jack_in("in", "vca.in", range_v=(-11.0, 11.0)),
            jack_in("cv", "vca.cv", signal=Signal.CV, range_v=cv_range_v),
            jack_out("out", "vca.out"),
        ],
        {"vca": ("vca", {})},
    )


def midi_out(plug: Plug, name: str = "sender") -> Sheet:
    """A module with a MIDI output whose message comes from one knob."""
    return sheet(
        name,
        [Jack("midi", Way.OUT, Signal.MIDI, plug, lanes={"midi": ("cc.out",)})],
        {"cc": ("cc-sender", {})},
        controls=[Control("knob", sets=("cc.position",))],
    )


def midi_in(plug: Plug, name: str = "bridge") -> Sheet:
    """A module that turns one controller into a voltage."""
    return sheet(
        name,
        [
            Jack("midi", Way.IN, Signal.MIDI, plug, lanes={"midi": ("cv.in",)}),
            jack_out("cv", "cv.out", Signal.CV),
        ],
        {"cv": ("cc-to-cv", {})},
        slots=[Slot("cc", SlotTakes.CC, ("cv",))],
    )


def faders(count: int, plug: Plug = Plug.MIDI_DIN, name: str = "faders") -> Sheet:
    """A controller outside the case: so many faders, one MIDI output."""
    each = range(1, count + 1)
    return sheet(
        name,
        [Jack("midi", Way.OUT, Signal.MIDI, plug, lanes={"midi": ("merge.out",)})],
        {
            **{f"cc-{i}": ("cc-sender", {}) for i in each},
            "merge": ("midi-merge", {"ways": count}),
        },
        wires=[(f"cc-{i}.out", f"merge.in-{i}") for i in each],
        controls=[Control(f"f{i}", ControlShape.FADER, sets=(f"cc-{i}.position",)) for i in each],
        housing=Housing.CONTROLLER,
    )


def bridge(count: int, plug: Plug = Plug.MIDI_DIN, name: str = "bridge") -> Sheet:
    """A module with so many slots that each turn one controller into 0 to 5 V."""
    each = range(1, count + 1)
    return sheet(
        name,
        [
            Jack(
                "midi",
                Way.IN,
                Signal.MIDI,
                plug,
                lanes={"midi": tuple(f"cv-{i}.in" for i in each)},
            ),
            *(jack_out(f"cv-{i}", f"cv-{i}.out", Signal.CV) for i in each),
        ],
        {f"cv-{i}": ("cc-to-cv", {}) for i in each},
        slots=[Slot(f"cc-{i}", SlotTakes.CC, (f"cv-{i}",)) for i in each],
    )


def sequencer(name: str, steps: str, *, trigger: str = "5 ms", **more: Any) -> Sheet:
    """One track of triggers, stepped by a clock."""
    return sheet(
        name,
        [
            jack_in("clock", "seq.clock", signal=Signal.CLOCK, range_v=(0.0, 10.0), **more),
            jack_out("gate", "seq.gate", Signal.TRIGGER),
        ],
        {"seq": ("gate-sequencer", {"steps": steps, "trigger": trigger})},
        controls=[
            Control("trigger", unit="s", lo=1e-4, hi=0.1, default=5e-3, sets=("seq.trigger",))
        ],
    )


def echo(name: str = "echo", *, ppqn: float = 4.0) -> Sheet:
    """A clocked echo with two seconds of memory."""
    return sheet(
        name,
        [
            jack_in("left-in", "echo.left", range_v=(-10.0, 10.0)),
            jack_in("clock", "echo.clock", signal=Signal.CLOCK, range_v=(0.0, 10.0)),
            jack_out("left", "echo.left"),
        ],
        {"echo": ("stereo-delay", {"ppqn": ppqn, "longest": "2 s", "mix": 1.0})},
        controls=[
            Control("feedback", hi=1.1, default=0.5, sets=("echo.feedback",)),
            Control("sync", ControlShape.SWITCH, choices=("clock", "free"), sets=("echo.sync",)),
            Control("time", unit="s", lo=1e-3, hi=2.0, default=0.4, sets=("echo.time",)),
            *(
                Control(
                    f"beats-{side}",
                    ControlShape.MENU,
                    hi=float(len(NOTE_NAMES) - 1),
                    default=5.0,
                    choices=NOTE_NAMES,
                    sets=(f"echo.beats-{side}",),
                )
                for side in ("left", "right")
            ),
        ],
    )
