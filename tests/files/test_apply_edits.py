"""What an edit does to the model it does to the files: loading what was written equals applying it in memory."""

import inspect
import random
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from rigproof.errors import NOWHERE, FileError, RigError, Where
from rigproof.files.apply_edits import WRITERS, Kept, ProjectEdits, written
from rigproof.files.load import load_project
from rigproof.model import edits as model
from rigproof.model import patch_edits, rig_edits, set_edits
from rigproof.model.patch import Cable, Map
from rigproof.model.project import Project
from rigproof.model.rig import Mounted
from tests.files.projects import copy_tidepool

SHEET = """\
format = 1
title = "Fader and bank"
housing = "module"
hp = 4
depth_mm = 20

[jacks]
out = { way = "out", signal = "audio", from = "voice.out" }

[sections]
voice = { kind = "noise" }
"""
RIG = """\
# What I own.
format = 1
name = "Bench"  # a name

[case]
rows = [
  { hp = 84, depth_mm = 50 },  # the upper one
  { hp = 60, depth_mm = 40 },
]

[supply]
rails_ma = { "+12V" = 1200, "-12V" = 900 }  # from its plate
surge_ma = { "+12V" = 2000 }

[[supply.board]]
id = "left"
modules = ["one"]  # the first
awg = 18
lead_cm = 30

[[supply.board]]
id = "right"

# The first one.
[[module]]
id = "one"
sheet = "four"
row = 1
hp = 0

[[module]]
id = "two"
sheet = "four"
row = 1
hp = 8
turned = true

# Beside the case.
[[controller]]
id = "hand"
sheet = "hands"

[[interface]]
id = "far"
sheet = "way"

[[interface]]
id = "spare"
sheet = "way"

[[cables]]
lead = "mono-3.5"
cm = 45
count = 8  # teal ones
"""
PATCH = """\
# How it is wired.
format = 1

cables = [
  # twice the same
  { from = "one.out", to = "far.in", cm = 45 },  # first
  { from = "one.out", to = "far.in", colour = "teal" },
  { from = "one.sub", to = "far.aux", lead = "mono-3.5" },
]

[settings]
"one.level" = 0.5  # quiet
one.tune = "3 V"

[rhythm]
one.kick = { steps = 16, hits = 4 }

[samples]
"one.bank" = ["a.wav"]  # the old one

[[map]]
control = "hand.f1"
cc = 20
to = "one.cutoff"

[[map]]
control = "hand.f1"
cc = 21
channel = 3

[[declined]]
finding = "loud"
at = "one.out to far.in"
reason = "it sings"  # so it shall
"""
SET = """\
format = 1
[[section]]
id = "ebb"
bars = 8
settings = { "one.level" = 0.25, "one.tune" = 1 }  # both
moves = [
  { control = "one.level", to = 1, start = 0, bar = 2, beats = 6, hand = "left" },  # slowly
]

[[section]]
id = "flood"
bars = 4
[section.settings]
one.level = 0.9
"""
C = ("one.out", "far.in")
EDITS: list[model.Edit] = [
    model.AddCable(Cable("two.out", "far.in", "red", 30, "mono-3.5")),
    model.AddCable(Cable("two.out", "far.in")),
    model.RemoveCable(*C),
    model.RemoveCable(*C, nth=1),
    model.Replug(*C, "two.out", "far.aux", nth=1),
    model.SetCableLength(*C, 90),
    model.SetCableLength(*C, 90, nth=1),
    model.SetCableLength(*C, None),
    model.SetCableLength(*C, None, nth=1),
    model.SetCableLead("one.sub", "far.aux", "stereo-3.5"),
    model.SetCableLead("one.sub", "far.aux", None),
    model.SetCableLead(*C, None),
    model.SetControl("one.level", 0.75),
    model.SetControl("one.tune", "1 V"),
    model.SetControl("two.level", "soft"),
    model.ForgetControl("one.level"),
    model.ForgetControl("one.tune"),
    model.SetRhythm("one.kick", "hits", 5),
    model.SetRhythm("two.snare", "pattern", ("x", "-", "x")),
    model.SetSamples("one.bank", ("b.wav", "a.wav")),
    model.SetSamples("one.bank", ()),
    model.SetSamples("two.bank", ("a.wav",)),
    model.AddMap(Map("hand.f2", 30, 2, ("one.cutoff", "two.cutoff"))),
    model.AddMap(Map("hand.f3", 31)),
    model.SetMap("hand.f1", 40, 1),
    model.SetMap("hand.f1", 40, 1, nth=1),
    model.RemoveMap("hand.f1", nth=1),
    model.Decline("hot-submix", "far.in", 'it "sings"'),
    model.Decline("loud", "one.out to far.in", "it whispers"),
    model.AddModule(Mounted("three", "four", 1, 20)),
    model.AddModule(Mounted("three", "four", 1, 20, turned=True, ribbon="10-way")),
    model.MoveModule("one", 1, 40),
    model.MoveModule("two", 1, 40, turned=False),
    model.RemoveModule("two"),
    model.SetRail("+5V", 500.0),
    model.SetRail("-12V", 1250.5),
    model.SetSurge("-12V", 1800.0),
    model.SetRibbon("two", "16-way"),
    model.HangOnBoard("one", "right"),
    model.HangOnBoard("two", "left"),
    model.SetBoardLead("left", 1.5),
    model.SetBoardLead("right", 2.5),
    model.SetMoveLength("ebb", 0, 12.0),
    model.SetMoveHand("ebb", 0, "right"),
    model.FreeMoveStart("ebb", 0),
    model.GlideSetting("ebb", "one.level", 4.0, "left"),
    model.GlideSetting("flood", "one.level", 4.5),
    patch_edits.SetTempo(93.5),
    patch_edits.SetSeed(1871),
    patch_edits.SetPatchName('Night "two"'),
    patch_edits.SetCableColour(*C, "red"),
    patch_edits.SetCableColour(*C, "", nth=1),
    patch_edits.RemoveRhythm("one.kick"),
    patch_edits.SetMapTargets("hand.f1", ("two.cutoff", "one.cutoff")),
    patch_edits.SetMapTargets("hand.f1", ()),
    patch_edits.SetMapTargets("hand.f1", ("two.cutoff",), nth=1),
    patch_edits.Undecline("loud", "one.out to far.in"),
    rig_edits.SetRigName("Bench two"),
    rig_edits.AddRow(60, 30.5),
    rig_edits.SetRow(1, 104, 45.0),
    rig_edits.RemoveRow(2),
    rig_edits.RemoveRail("+12V"),
    rig_edits.SetHeadroom(0.25),
    rig_edits.AddBoard("top"),
    rig_edits.RemoveBoard("left"),
    rig_edits.AddOutside("controller", "pads", "hands"),
    rig_edits.AddOutside("interface", "pads", "way"),
    rig_edits.RemoveOutside("spare"),
    rig_edits.SetSheet("two", "way"),
    rig_edits.SetSheet("spare", "hands"),
    rig_edits.SetStock("mono-3.5", 45, 20),
    rig_edits.SetStock("mono-3.5", 45, 0),
    rig_edits.SetStock("stereo-3.5", 90, 2),
    rig_edits.RenameModule("one", "uno"),
    rig_edits.RenameModule("two", "due"),
    rig_edits.RenameModule("hand", "palm"),
    rig_edits.RenameModule("far", "desk"),
    set_edits.SetSetTempo(88.0),
    set_edits.SetSetTempo(None),
    set_edits.SetBeatsPerBar(3),
    set_edits.SetSetName("Night"),
    set_edits.AddPassage("slack", 4),
    set_edits.AddPassage("slack", 4, 'The "still" water', 71.5, 0),
    set_edits.SetPassage("ebb", 12, "Out", 66.0),
    set_edits.SetPassage("flood", 4),
    set_edits.RemovePassage("ebb"),
    set_edits.RemovePassage("flood"),
    set_edits.MovePassage("flood", 0),
    set_edits.MovePassage("ebb", 1),
    set_edits.MovePassage("ebb", 0),
    set_edits.SetPassageControl("ebb", "one.level", 0.75),
    set_edits.SetPassageControl("flood", "one.tune", "2 V"),
    set_edits.SetPassageControl("flood", "two.level", 1),
    set_edits.ForgetPassageControl("ebb", "one.tune"),
    set_edits.ForgetPassageControl("flood", "one.level"),
    set_edits.AddMove("ebb", "two.level", 0.5),
    set_edits.AddMove("flood", "one.level", 1, 2, 3.5, 4.0, 0.25, "left", 'a "note"'),
    set_edits.SetMove("ebb", 0, "two.level", 0.5),
    set_edits.SetMove("ebb", 0, "one.level", "2 V", 2, 1.5, 8.0, 0, "right", "slowly"),
    set_edits.RemoveMove("ebb", 0),
]


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    folder = tmp_path / "bench"
    (folder / "modules").mkdir(parents=True)
    for name in ("a.wav", "b.wav"):
        (folder / name).write_bytes(b"RIFF")
    for name, text in {
        "rig.toml": RIG,
        "bench.patch.toml": PATCH,
        "bench.set.toml": SET,
        "modules/four.toml": SHEET,
        "modules/hands.toml": SHEET.replace('"module"', '"controller"'),
        "modules/way.toml": SHEET.replace('"module"', '"interface"'),
    }.items():
        (folder / name).write_text(text, "utf-8")
    return folder


