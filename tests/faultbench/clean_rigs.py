"""Three clean rigs to plant faults in: the demo, a small one of two voices, and a large one that a script builds.

The small and the large one are made of library sheets and invented names. Neither is meant to sound like much; both are
wired, powered and set as a careful performer would, so that nothing above worth-knowing is to be said about them.
"""

from __future__ import annotations

import json
from pathlib import Path

import rigproof.demo
from rigproof.files.load import load_project
from rigproof.files.sheet_files import library_folder
from rigproof.model.project import Project

DEMO = Path(rigproof.demo.__file__).parent / "lowtide"

SMALL_RIG = """
format = 1
name = "Two lanterns"
[case]
rows = [{ hp = 84, depth_mm = 45 }, { hp = 84, depth_mm = 45 }]
[supply]
rails_ma = { "+12V" = 1500, "-12V" = 1200, "+5V" = 500 }
[[supply.board]]
id = "upper"
modules = ["clock", "beat", "notes", "env", "lfo", "bridge"]
lead_cm = 30
awg = 18
limit_ma = { "+12V" = 600, "-12V" = 600 }
[[supply.board]]
id = "lower"
modules = ["bass", "lead", "ladder", "vcas", "echo", "submix", "out"]
lead_cm = 40
mm2 = 0.75
limit_ma = { "+12V" = 1000, "-12V" = 900 }
"""
SMALL_MODULES = (
    ("clock", "clock-6", 1, 0),
    ("beat", "step-rhythm-4", 1, 8),
    ("notes", "note-sequencer-16", 1, 22),
    ("env", "dual-envelope", 1, 34),
    ("lfo", "dual-lfo", 1, 42),
    ("bridge", "midi-cv-12", 1, 50),
    ("bass", "oscillator", 2, 0),
    ("lead", "oscillator", 2, 10),
    ("ladder", "ladder-filter", 2, 20),
    ("vcas", "quad-vca", 2, 28),
    ("echo", "stereo-echo", 2, 38),
    ("submix", "duck-submix", 2, 52),
    ("out", "line-out-2", 2, 64),
)
SMALL_PATCH = """
format = 1
tempo_bpm = 96
cables = [
  { from = "clock.sixteenth", to = "beat.clock", cm = 30 },
  { from = "clock.reset", to = "beat.reset", cm = 30 },
  { from = "clock.sixteenth-straight", to = "echo.clock", cm = 60 },
  { from = "beat.trig-1", to = "env.trig-1", cm = 45 },
  { from = "beat.trig-2", to = "notes.clock", cm = 30 },
  { from = "beat.cycle-2", to = "notes.reset", cm = 30 },
  { from = "notes.gate", to = "env.trig-2", cm = 30 },
  { from = "notes.pitch", to = "lead.pitch", cm = 45 },
  { from = "notes.pitch-too", to = "bass.pitch", cm = 45 },
  { from = "bass.saw", to = "ladder.in", cm = 30 },
  { from = "ladder.out", to = "vcas.in-1", cm = 15 },
  { from = "lead.triangle", to = "vcas.in-2", cm = 30 },
  { from = "env.env-1", to = "vcas.cv-1", cm = 45 },
  { from = "env.env-2", to = "vcas.cv-2", cm = 45 },
  { from = "env.env-1-too", to = "ladder.cutoff-cv-1", cm = 45 },
  { from = "lfo.sine-1", to = "ladder.cutoff-cv-2", cm = 45 },
  { from = "vcas.out-1", to = "submix.left-1", cm = 45 },
  { from = "vcas.out-2", to = "submix.left-2", cm = 45 },
  { from = "vcas.out-2", to = "echo.left", cm = 30 },
  { from = "echo.out-left", to = "submix.left-3", cm = 15 },
  { from = "echo.out-right", to = "submix.right-3", cm = 15 },
  { from = "submix.out-left", to = "out.left-1", cm = 15 },
  { from = "submix.out-right", to = "out.right-1", cm = 15 },
  { from = "bridge.out-1", to = "vcas.cv-3", cm = 45 },
  { from = "vcas.out-3", to = "submix.left-4", cm = 45 },
  { from = "bass.sine", to = "vcas.in-3", cm = 45 },
  { from = "out.line-left", to = "desk.left", cm = 300 },
  { from = "out.line-right", to = "desk.right", cm = 300 },
  { from = "faders.usb", to = "bridge.usb", cm = 100 },
]
[settings]
"ladder.depth-1" = 0.3
"ladder.depth-2" = 0.2
"ladder.cutoff" = "200 Hz"
"echo.feedback" = 0.4
"submix.level-1" = 0.6
"submix.level-2" = 0.6
"submix.level-3" = 0.5
"submix.level-4" = 0.4
"faders.f1" = 0.4
[rhythm]
"beat.rhythm-1" = { steps = "x...x...x...x..." }
"beat.rhythm-2" = { steps = "x..x..x." }
"notes.notes" = { notes = ["C3", "Eb3", "G3", "Bb3"] }
[[map]]
control = "faders.f1"
cc = 20
to = "bridge.cc-1"
"""
SMALL_SET = """
format = 1
[[section]]
id = "first"
bars = 16
moves = [
  { control = "faders.f1", to = 0.6, bar = 3, beats = 8, hand = "left" },
  { control = "submix.level-2", to = 0.7, bar = 9, beats = 8, hand = "right" },
]
[[section]]
id = "second"
bars = 16
moves = [{ control = "faders.f1", to = 0.2, bar = 9, beats = 16, hand = "left" }]
"""
SMALL_REST = """
[[controller]]
id = "faders"
sheet = "fader-box-8"
[[interface]]
id = "desk"
sheet = "interface-2"
"""
SMALL_STOCK = ((15, 6), (30, 12), (45, 16), (60, 6), (90, 3))
OTHER_STOCK = (("usb", 100, 1), ("line-6.3", 300, 2))


