"""The file format, version 1: every key of a rig, a patch, a set and a sheet, as one table of facts.

`read_shape` holds raw TOML against it, `rigproof.files.schema` writes it as JSON Schema and as a page of the docs.
Strict: an unknown key is an error, and no value is quietly turned into another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rigproof.files.values import (
    BOX,
    FILE_NAME,
    FLAG,
    ID_VALUE,
    IDS,
    LANES,
    NAME,
    NAMES,
    PAIR_V,
    PATHS,
    PPQN,
    RANGE,
    RAW,
    SHARE,
    SPOT,
    TEXT,
    WIRE,
    Value,
    choice,
    number,
    whole,
)
from rigproof.model.rig import RAILS, RIBBONS
from rigproof.model.sheet import ControlShape, Housing, Plug, Signal, SlotTakes, Taper, Way

FORMAT = 1
"""The version of the file format that this rigproof reads and writes."""
LEADS = ("mono-3.5", "stereo-3.5", "midi-crossed", "midi-din", "usb", "ribbon", "line-6.3")
"""The sorts of lead that a cable can be."""
HANDS = ("left", "right")
CABLES_LIMIT = 5000
MODULES_LIMIT = 1000
ENTRIES_LIMIT = 10_000

REQUIRED: Any = object()
"""Stands for the value of a key that must be written."""


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of at most `limit` things."""

    item: Value | Table
    limit: int = ENTRIES_LIMIT


@dataclass(frozen=True, slots=True)
class MapOf:
    """A table whose keys the performer chooses."""

    key: Value
    item: Value | Table | MapOf
    limit: int = ENTRIES_LIMIT
    is_dotted: bool = False
    """The keys are `module.thing`, which may be written without quotes too, as a table in a table."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table: what it takes, what it means, and what stands for it when it is left out."""

    takes: Value | Table | ListOf | MapOf
    doc: str
    default: Any = REQUIRED


@dataclass(frozen=True, slots=True)
class Table:
    """A table with known keys; `others` reads every other key, None refuses them."""

    doc: str
    keys: Mapping[str, Key]
    others: Value | None = None


FORMAT_KEY = Key(whole(1, 10_000), "Version of the file format: 1.")
MM = number(0, 2000)
TEMPO = number(10, 1000)
CURRENT_MA = number(0, 100_000)
CM = whole(1, 5000)
SETTINGS = MapOf(NAME, RAW, is_dotted=True)