def placeless(value: Any) -> Any:
    """The same value with no line numbers in it."""
    if isinstance(value, Where):
        return NOWHERE
    if is_dataclass(value) and not isinstance(value, type):
        named = {f.name: placeless(getattr(value, f.name)) for f in fields(value)}
        return replace(value, **named)
    if isinstance(value, tuple):
        return tuple(placeless(v) for v in value)
    if isinstance(value, dict):
        return {k: placeless(v) for k, v in value.items()}
    return value


def project_in(folder: Path) -> Project:
    found = placeless(load_project(folder).require_project())
    assert isinstance(found, Project)
    return found


def test_every_edit_of_the_model_is_written_and_tried_here() -> None:
    classes = {
        value
        for room in (model, patch_edits, rig_edits, set_edits)
        for value in vars(room).values()
        if inspect.isclass(value) and value.__module__ == room.__name__ and value is not model.Edit
    }
    assert set(WRITERS) == classes
    assert {type(edit) for edit in EDITS} == classes


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit.words)
def test_loading_what_was_written_equals_applying_it(bench: Path, edit: model.Edit) -> None:
    loaded = load_project(bench)
    wanted = placeless(edit.apply(loaded.require_project()))
    changed = written(loaded, [edit])
    comments = [
        line.partition("#")[2].strip()
        for text in (RIG, PATCH, SET)
        for line in text.splitlines()
        if "#" in line
    ]
    for path, (old, new) in changed.items():
        assert old == path.read_text("utf-8")
        path.write_text(new, "utf-8")
    assert project_in(bench) == wanted
    left = "".join(p.read_text("utf-8") for p in sorted(bench.glob("*.toml")))
    lost = [comment for comment in comments if comment not in left]
    assert len(lost) <= (1 if is_taking(edit) else 0) + 2 * is_taking_a_block(edit), lost