def _module(id_: str, sheet: str, row: int, hp: int) -> str:
    return f'[[module]]\nid = "{id_}"\nsheet = "{sheet}"\nrow = {row}\nhp = {hp}\n'


def _stock(lead: str, cm: int, count: int) -> str:
    return f'[[cables]]\nlead = "{lead}"\ncm = {cm}\ncount = {count}\n'


def write_small(folder: Path) -> Path:
    """Write the small rig: a clock, a rhythm, a line of notes, two voices, an echo, a submix."""
    folder.mkdir(parents=True)
    stock = [("mono-3.5", cm, n) for cm, n in SMALL_STOCK] + list(OTHER_STOCK)
    parts = [SMALL_RIG, *(_module(*m) for m in SMALL_MODULES), SMALL_REST]
    parts += [_stock(*s) for s in stock]
    (folder / "rig.toml").write_text("".join(parts), "utf-8")
    (folder / "lanterns.patch.toml").write_text(SMALL_PATCH, "utf-8")
    (folder / "lanterns.set.toml").write_text(SMALL_SET, "utf-8")
    return folder


# --- the large one ---------------------------------------------------------------------------------------------------

BLOCK = (
    ("mult", "mult-4"),
    ("beat", "step-rhythm-4"),
    ("notes", "note-sequencer-16"),
    ("env", "dual-envelope"),
    ("lfo", "dual-lfo"),
    ("osc", "oscillator"),
    ("sub", "oscillator"),
    ("mix", "mixer-4"),
    ("ladder", "ladder-filter"),
    ("sea", "noise-filter"),
    ("shape", "attenuverter-4"),
    ("vcas", "quad-vca"),
    ("echo", "stereo-echo"),
    ("submix", "duck-submix"),
)
BLOCKS = 4
ROW_HP, ROW_DEPTH_MM = 168, 45.0
BLOCK_CABLES = (
    ("mult.a-2", "beat.clock"),
    ("mult.a-3", "echo.clock"),
    ("mult.b-2", "beat.reset"),
    ("beat.trig-1", "env.trig-1"),
    ("beat.trig-2", "notes.clock"),
    ("beat.cycle-2", "notes.reset"),
    ("notes.gate", "env.trig-2"),
    ("notes.pitch", "osc.pitch"),
    ("notes.pitch-too", "sub.pitch"),
    ("osc.saw", "mix.in-1"),
    ("sub.triangle", "mix.in-2"),
    ("mix.out", "ladder.in"),
    ("env.env-1-too", "ladder.cutoff-cv-1"),
    ("lfo.sine-1", "shape.in-1"),
    ("shape.out-1", "ladder.cutoff-cv-2"),
    ("ladder.out", "vcas.in-1"),
    ("env.env-1", "vcas.cv-1"),
    ("sea.shaped", "vcas.in-2"),
    ("env.env-2", "vcas.cv-2"),
    ("vcas.out-1", "submix.left-1"),
    ("vcas.out-2", "submix.left-2"),
    ("vcas.mix", "echo.left"),
    ("echo.out-left", "submix.left-3"),
    ("echo.out-right", "submix.right-3"),
    ("lfo.triangle-2", "shape.in-3"),
    ("shape.out-3", "sea.cutoff-cv"),
    ("lfo.triangle-1", "shape.in-4"),
    ("shape.out-4", "echo.feedback-cv"),
    ("osc.pulse", "mix.in-4"),
)
BLOCK_SETTINGS = {
    "mix.level-1": 0.4,
    "mix.level-2": 0.4,
    "mix.level-4": 0.1,
    "ladder.cutoff": 300.0,
    "ladder.depth-1": 0.3,
    "ladder.depth-2": 0.2,
    "shape.amount-1": 0.5,
    "shape.amount-3": 0.5,
    "shape.amount-4": 0.5,
    "echo.feedback": 0.3,
    "submix.level-1": 0.4,
    "submix.level-2": 0.3,
    "submix.level-3": 0.3,
}
LARGE_SET = """
format = 1
[[section]]
id = "dark"
bars = 8
moves = [
  { control = "faders.f1", to = 0.6, bar = 1, beats = 8, hand = "left" },
  { control = "faders.f3", to = 0.6, bar = 2, beats = 8, hand = "right" },
]
[[section]]
id = "bright"
bars = 8
moves = [
  { control = "faders.f2", to = 0.6, bar = 1, beats = 8, hand = "left" },
  { control = "submix-4.level-1", to = 0.5, bar = 2, beats = 4, hand = "right" },
  { control = "faders.f1", to = 0.3, bar = 5, beats = 8, hand = "left" },
]
"""
STEPS = ("x...x...x...x...", "x..x..x.x..x..x.", "x.....x...x.....", "..x...x...x...x.")
NOTES = (["C3", "Eb3", "G3", "Bb3"], ["C4", "G3", "Eb4", "D4"], ["C2", "C2", "G2", "F2"], ["G4"])