ROW = Table(
    "One row of the case.",
    {
        "hp": Key(whole(1, 1000), "Width. [HP]"),
        "depth_mm": Key(MM, "Depth free below the panels. [mm]"),
    },
)
CASE = Table("The case.", {"rows": Key(ListOf(ROW, 50), "Its rows, from the top.")})
RAILS_MA = MapOf(choice(*RAILS), CURRENT_MA, 3)
BOARD = Table(
    "A bus board of the supply, and the lead that feeds it.",
    {
        "id": Key(ID_VALUE, "What you call it."),
        "modules": Key(IDS, "The modules that hang on it.", ()),
        "lead_cm": Key(number(0, 1000), "Length of the lead from the supply. [cm]", None),
        "awg": Key(whole(4, 40), "Wire gauge of each conductor of the lead.", None),
        "mm2": Key(
            number(0.01, 100), "Cross-section of each conductor, instead of the gauge. [mm2]", None
        ),
        "limit_ma": Key(RAILS_MA, "What board, fuse or connector may carry on each rail. [mA]", {}),
    },
)
SUPPLY = Table(
    "What the supply gives.",
    {
        "rails_ma": Key(RAILS_MA, "Current that each rail gives. [mA]"),
        "headroom": Key(SHARE, "Share of each rail to keep free.", 0.2),
        "surge_ma": Key(RAILS_MA, "What each rail bears for a moment at switch-on. [mA]", {}),
        "board": Key(ListOf(BOARD, MODULES_LIMIT), "Its bus boards.", ()),
    },
)
MOUNTED = Table(
    "A module in the case.",
    {
        "id": Key(ID_VALUE, "What you call it."),
        "sheet": Key(ID_VALUE, "Its sheet: `modules/NAME.toml`, or one of the library."),
        "row": Key(whole(1, 50), "Row, counted from 1."),
        "hp": Key(whole(0, 1000), "Its left edge, counted from 0. [HP]"),
        "turned": Key(FLAG, "It hangs upside down.", False),
        "ribbon": Key(choice(*RIBBONS), "The ribbon that joins it to the bus.", None),
    },
)
OUTSIDE = Table(
    "A thing beside the case.",
    {
        "id": Key(ID_VALUE, "What you call it."),
        "sheet": Key(ID_VALUE, "Its sheet: `modules/NAME.toml`, or one of the library."),
    },
)
STOCK = Table(
    "So many cables of one sort in the box.",
    {
        "lead": Key(choice(*LEADS), "Sort of lead.", "mono-3.5"),
        "cm": Key(CM, "Length. [cm]"),
        "count": Key(whole(1, 10_000), "How many."),
    },
)
RIG_FILE = Table(
    "What you own: `rig.toml`.",
    {
        "format": FORMAT_KEY,
        "name": Key(TEXT, "Name of the rig."),
        "case": Key(CASE, "The case.", None),
        "supply": Key(SUPPLY, "The supply.", None),
        "module": Key(ListOf(MOUNTED, MODULES_LIMIT), "The modules in the case.", ()),
        "controller": Key(ListOf(OUTSIDE, MODULES_LIMIT), "What stands under your hands.", ()),
        "interface": Key(ListOf(OUTSIDE, MODULES_LIMIT), "Interfaces, desks, the way out.", ()),
        "cables": Key(ListOf(STOCK), "The cables in the box.", ()),
    },
)

CABLE = Table(
    "One cable.",
    {
        "from": Key(NAME, "The output, as `module.jack`."),
        "to": Key(NAME, "The input, as `module.jack`."),
        "colour": Key(TEXT, "Its colour, for the papers.", ""),
        "cm": Key(CM, "Its length. [cm]", None),
        "lead": Key(choice(*LEADS), "Sort of lead; follows from the jacks.", None),
    },
)
CONNECTION = Table(
    "One connection between programs; no cable, so it has no length.",
    {
        "from": Key(NAME, "The output: `program.jack`, or `host.jack`, an inner jack of the host."),
        "to": Key(NAME, "The input."),
    },
)
MAP = Table(
    "A knob or fader of a controller sends a controller number.",
    {
        "control": Key(NAME, "The knob or fader, as `controller.control`."),
        "cc": Key(whole(0, 127), "MIDI controller number."),
        "channel": Key(whole(1, 16), "MIDI channel.", 1),
        "to": Key(NAMES, "The slots that listen to it, as `module.slot`.", ()),
    },
)
DECLINED = Table(
    "A finding that you have read and let stand.",
    {
        "finding": Key(ID_VALUE, "Name of the finding."),
        "at": Key(TEXT, "Where it is."),
        "reason": Key(TEXT, "Why it may stand."),
    },
)
PATCH_FILE = Table(
    "How the rig is wired and set: `NAME.patch.toml`.",
    {
        "format": FORMAT_KEY,
        "name": Key(TEXT, "Name of the patch; else the file's.", None),
        "rig": Key(FILE_NAME, "The rig that it is made on.", "rig.toml"),
        "tempo_bpm": Key(TEMPO, "Tempo. [beats a minute]", 120.0),
        "seed": Key(
            whole(0, 2**53 - 1), "All chance follows from it, so that a render repeats.", 1
        ),
        "cables": Key(ListOf(CABLE, CABLES_LIMIT), "The cables.", ()),
        "settings": Key(SETTINGS, "Where each control stands, by `module.control`.", {}),
        "rhythm": Key(
            MapOf(NAME, MapOf(ID_VALUE, RAW), is_dotted=True),
            "What stands in each rhythm slot, by `module.slot`.",
            {},
        ),
        "samples": Key(
            MapOf(NAME, PATHS, is_dotted=True), "The samples in each slot, by `module.slot`.", {}
        ),
        "map": Key(ListOf(MAP), "What the controllers send.", ()),
        "inside": Key(
            MapOf(ID_VALUE, FILE_NAME), "What runs inside each host: `NAME.inside.toml`.", {}
        ),
        "declined": Key(ListOf(DECLINED), "Findings that may stand.", ()),
    },
)
INSIDE_FILE = Table(
    "What runs inside a host: `NAME.inside.toml`. Names are those of the programs; `host` is the module itself.",
    {
        "format": FORMAT_KEY,
        "name": Key(TEXT, "Name of it; else the file's.", None),
        "program": Key(ListOf(OUTSIDE, MODULES_LIMIT), "The programs.", ()),
        "cables": Key(ListOf(CONNECTION, CABLES_LIMIT), "What is connected.", ()),
        **{key: PATCH_FILE.keys[key] for key in ("settings", "rhythm", "samples", "map")},
    },
)

