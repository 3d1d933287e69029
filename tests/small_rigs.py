"""Small rigs in memory, written in a few words, for tests of the net and the engine."""

from collections.abc import Mapping, Sequence

from rigproof.model.patch import Cable, Map, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.setlist import Setlist
from rigproof.model.sheet import (
    OUTPUT_OHM,
    Control,
    ControlShape,
    Jack,
    Plug,
    RawValue,
    Section,
    Sheet,
    Signal,
    Way,
    Wire,
)


def jack_in(name: str, *ports: str, signal: Signal = Signal.AUDIO, **rest: object) -> Jack:
    """An input jack of one lane."""
    return Jack(name, Way.IN, signal, lanes={"tip": ports}, **rest)  # type: ignore[arg-type]


def jack_out(name: str, port: str, signal: Signal = Signal.AUDIO, **rest: object) -> Jack:
    """An output jack of one lane."""
    given = {"resistance_ohm": OUTPUT_OHM, **rest}
    return Jack(name, Way.OUT, signal, lanes={"tip": (port,)}, **given)  # type: ignore[arg-type]


def sheet(
    name: str,
    sections: Mapping[str, Mapping[str, RawValue]],
    jacks: Sequence[Jack],
    controls: Mapping[str, tuple[str, float, float, float, str]] | None = None,
    wires: Sequence[tuple[str, str]] = (),
    **rest: object,
) -> Sheet:
    """A sheet; a control is (parameter, lo, hi, default, unit), stepped when its name starts with `switch`."""
    return Sheet(
        name,
        name,
        hp=8,
        jacks={j.id: j for j in jacks},
        sections={
            key: Section(key, str(values["kind"]), {k: v for k, v in values.items() if k != "kind"})
            for key, values in sections.items()
        },
        controls={
            key: Control(
                key,
                ControlShape.SWITCH if key.startswith("switch") else ControlShape.KNOB,
                unit,
                lo,
                hi,
                default,
                sets=(target,),
            )
            for key, (target, lo, hi, default, unit) in (controls or {}).items()
        },
        wires=tuple(Wire(a, b) for a, b in wires),
        **rest,  # type: ignore[arg-type]
    )


def project(
    modules: Mapping[str, Sheet],
    cables: Sequence[tuple[str, str]] = (),
    settings: Mapping[str, RawValue] | None = None,
    maps: Sequence[Map] = (),
    setlist: Setlist | None = None,
    **patch: object,
) -> Project:
    """A project of modules side by side, and the cables between them."""
    return Project(
        Rig(
            "test",
            modules=tuple(Mounted(m, s.id, 1, 8 * i) for i, (m, s) in enumerate(modules.items())),
        ),
        Patch(
            "test",
            cables=tuple(Cable(a, b) for a, b in cables),
            settings=tuple(Settings(k, v) for k, v in (settings or {}).items()),
            maps=tuple(maps),
            **patch,  # type: ignore[arg-type]
        ),
        {s.id: s for s in modules.values()},
        setlist,
    )


STEADY = sheet(
    "steady",
    {"mix": {"kind": "mixer", "ways": 1}},
    [
        jack_in("in", "mix.in-1", signal=Signal.CV, normal_v=5.0),
        jack_out("out", "mix.out", Signal.CV),
        jack_out("stiff", "mix.out", Signal.CV, resistance_ohm=1e-3),
    ],
    {
        "level": ("mix.gain-1", -2.0, 2.0, 1.0, "ratio"),
        "switch-level": ("mix.master", 0.0, 4.0, 1.0, "ratio"),
    },
)
"""A module that gives out 5 V times its level while nothing is plugged into it."""

ADDER = sheet(
    "adder",
    {"mix": {"kind": "mixer", "ways": 2}},
    [
        jack_in("in-1", "mix.in-1", signal=Signal.CV),
        jack_in("in-2", "mix.in-2", signal=Signal.CV),
        jack_out("out", "mix.out", Signal.CV),
    ],
    {
        "gain-1": ("mix.gain-1", -2.0, 2.0, 1.0, "ratio"),
        "gain-2": ("mix.gain-2", -2.0, 2.0, 1.0, "ratio"),
    },
)
"""A module that adds two voltages."""

LAG = sheet(
    "lag",
    {"rc": {"kind": "slew", "rise": 0.01, "fall": 0.01}},
    [jack_in("in", "rc.in", signal=Signal.CV), jack_out("out", "rc.out", Signal.CV)],
    {"rise": ("rc.rise", 0.001, 1.0, 0.01, "s"), "fall": ("rc.fall", 0.001, 1.0, 0.01, "s")},
)
"""A module that rounds off steps."""

__all__ = ["ADDER", "LAG", "STEADY", "Plug", "jack_in", "jack_out", "project", "sheet"]
