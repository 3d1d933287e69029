"""Random rigs, patches and sets from every section kind there is, for tests that must hold for any patch at all.

The same seed always gives the same project. Nothing here is musical: wires go anywhere they may go, outputs are joined,
loops abound, clamps and resistances are odd, controls move while it plays.
"""

from __future__ import annotations

import math
from random import Random

from rigproof.kinds import KINDS
from rigproof.kinds.base import Kind, Option, Param
from rigproof.model.patch import Cable, Patch
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import (
    LANE,
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

USABLE = tuple(kind for kind in KINDS.values() if not kind.is_internal)
VOLT_SIGNALS = tuple(s for s in Signal if s.is_volts)
WHOLE_UNITS = ("steps",)
OPTION_TRIES: tuple[RawValue, ...] = (
    "x..x..x.",
    "X.xx",
    "x",
    "........",
    "x-x-",
    "1 0 1 1",
    (3, 8, 0),
    (5, 13, 2),
    (0, 4, 0),
    (0.0, 1.0, -1.0, 2.5),
    (5.0,),
    (1.0, 0.5, 0.0),
    (1, 3, 2),
    ("always", "1:2", "previous", "not-first", "2:3"),
    (0, 12, 7, -5),
    ("C3", "E3", "G3"),
    "major",
    "volts",
    True,
    False,
    1,
    4,
    0.5,
)
"""What is tried for an option; what its own check refuses is left out."""
CLAMPS_V = ((-11.0, 11.0), (-11.0, 11.0), (-10.5, 10.5), (0.0, 8.0), (-5.5, 5.0))
OUTPUT_OHMS = (0.0, 100.0, 470.0, 1_000.0, 1_000.0, 10_000.0)
INPUT_OHMS = (10_000.0, 50_000.0, 100_000.0, 100_000.0, 1_000_000.0)
NORMALS_V = (-12.0, -5.0, 0.0, 2.5, 5.0, 8.0, 10.0)
CC_NUMBERS = (1, 5)
"""Few enough that senders and listeners often agree."""


def random_value(rng: Random, param: Param) -> float:
    """A value somewhere in a parameter's range: its default, an end, or anything between."""
    if param.name == "number":
        return float(rng.choice(CC_NUMBERS))
    if param.name == "channel":
        return 1.0
    pick = rng.random()
    if pick < 0.35:
        value = param.default
    elif pick < 0.5:
        value = rng.choice((param.lo, param.hi))
    elif param.lo > 0.0 and param.hi / param.lo > 50.0:
        value = math.exp(rng.uniform(math.log(param.lo), math.log(param.hi)))
    else:
        value = rng.uniform(param.lo, param.hi)
    if param.choices or param.unit in WHOLE_UNITS:
        value = float(round(value))
    return min(max(value, param.lo), param.hi)


def random_option(rng: Random, option: Option) -> RawValue:
    """Any value that the option's own check takes."""
    fitting = [v for v in (option.default, *OPTION_TRIES) if option.check(v) is None]
    return rng.choice(fitting)


def random_section(rng: Random, section_id: str, kind: Kind) -> tuple[Section, int]:
    """A section of a kind, set at random, and how many ways it has."""
    ways = 1
    values: dict[str, RawValue] = {}
    if kind.ways is not None:
        ways = rng.randint(kind.ways[0], min(kind.ways[1], 4))
        values["ways"] = ways
    for param in kind.expand_params(ways):
        values[param.name] = random_value(rng, param)
    for option in kind.options:
        if rng.random() < 0.7:
            values[option.name] = random_option(rng, option)
    return Section(section_id, kind.name, values), ways


def random_sheet(rng: Random, name: str, kinds: list[Kind]) -> Sheet:
    """A module with a section of each kind, a jack for nearly every port, wires inside, and controls."""
    jacks: dict[str, Jack] = {}
    sections: dict[str, Section] = {}
    controls: dict[str, Control] = {}
    wires: list[Wire] = []
    outputs: dict[bool, list[str]] = {False: [], True: []}
    inputs: list[tuple[str, bool]] = []
    for number, kind in enumerate(kinds, start=1):
        section, ways = random_section(rng, f"s{number}", kind)
        sections[section.id] = section
        for port in kind.expand_outputs(ways):
            outputs[port.is_midi].append(f"{section.id}.{port.name}")
        inputs += [(f"{section.id}.{p.name}", p.is_midi) for p in kind.expand_inputs(ways)]
        for param in kind.expand_params(ways):
            if param.name not in ("number", "channel") and rng.random() < 0.5:
                control_id = f"{section.id}-{param.name}"
                controls[control_id] = Control(
                    control_id,
                    ControlShape.SWITCH if param.choices else ControlShape.KNOB,
                    param.unit,
                    param.lo,
                    param.hi,
                    random_value(rng, param),
                    choices=param.choices,
                    sets=(f"{section.id}.{param.name}",),
                )
    for name_in, is_midi in inputs:
        pick = rng.random()
        if pick < 0.15 and outputs[is_midi]:
            wires.append(Wire(rng.choice(outputs[is_midi]), name_in))
        elif pick < 0.9:
            jack = _input_jack(rng, name_in, is_midi)
            jacks[jack.id] = jack
    for is_midi, ports in outputs.items():
        for name_out in ports:
            jack = _output_jack(rng, name_out, is_midi, ports)
            jacks[jack.id] = jack
    _normal_some(rng, jacks)
    if outputs[False] and rng.random() < 0.15:
        lanes = {f"lane-{i}": (p,) for i, p in enumerate(outputs[False][:3])}
        jacks["link-out"] = Jack("link-out", Way.OUT, Signal.LINK, Plug.RIBBON, lanes)
    return Sheet(
        name,
        name,
        hp=8,
        jacks=jacks,
        sections=sections,
        controls=controls,
        wires=tuple(wires),
    )


def _input_jack(rng: Random, port: str, is_midi: bool) -> Jack:
    name = f"in-{port.replace('.', '-')}"
    if is_midi:
        return Jack(
            name, Way.IN, Signal.MIDI, rng.choice((Plug.MIDI_DIN, Plug.USB_HOST)), {LANE: (port,)}
        )
    if rng.random() < 0.05:
        return Jack(name, Way.IN, Signal.LINK, Plug.RIBBON, {"lane-0": (port,)})
    return Jack(
        name,
        Way.IN,
        rng.choice(VOLT_SIGNALS),
        rng.choice((Plug.MONO, Plug.MONO, Plug.LINE)),
        {LANE: (port,)},
        resistance_ohm=rng.choice(INPUT_OHMS),
        normal_v=rng.choice(NORMALS_V) if rng.random() < 0.25 else None,
        is_ac_coupled=rng.random() < 0.15 and "ac-coupling" in KINDS,
    )


def _output_jack(rng: Random, port: str, is_midi: bool, ports: list[str]) -> Jack:
    name = f"out-{port.replace('.', '-')}"
    if is_midi:
        return Jack(
            name, Way.OUT, Signal.MIDI, rng.choice((Plug.MIDI_DIN, Plug.USB_HOST)), {LANE: (port,)}
        )
    lanes = {LANE: (port,)}
    plug = Plug.MONO
    if rng.random() < 0.2:
        lanes["ring"] = (rng.choice(ports),)
        plug = Plug.STEREO
    return Jack(
        name,
        Way.OUT,
        rng.choice(VOLT_SIGNALS),
        plug,
        lanes,
        resistance_ohm=rng.choice(OUTPUT_OHMS),
        clamp_v=rng.choice(CLAMPS_V),
    )


def _normal_some(rng: Random, jacks: dict[str, Jack]) -> None:
    """Normal some inputs to another volts jack of the module."""
    volts = [j for j in jacks.values() if j.signal.is_volts]
    for jack in volts:
        others = [j.id for j in volts if j.id != jack.id]
        if jack.way is Way.IN and jack.normal_v is None and others and rng.random() < 0.25:
            jacks[jack.id] = Jack(
                jack.id,
                jack.way,
                jack.signal,
                jack.plug,
                jack.lanes,
                resistance_ohm=jack.resistance_ohm,
                normal=rng.choice(others),
                is_ac_coupled=jack.is_ac_coupled,
            )


def mult_sheet() -> Sheet:
    """A passive mult: four bare jacks, joined."""
    names = [f"m{i}" for i in range(1, 5)]
    return Sheet(
        "mult",
        "mult",
        hp=2,
        jacks={
            n: Jack(n, Way.BARE, Signal.CV, joins=(names[0],) if n != names[0] else ())
            for n in names
        },
    )


def _world(jack: Jack) -> str:
    return "volts" if jack.signal.is_volts else jack.signal.value


def random_cables(rng: Random, sheets: dict[str, Sheet], modules: dict[str, str]) -> list[Cable]:
    """Cables between jacks that carry alike; mostly from an output to an input, sometimes not."""
    ends = [(f"{m}.{j.id}", j) for m, s in modules.items() for j in sheets[s].jacks.values()]
    cables = []
    for _ in range(rng.randint(0, 2 * len(modules) + 2)):
        source, a = rng.choice(ends)
        if a.way is not Way.OUT and rng.random() < 0.85:
            continue
        fitting = [
            (n, j)
            for n, j in ends
            if _world(j) == _world(a)
            and n != source
            and (j.way is not Way.OUT or rng.random() < 0.1)
        ]
        if fitting:
            target, _ = rng.choice(fitting)
            lead = None
            if a.signal.is_volts and rng.random() < 0.2:
                lead = rng.choice(("mono-3.5", "stereo-3.5"))
            cables.append(Cable(source, target, lead=lead))
    return cables


def random_setlist(
    rng: Random, sheets: dict[str, Sheet], modules: dict[str, str]
) -> Setlist | None:
    """A set of two short sections whose moves all happen within the first hundredths of a second."""
    controls = [(f"{m}.{c.id}", c) for m, s in modules.items() for c in sheets[s].controls.values()]
    if not controls or rng.random() < 0.3:
        return None
    moves = []
    for _ in range(rng.randint(0, 6)):
        name, control = rng.choice(controls)
        stepped = control.is_stepped or control.unit in WHOLE_UNITS
        to = rng.uniform(control.lo, control.hi)
        start = rng.uniform(control.lo, control.hi) if rng.random() < 0.2 else None
        moves.append(
            Move(
                name,
                float(round(to)) if stepped else to,
                beat=1.0 + rng.uniform(0.0, 0.1),
                beats=rng.uniform(0.0, 0.1),
                start=float(round(start)) if stepped and start is not None else start,
            )
        )
    tempo = rng.choice((None, 60.0, 240.0))
    return Setlist("set", sections=(Passage("one", bars=1, tempo_bpm=tempo, moves=tuple(moves)),))


def random_project(seed: int, *, largest: int = 6) -> Project:
    """A random project; the same for the same seed."""
    rng = Random(seed)
    sheets: dict[str, Sheet] = {}
    modules: dict[str, str] = {}
    for number in range(1, rng.randint(2, largest) + 1):
        if rng.random() < 0.08:
            sheets["mult"] = mult_sheet()
            modules[f"a{number}"] = "mult"
            continue
        kinds = [rng.choice(USABLE) for _ in range(rng.choice((1, 1, 1, 2, 3)))]
        sheets[f"sheet-{number}"] = random_sheet(rng, f"sheet-{number}", kinds)
        modules[f"a{number}"] = f"sheet-{number}"
        if rng.random() < 0.1:
            modules[f"b{number}"] = f"sheet-{number}"
    return Project(
        Rig("random", modules=tuple(Mounted(m, s, 1, 0) for m, s in modules.items())),
        Patch(
            "random",
            tempo_bpm=rng.choice((30.0, 104.0, 300.0)),
            seed=seed,
            cables=tuple(random_cables(rng, sheets, modules)),
        ),
        sheets,
        random_setlist(rng, sheets, modules),
    )
