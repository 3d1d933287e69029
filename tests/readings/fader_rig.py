"""One fader to one loudness: controller, MIDI, CV, oscillator, amplifier, way out; for tests of several readings."""

from __future__ import annotations

from rigproof.model.patch import Map
from rigproof.model.project import Project
from rigproof.model.sheet import (
    Control,
    ControlShape,
    Jack,
    Plug,
    Section,
    Sheet,
    Signal,
    Slot,
    SlotTakes,
    Way,
)
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from tests.small_rigs import jack_in, jack_out, project, sheet

CC = 5


def fader_sheet(plug: Plug) -> Sheet:
    """Two switches that stand for faders, so that they step at a block's edge and not glide."""
    return Sheet(
        "faders",
        "faders",
        jacks={"midi": Jack("midi", Way.OUT, Signal.MIDI, plug, {"tip": ("merge.out",)})},
        sections={
            "f5": Section("f5", "cc-sender", {"number": 1}),
            "f6": Section("f6", "cc-sender", {"number": 2}),
            "merge": Section("merge", "midi-merge", {"ways": 2}),
        },
        wires=sheet("w", {}, [], wires=[("f5.out", "merge.in-1"), ("f6.out", "merge.in-2")]).wires,
        controls={
            name: Control(name, ControlShape.SWITCH, "ratio", sets=(f"{name}.position",))
            for name in ("f5", "f6")
        },
    )


def bridge_sheet(plug: Plug) -> Sheet:
    return Sheet(
        "bridge",
        "bridge",
        jacks={
            "midi": Jack("midi", Way.IN, Signal.MIDI, plug, {"tip": ("cc-1.in", "cc-2.in")}),
            "cv-1": jack_out("cv-1", "cc-1.out", Signal.CV, resistance_ohm=1e-3),
            "cv-2": jack_out("cv-2", "cc-2.out", Signal.CV, resistance_ohm=1e-3),
        },
        sections={
            "cc-1": Section("cc-1", "cc-to-cv", {"number": 1}),
            "cc-2": Section("cc-2", "cc-to-cv", {"number": 2}),
        },
        slots={f"cc-{i}": Slot(f"cc-{i}", SlotTakes.CC, (f"cc-{i}",)) for i in (1, 2)},
    )


OSCILLATOR = sheet(
    "oscillator",
    {"o": {"kind": "oscillator", "tune": 500.0}},
    [
        jack_out(wave, f"o.{wave}", resistance_ohm=1e-3)
        for wave in ("saw", "triangle", "sine", "pulse")
    ],
    {"tune": ("o.tune", 1.0, 20_000.0, 500.0, "Hz")},
)
AMPLIFIER = sheet(
    "amplifier",
    {"v": {"kind": "vca", "response": 0, "full-scale": 5.0}},
    [
        jack_in("in", "v.in"),
        jack_in("cv", "v.cv", signal=Signal.CV, normal_v=5.0),
        jack_out("out", "v.out", resistance_ohm=1e-3),
    ],
)
WAY_IN = sheet(
    "desk",
    {"left": {"kind": "line-input", "full-scale": 20.0}},
    [jack_in("left", "left.in"), jack_out("digital", "left.digital")],
    {"full-scale": ("left.full-scale", -10.0, 30.0, 20.0, "dBu")},
)


def fader_project(
    plugs: tuple[Plug, Plug] = (Plug.USB_DEVICE, Plug.USB_HOST), **settings: float
) -> Project:
    """faders.f5 sends CC 5 to bridge cv-1, which opens an amplifier in front of the desk."""
    return project(
        {
            "faders": fader_sheet(plugs[0]),
            "bridge": bridge_sheet(plugs[1]),
            "osc": OSCILLATOR,
            "amp": AMPLIFIER,
            "desk": WAY_IN,
        },
        [
            ("faders.midi", "bridge.midi"),
            ("bridge.cv-1", "amp.cv"),
            ("osc.sine", "amp.in"),
            ("amp.out", "desk.left"),
        ],
        {key.replace("__", "."): value for key, value in settings.items()},
        [Map("faders.f5", CC, to=("bridge.cc-1",)), Map("faders.f6", 6, to=("bridge.cc-2",))],
    )


def fader_net(
    plugs: tuple[Plug, Plug] = (Plug.USB_DEVICE, Plug.USB_HOST), **settings: float
) -> Net:
    return flatten(fader_project(plugs, **settings))


__all__ = ["AMPLIFIER", "CC", "OSCILLATOR", "WAY_IN", "fader_net", "fader_project"]