def is_taking(edit: model.Edit) -> bool:
    """Whether an edit takes out a line, with what stands behind it on that line or right above."""
    taking = (
        model.RemoveCable,
        model.RemoveModule,
        model.ForgetControl,
        model.GlideSetting,
        patch_edits.RemoveRhythm,
        patch_edits.Undecline,
        rig_edits.RemoveBoard,
        rig_edits.RemoveOutside,
        rig_edits.RemoveRail,
        rig_edits.RemoveRow,
        set_edits.ForgetPassageControl,
        set_edits.RemoveMove,
    )
    return isinstance(edit, taking) or edit in (
        model.SetSamples("one.bank", ()),
        rig_edits.SetStock("mono-3.5", 45, 0),
    )


def is_taking_a_block(edit: model.Edit) -> bool:
    """Whether an edit takes out a table with comments inside."""
    return edit == set_edits.RemovePassage("ebb")


def test_many_edits_one_after_the_other(bench: Path) -> None:
    """Edits that stand on each other: a cable that an edit before has moved is found where it is now."""
    loaded = load_project(bench)
    chain: list[model.Edit] = [
        model.Replug(*C, "two.out", "far.aux"),
        model.SetCableLength("two.out", "far.aux", 15),
        model.AddModule(Mounted("three", "four", 1, 20)),
        model.HangOnBoard("three", "left"),
        model.RemoveModule("three"),
        model.SetMoveLength("ebb", 0, 2.5),
    ]
    wanted = placeless(model.apply_edits(loaded.require_project(), chain))
    for path, (_, new) in written(loaded, chain).items():
        path.write_text(new, "utf-8")
    assert project_in(bench) == wanted