MOVE = Table(
    "One gesture.",
    {
        "control": Key(NAME, "What is moved, as `module.control`."),
        "to": Key(RAW, "Where it goes."),
        "start": Key(RAW, "Where it comes from; else where it stands.", None),
        "bar": Key(whole(1, 100_000), "Bar of the section, counted from 1.", 1),
        "beat": Key(number(1, 1000), "Beat of the bar, counted from 1.", 1.0),
        "beats": Key(number(0, 100_000), "How long it takes. [beats]", 0.0),
        "hand": Key(choice(*HANDS), "The hand that does it.", "right"),
        "note": Key(TEXT, "A word to yourself.", ""),
    },
)
PASSAGE = Table(
    "A section of the set.",
    {
        "id": Key(ID_VALUE, "What you call it."),
        "title": Key(TEXT, "Its title on the papers.", ""),
        "bars": Key(whole(1, 100_000), "How long it is. [bars]"),
        "tempo_bpm": Key(TEMPO, "Tempo from here on. [beats a minute]", None),
        "settings": Key(SETTINGS, "What stands otherwise when it begins.", {}),
        "moves": Key(ListOf(MOVE), "What the hands do.", ()),
    },
)
SET_FILE = Table(
    "How the patch is played: `NAME.set.toml`.",
    {
        "format": FORMAT_KEY,
        "name": Key(TEXT, "Name of the set; else the file's.", None),
        "patch": Key(FILE_NAME, "The patch that is played; else the one named like the set.", None),
        "tempo_bpm": Key(TEMPO, "Tempo; else the patch's. [beats a minute]", None),
        "beats_per_bar": Key(whole(1, 64), "Beats in a bar.", 4),
        "section": Key(ListOf(PASSAGE), "The sections, in order.", ()),
    },
)