def large_modules() -> list[tuple[str, str]]:
    """Return id and sheet of every module of the large rig: four blocks, a clock, a bridge and two ways out."""
    blocks = [(f"{id_}-{b}", sheet) for b in range(1, BLOCKS + 1) for id_, sheet in BLOCK]
    head = [("clock", "clock-6"), ("bridge", "midi-cv-12")]
    return [*head, *blocks, ("out-1", "line-out-2"), ("out-2", "line-out-2")]


def large_cables() -> list[tuple[str, str]]:
    """Return the cables of the large rig: each block's own, the clock's from mult to mult, and the ways out."""

    def named(end: str, block: int) -> str:
        module, _, jack = end.partition(".")
        return f"{module}-{block}.{jack}"

    cables = []
    for b in range(1, BLOCKS + 1):
        cables += [(named(x, b), named(y, b)) for x, y in BLOCK_CABLES]
        for jack, lane in (("sixteenth", "a"), ("reset", "b")):
            before = f"clock.{jack}" if b == 1 else f"mult-{b - 1}.{lane}-4"
            cables.append((before, f"mult-{b}.{lane}-1"))
        out, pair = f"out-{(b + 1) // 2}", 2 - b % 2
        cables += [(f"submix-{b}.out-{side}", f"{out}.{side}-{pair}") for side in ("left", "right")]
        cables.append((f"bridge.out-{b}", f"vcas-{b}.cv-3"))
        cables += [(f"sub-{b}.sine", f"vcas-{b}.in-3"), (f"vcas-{b}.out-3", f"submix-{b}.left-4")]
    for i in (1, 2):
        cables += [(f"out-{i}.line-{side}", f"desk.{side}-{i}") for side in ("left", "right")]
    return [*cables, ("clock.quarter", "lfo-1.clock-2"), ("faders.usb", "bridge.usb")]


