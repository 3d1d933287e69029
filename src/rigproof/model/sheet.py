"""Module sheet: one model of module as its maker describes it, with the sections that stand for its circuits.

A sheet is a little graph. Jacks give their voltages to section ports or take them from section ports, controls set
section parameters, wires join section ports inside the module, and slots are the places inside that a patch fills:
a rhythm, a bank of samples, a controller number to listen to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from rigproof.errors import NOWHERE, Where

OUTPUT_OHM = 1_000.0
"""Output resistance where a sheet is silent. Common practice, no source. [ohm]"""
INPUT_OHM = 100_000.0
"""Input resistance where a sheet is silent. Common practice, no source. [ohm]"""
UNLOADED_OHM = 1e12
"""Input resistance of a program inside a host, which loads nothing. [ohm]"""
CLAMP_V = 11.0
"""An analogue output stops at plus or minus this voltage where a sheet is silent. Common practice, no source. [V]"""

RawValue = bool | int | float | str | tuple["RawValue", ...]
"""A value as it stands in a file, before the section kind has given it a unit."""


class Way(StrEnum):
    """Which way a jack passes its signal; `BARE` contacts are joined to other contacts and drive nothing."""

    IN = "in"
    OUT = "out"
    BARE = "bare"


class Signal(StrEnum):
    """What a jack carries."""

    AUDIO = "audio"
    CV = "cv"
    PITCH = "pitch"
    GATE = "gate"
    TRIGGER = "trigger"
    CLOCK = "clock"
    MIDI = "midi"
    LINK = "link"

    @property
    def is_volts(self) -> bool:
        """Whether Ohm's law governs it: everything but MIDI and digital links."""
        return self not in (Signal.MIDI, Signal.LINK)

    @property
    def is_pulses(self) -> bool:
        """Whether it is read by threshold."""
        return self in (Signal.GATE, Signal.TRIGGER, Signal.CLOCK)


class Plug(StrEnum):
    """The connector."""

    MONO = "mono-3.5"
    STEREO = "stereo-3.5"
    MIDI_A = "midi-trs-a"
    MIDI_B = "midi-trs-b"
    MIDI_DIN = "midi-din"
    USB_HOST = "usb-host"
    USB_DEVICE = "usb-device"
    RIBBON = "ribbon"
    LINE = "line-6.3"


LANE = "tip"
"""The only lane of a mono jack. A stereo jack has `tip` and `ring`, a link one lane for each thing it carries."""


@dataclass(frozen=True, slots=True)
class Jack:
    """One jack. `lanes` gives, for every conductor, the section ports it feeds (in) or the one port it takes (out)."""

    id: str
    way: Way
    signal: Signal
    plug: Plug = Plug.MONO
    lanes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    range_v: tuple[float, float] = (-5.0, 5.0)
    resistance_ohm: float = INPUT_OHM
    clamp_v: tuple[float, float] = (-CLAMP_V, CLAMP_V)
    normal: str | None = None
    """The jack of the same module that feeds this one while nothing is plugged."""
    normal_v: float | None = None
    """The steady voltage that feeds this one while nothing is plugged. [V]"""
    joins: tuple[str, ...] = ()
    """Bare contacts of the same module that this one is joined to."""
    needed: bool = False
    """The module does nothing useful while this input is open."""
    threshold_v: float | None = None
    """A gate, trigger or clock input fires when it rises through this. [V]"""
    min_pulse_s: float | None = None
    """The shortest pulse that the input is sure to see. [s]"""
    ppqn: Fraction | None = None
    """Pulses per quarter note that a clock input expects."""
    is_ac_coupled: bool = False
    usb_ma: float | None = None
    """What a USB device draws from the bus, or a USB host gives; None where the sheet is silent. [mA]"""
    is_inside: bool = False
    """It belongs to the patch inside a host and is on no panel."""
    at_mm: tuple[float, float] | None = None
    """From the panel's left and top edge. [mm]"""
    label: str = ""
    where: Where = NOWHERE