JACK = Table(
    "One jack.",
    {
        "way": Key(choice(*Way), "Follows from `to`, `from` or `joins`.", None),
        "signal": Key(choice(*Signal), "What it carries."),
        "plug": Key(choice(*Plug), "The connector.", Plug.MONO.value),
        "to": Key(LANES, "The section inputs that it feeds.", None),
        "from": Key(LANES, "The section output that it gives.", None),
        "range_v": Key(PAIR_V, "What it gives or understands. [V]", (-5.0, 5.0)),
        "resistance_ohm": Key(
            number(0, 1e12), "Output or input resistance: 1000 or 100000. [ohm]", None
        ),
        "clamp_v": Key(PAIR_V, "Where an output stops. [V]", (-11.0, 11.0)),
        "normal": Key(ID_VALUE, "Jack of the same module that feeds it while it is open.", None),
        "normal_v": Key(
            number(-15, 15), "Steady voltage that feeds it while it is open. [V]", None
        ),
        "joins": Key(IDS, "Bare contacts that it is joined to.", ()),
        "needed": Key(FLAG, "The module does nothing useful without it.", False),
        "threshold_v": Key(number(-15, 15), "It fires when it rises through this. [V]", None),
        "min_pulse_ms": Key(number(0, 10_000), "The shortest pulse it is sure to see. [ms]", None),
        "ppqn": Key(PPQN, "Pulses per quarter note that it expects.", None),
        "ac_coupled": Key(FLAG, "It lets no steady voltage through.", False),
        "usb_ma": Key(
            number(0, 10_000), "What a USB device draws, or a USB host gives. [mA]", None
        ),
        "inside": Key(FLAG, "It belongs to the patch inside a host.", False),
        "at_mm": Key(SPOT, "From the panel's left and top edge. [mm]", None),
        "label": Key(TEXT, "What is written beside it.", ""),
    },
)
CONTROL = Table(
    "One thing to turn, push or choose.",
    {
        "shape": Key(choice(*ControlShape), "What the hand finds.", ControlShape.KNOB.value),
        "unit": Key(TEXT, "The unit of its value.", "ratio"),
        "range": Key(RANGE, "Where it begins and ends; 0 to 1, or over all choices.", None),
        "default": Key(RAW, "Where it stands unless the patch says otherwise.", None),
        "taper": Key(choice(*Taper), "How travel becomes value.", Taper.LINEAR.value),
        "choices": Key(ListOf(TEXT, 1000), "The named positions of a switch or menu.", ()),
        "sets": Key(NAMES, "The section parameters that it sets, as `section.parameter`.", ()),
        "at_mm": Key(SPOT, "From the panel's left and top edge. [mm]", None),
        "size_mm": Key(MM, "Its diameter, or a fader's length. [mm]", None),
        "label": Key(TEXT, "What is written beside it.", ""),
    },
)
SECTION = Table(
    "One thing inside that a circuit or program does.",
    {"kind": Key(ID_VALUE, "Its section kind; all other keys are the kind's own.")},
    others=RAW,
)
SLOT = Table(
    "A place inside that a patch fills.",
    {
        "takes": Key(choice(*SlotTakes), "What goes in."),
        "sections": Key(IDS, "The sections that take it."),
    },
)
SHEET_FILE = Table(
    "One model of module: `modules/NAME.toml`.",
    {
        "format": FORMAT_KEY,
        "title": Key(TEXT, "What it is called."),
        "summary": Key(TEXT, "What it does, in a sentence.", ""),
        "housing": Key(choice(*Housing), "Where it lives.", Housing.MODULE.value),
        "typical": Key(FLAG, "The figures are typical of such a module and no maker's.", False),
        "hp": Key(whole(0, 1000), "Width. [HP]", 0),
        "depth_mm": Key(MM, "Depth behind the panel. [mm]", 0.0),
        "draw_ma": Key(RAILS_MA, "Current from each rail. [mA]", {}),
        "surge_ma": Key(RAILS_MA, "Current from each rail for a moment at switch-on. [mA]", {}),
        "screen_mm": Key(BOX, "A screen: left, top, width, height. [mm]", None),
        "jacks": Key(MapOf(ID_VALUE, JACK, MODULES_LIMIT), "Its jacks.", {}),
        "controls": Key(MapOf(ID_VALUE, CONTROL, MODULES_LIMIT), "Its controls.", {}),
        "sections": Key(MapOf(ID_VALUE, SECTION, MODULES_LIMIT), "What is inside.", {}),
        "wires": Key(ListOf(WIRE), "From section outputs to section inputs, inside.", ()),
        "slots": Key(MapOf(ID_VALUE, SLOT, MODULES_LIMIT), "What a patch can fill.", {}),
    },
)

FILES: dict[str, Table] = {
    "rig": RIG_FILE,
    "patch": PATCH_FILE,
    "set": SET_FILE,
    "sheet": SHEET_FILE,
    "inside": INSIDE_FILE,
}
"""Every sort of file and its shape."""