def placed_modules() -> tuple[list[tuple[str, str, int, int]], int]:
    """Return the modules row by row from the left, and how many rows they take."""
    placed, row, edge = [], 1, 0
    for id_, sheet in large_modules():
        hp = _hp(sheet)
        if edge + hp > ROW_HP:
            row, edge = row + 1, 0
        placed.append((id_, sheet, row, edge))
        edge += hp
    return placed, row


def _hp(sheet: str) -> int:
    lines = (library_folder() / f"{sheet}.toml").read_text("utf-8").splitlines()
    return next(int(line.split("=")[1]) for line in lines if line.startswith("hp ="))


def write_large(folder: Path) -> Path:
    """Write the large rig: sixty modules, a hundred and fifty cables, and a short set."""
    folder.mkdir(parents=True)
    modules, rows = placed_modules()
    row = f"{{ hp = {ROW_HP}, depth_mm = {ROW_DEPTH_MM} }}"
    rig = [
        'format = 1\nname = "Sixty lanterns"\n',
        f"[case]\nrows = [{', '.join([row] * rows)}]\n",
        '[supply]\nrails_ma = { "+12V" = 6000, "-12V" = 5000, "+5V" = 1000 }\n',
        *(_module(*m) for m in modules),
        '[[controller]]\nid = "faders"\nsheet = "fader-box-8"\n',
        '[[interface]]\nid = "desk"\nsheet = "stage-desk-4"\n',
    ]
    (folder / "rig.toml").write_text("".join(rig), "utf-8")
    blocks = range(1, BLOCKS + 1)
    lines = [f'  {{ from = "{a}", to = "{b}" }},\n' for a, b in large_cables()]
    settings = [
        f'"{name.partition(".")[0]}-{b}.{name.partition(".")[2]}" = {value}\n'
        for b in blocks
        for name, value in {**BLOCK_SETTINGS, "submix.level-4": 0.3}.items()
    ]
    rhythms = [
        f'"beat-{b}.rhythm-1" = {{ steps = "{STEPS[b - 1]}" }}\n'
        f'"beat-{b}.rhythm-2" = {{ steps = "{STEPS[-b]}" }}\n'
        f'"notes-{b}.notes" = {{ notes = {json.dumps(NOTES[b - 1])} }}\n'
        for b in blocks
    ]
    maps = [
        f'[[map]]\ncontrol = "faders.f{b}"\ncc = {19 + b}\nto = "bridge.cc-{b}"\n' for b in blocks
    ]
    patch = ["format = 1\ntempo_bpm = 110\ncables = [\n", *lines, "]\n[settings]\n", *settings]
    patch += [f'"faders.f{b}" = 0.3\n' for b in blocks]
    (folder / "sixty.patch.toml").write_text(
        "".join([*patch, "[rhythm]\n", *rhythms, *maps]), "utf-8"
    )
    (folder / "sixty.set.toml").write_text(LARGE_SET, "utf-8")
    return folder


def load(folder: Path) -> Project:
    """Load a rig; raises what is wrong with its files."""
    return load_project(folder).require_project()