@pytest.mark.parametrize(
    "edit",
    [
        model.RemoveCable("one.out", "nowhere.in"),
        model.RemoveModule("one"),
        model.SetBoardLead("top", 1.0),
        model.SetMoveLength("ebb", 5, 1.0),
        model.AddModule(Mounted("two", "four", 1, 30)),
    ],
    ids=lambda edit: edit.words,
)
def test_an_edit_of_what_is_not_there_changes_nothing(bench: Path, edit: model.Edit) -> None:
    files = ProjectEdits(load_project(bench))
    files.apply(model.SetRail("+5V", 100.0))
    before = files.changed()
    with pytest.raises(RigError):
        files.apply(edit)
    assert files.changed() == before


def test_a_project_without_a_set_has_no_set_to_write_to(tmp_path: Path) -> None:
    folder = copy_tidepool(tmp_path)
    for path in folder.glob("*.set.toml"):
        path.unlink()
    with pytest.raises(RigError):
        written(load_project(folder), [model.SetMoveHand("ebb", 0, "left")])


def test_a_rig_without_a_patch_has_no_patch_to_write_to(tmp_path: Path) -> None:
    folder = copy_tidepool(tmp_path)
    for path in (*folder.glob("*.set.toml"), *folder.glob("*.patch.toml")):
        path.unlink()
    with pytest.raises(FileError):
        written(load_project(folder), [model.SetControl("submix.level", 0.5)])


def test_a_surge_in_a_rig_without_a_supply(bench: Path) -> None:
    rig = bench / "rig.toml"
    rig.write_text('format = 1\nname = "Bare"\n', "utf-8")
    (bench / "bench.set.toml").unlink()
    (bench / "bench.patch.toml").unlink()
    loaded = load_project(bench)
    edit = model.SetSurge("+12V", 900.0)
    wanted = placeless(edit.apply(loaded.require_project()))
    rig.write_text(written(loaded, [edit])[loaded.rig_path or rig][1], "utf-8")
    assert project_in(bench) == wanted


@pytest.mark.parametrize("seed", range(4))
def test_files_kept_between_edits_are_written_alike(bench: Path, seed: int) -> None:
    """The same edits one by one, on files taken apart once and on files taken apart anew, leave the same texts."""
    chance = random.Random(seed)
    kept: Kept = {}
    done = 0
    for edit in chance.sample(EDITS, 40):
        loaded = load_project(bench)
        try:
            fresh = written(loaded, [edit])
        except RigError:
            with pytest.raises(RigError):
                written(loaded, [edit], kept=kept)
            continue
        assert written(loaded, [edit], kept=kept) == fresh
        for path, (_, text) in fresh.items():
            if chance.random() < 0.8:  # sometimes it is not written after all
                path.write_text(text, "utf-8")
        if chance.random() < 0.2:  # and sometimes by another hand
            patch = bench / "bench.patch.toml"
            patch.write_text(patch.read_text("utf-8") + "# mine\n", "utf-8")
        done += 1
    assert done > 15