class ControlShape(StrEnum):
    """What the hand finds on the panel, or `MENU` for a setting behind a screen."""

    KNOB = "knob"
    FADER = "fader"
    SWITCH = "switch"
    BUTTON = "button"
    ENCODER = "encoder"
    TRIMMER = "trimmer"
    MENU = "menu"


class Taper(StrEnum):
    """How travel becomes value."""

    LINEAR = "linear"
    LOG = "log"
    SQUARE = "square"


@dataclass(frozen=True, slots=True)
class Control:
    """One thing to turn, push or choose, in its own unit; `sets` names the section parameters that take its value."""

    id: str
    shape: ControlShape = ControlShape.KNOB
    unit: str = "ratio"
    lo: float = 0.0
    hi: float = 1.0
    default: float = 0.0
    taper: Taper = Taper.LINEAR
    choices: tuple[str, ...] = ()
    """The named positions of a switch or menu; the value is then the index."""
    sets: tuple[str, ...] = ()
    at_mm: tuple[float, float] | None = None
    size_mm: float | None = None
    label: str = ""
    where: Where = NOWHERE

    @property
    def is_stepped(self) -> bool:
        """Whether it jumps from value to value instead of gliding."""
        return bool(self.choices) or self.shape in (
            ControlShape.SWITCH,
            ControlShape.BUTTON,
            ControlShape.MENU,
        )

    def value_at(self, travel: float) -> float:
        """Return the value at a travel of 0 to 1."""
        travel = min(1.0, max(0.0, travel))
        if self.taper is Taper.LOG and self.lo > 0.0:
            return float(self.lo * (self.hi / self.lo) ** travel)
        if self.taper is Taper.SQUARE:
            travel *= travel
        return self.lo + (self.hi - self.lo) * travel


@dataclass(frozen=True, slots=True)
class Section:
    """One thing inside that a circuit or program does. `values` holds parameters and options as written."""

    id: str
    kind: str
    values: Mapping[str, RawValue] = field(default_factory=dict)
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Wire:
    """A connection inside the module, from a section's output port to a section's input port (`section.port`)."""

    source: str
    target: str
    where: Where = NOWHERE


class SlotTakes(StrEnum):
    """What a slot is filled with by the patch."""

    RHYTHM = "rhythm"
    SAMPLES = "samples"
    CC = "cc"


@dataclass(frozen=True, slots=True)
class Slot:
    """A place inside the module that the patch fills, and the sections that take what is put there."""

    id: str
    takes: SlotTakes
    sections: tuple[str, ...]
    where: Where = NOWHERE


class Housing(StrEnum):
    """Where a thing lives: in the case, under the hands, at the way out, or inside a host."""

    MODULE = "module"
    CONTROLLER = "controller"
    INTERFACE = "interface"
    PROGRAM = "program"
    """A program that runs inside a host and has no panel."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """All there is to know about one model of module."""

    id: str
    title: str
    summary: str = ""
    housing: Housing = Housing.MODULE
    is_typical: bool = False
    """The figures are typical of such a module and are no maker's."""
    hp: int = 0
    depth_mm: float = 0.0
    draw_ma: Mapping[str, float] = field(default_factory=dict)
    """Current from each rail, named `+12V`, `-12V`, `+5V`. [mA]"""
    jacks: Mapping[str, Jack] = field(default_factory=dict)
    controls: Mapping[str, Control] = field(default_factory=dict)
    sections: Mapping[str, Section] = field(default_factory=dict)
    wires: tuple[Wire, ...] = ()
    slots: Mapping[str, Slot] = field(default_factory=dict)
    where: Where = NOWHERE
    surge_ma: Mapping[str, float] = field(default_factory=dict)
    """Current from each rail in the first milliseconds after switch-on, where the maker says so. [mA]"""
    screen_mm: tuple[float, float, float, float] | None = None
    """A screen on the panel: left, top, width, height. [mm]"""
