"""A good project loads whole, every thing knows its line, and the right files are chosen."""

import re
import shutil
import time
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from rigproof.errors import NOWHERE, FileError, RigErrors, UnknownName, Where
from rigproof.files.lines import key_text
from rigproof.files.load import load_project
from rigproof.files.shapes import LEADS
from rigproof.model.patch import Cable
from rigproof.model.sheet import INPUT_OHM, OUTPUT_OHM, Plug, Signal, Taper, Way
from rigproof.net.flatten import LEADS as NET_LEADS
from rigproof.net.flatten import flatten
from tests.files.projects import PATCH, SET, TIDEPOOL, copy_tidepool, spoil


def test_the_good_project_says_what_its_files_say() -> None:
    project = load_project(TIDEPOOL).require_project()
    rig, patch, setlist = project.rig, project.patch, project.setlist
    assert rig.name == "Tidepool"
    assert [(r.hp, r.depth_mm) for r in rig.rows] == [(60, 45.5), (60, 30.0)]
    assert rig.supply is not None
    assert rig.supply.rails_ma == {"+12V": 1200.0, "-12V": 900.0}
    assert rig.supply.headroom_ratio == 0.25
    assert [(m.id, m.sheet, m.row, m.hp, m.turned) for m in rig.modules] == [
        ("submix", "quiet-mixer", 1, 0, False),
        ("drift", "drift", 2, 12, True),
    ]
    assert [(o.id, o.sheet) for o in rig.outside] == [("desk", "two-inputs")]
    assert [(c.lead, c.cm, c.count) for c in rig.cables] == [("mono-3.5", 45, 12)]
    assert (patch.name, patch.rig, patch.tempo_bpm, patch.seed) == ("tidepool", "rig.toml", 96.0, 7)
    first = Where(PATCH, 8, "cables[0]")
    assert patch.cables[0] == Cable("submix.out", "drift.in", "teal", 45, None, first)
    assert patch.cables[2].lead == "mono-3.5"
    assert [(s.control, s.value) for s in patch.settings] == [
        ("submix.level", 0.8),
        ("drift.rise", "180 ms"),
    ]
    assert patch.declined[0].reason == "it is the sound of this patch"
    assert setlist is not None
    assert (setlist.name, setlist.patch, setlist.beats_per_bar) == ("Low water", PATCH, 3)
    ebb, flood = setlist.sections
    assert (ebb.id, ebb.bars, ebb.tempo_bpm) == ("ebb", 8, None)
    assert [(s.control, s.value) for s in ebb.settings] == [("submix.level", 0.4)]
    assert (ebb.moves[0].to, ebb.moves[0].hand, ebb.moves[0].beat) == ("1 s", "left", 1.0)
    assert (ebb.moves[1].bar, ebb.moves[1].beat, ebb.moves[1].note) == (5, 2.5, "slowly")
    assert (flood.title, flood.bars, flood.tempo_bpm) == ("Flood", 16, 104.0)


def test_the_good_sheets_say_what_their_files_say() -> None:
    sheets = load_project(TIDEPOOL).require_project().sheets
    mixer, drift, desk = sheets["quiet-mixer"], sheets["drift"], sheets["two-inputs"]
    assert (mixer.hp, mixer.depth_mm, mixer.is_typical) == (8, 25.0, True)
    assert mixer.draw_ma == {"+12V": 20.0, "-12V": 18.0}
    out = mixer.jacks["out"]
    assert (out.way, out.signal, out.plug) == (Way.OUT, Signal.AUDIO, Plug.MONO)
    assert out.lanes == {"tip": ("mix.out",)}
    assert (out.resistance_ohm, out.clamp_v, out.range_v) == (470.0, (-10.0, 10.0), (-5.0, 5.0))
    assert mixer.jacks["in-2"].normal == "in-1"
    assert mixer.jacks["in-1"].at_mm == (10.0, 20.0)
    level = mixer.controls["level"]
    assert (level.lo, level.hi, level.default, level.sets) == (0.0, 2.0, 1.0, ("mix.master",))
    assert mixer.sections["mix"].values == {"ways": 2, "gain": (0.5, 0.25)}
    assert drift.jacks["in"].range_v == (0.0, 8.0)
    assert (drift.jacks["in"].resistance_ohm, drift.jacks["out"].resistance_ohm) == (
        INPUT_OHM,
        OUTPUT_OHM,
    )
    rise = drift.controls["rise"]
    assert (rise.lo, rise.hi, rise.default, rise.unit) == (0.001, 2.0, 0.02, "s")
    assert rise.taper is Taper.LOG
    assert [(w.source, w.target) for w in drift.wires] == [("one.out", "two.in")]
    assert desk.housing == "interface"


def test_every_option_of_a_sheet_reaches_the_model(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    (project / "modules/two-inputs.toml").write_text(
        """format = 1
title = "All of it"
housing = "interface"
[jacks]
left = { to = { tip = "sum.in-1", ring = ["sum.in-2"] }, signal = "audio", plug = "stereo-3.5" }
beat = { to = "sum.in-3", signal = "clock", ppqn = "1/4", min_pulse_ms = 2, threshold_v = 1.5,
needed = true, normal_v = 5, ac_coupled = true, label = "BEAT" }
a = { joins = ["b"], signal = "cv" }
b = { way = "bare", signal = "cv" }
[controls.mode]
shape = "switch"
choices = ["slow", "fast", "off"]
default = "off"
at_mm = [5, 6]
size_mm = 4
[controls.open]
unit = "V"
range = [-5, 5]
[slots]
hits = { takes = "rhythm", sections = "sum" }
[sections.sum]
kind = "mixer"
""".replace("threshold_v = 1.5,\n", "threshold_v = 1.5, "),
        "utf-8",
    )
    sheet = load_project(project).require_project().sheets["two-inputs"]
    assert sheet.jacks["left"].lanes == {"tip": ("sum.in-1",), "ring": ("sum.in-2",)}
    beat = sheet.jacks["beat"]
    assert (beat.ppqn, beat.min_pulse_s, beat.threshold_v) == (Fraction(1, 4), 0.002, 1.5)
    assert (beat.needed, beat.normal_v, beat.is_ac_coupled, beat.label) == (True, 5.0, True, "BEAT")
    assert sheet.jacks["a"].way is sheet.jacks["b"].way is Way.BARE
    assert sheet.jacks["a"].joins == ("b",)
    mode = sheet.controls["mode"]
    assert (mode.lo, mode.hi, mode.default, mode.at_mm, mode.size_mm) == (0, 2, 2, (5, 6), 4)
    assert sheet.controls["open"].default == 0.0
    assert sheet.slots["hits"].sections == ("sum",)


def places(thing: Any) -> Iterator[tuple[Where, Any]]:
    """Every place in a project, with what claims to stand there."""
    if is_dataclass(thing):
        for field in fields(thing):
            value = getattr(thing, field.name)
            if isinstance(value, Where):
                yield value, thing
            else:
                yield from places(value)
    elif isinstance(thing, dict):
        for value in thing.values():
            yield from places(value)
    elif isinstance(thing, tuple):
        for value in thing:
            yield from places(value)


def test_everything_stands_on_the_line_it_names() -> None:
    """The line that is named is read again, and must hold what the model says, or open the table that does."""
    project = load_project(TIDEPOOL).require_project()
    seen = 0
    for where, thing in places(project):
        assert where is not NOWHERE
        if where.line is None:
            assert where.key == ""
            continue
        line = (TIDEPOOL / where.file).read_text("utf-8").split("\n")[where.line - 1]
        marks = [
            getattr(thing, name)
            for name in ("source", "control", "id", "finding")
            if hasattr(thing, name)
        ]
        if re.match(r"\s*\[+[a-z]", line):
            assert where.key.split("[")[0].split(".")[0] in line
        elif marks:
            assert marks[0] in line or marks[0].split(".")[-1] in line
        else:
            assert where.key.split("[")[0].split(".")[-1] in line or "hp" in line
        seen += 1
    assert seen > 30


def test_the_net_can_be_built_from_it() -> None:
    net = flatten(load_project(TIDEPOOL).require_project())
    assert {"submix.mix", "drift.one", "desk.sum"} <= {section.name for section in net.sections}


def test_a_patch_file_loads_like_its_folder() -> None:
    assert load_project(TIDEPOOL / PATCH).project == load_project(TIDEPOOL).project


def test_every_file_that_was_read_is_named() -> None:
    loaded = load_project(TIDEPOOL)
    assert {path.relative_to(TIDEPOOL).as_posix() for path in loaded.paths} == {
        "rig.toml",
        PATCH,
        SET,
        "modules/quiet-mixer.toml",
        "modules/drift.toml",
        "modules/two-inputs.toml",
    }


def test_settings_without_quotes_mean_the_same(tmp_path: Path) -> None:
    plain = load_project(TIDEPOOL).require_project().patch.settings
    project = copy_tidepool(tmp_path)
    spoil(project, PATCH, '"submix.level" = 0.8', "submix.level = 0.8")
    spoil(project, PATCH, "drift.rise = ", '"drift.rise" = ')
    assert load_project(project).require_project().patch.settings == plain


def test_rhythms_samples_and_maps_are_read(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    (project / "samples").mkdir()
    (project / "samples/drop.wav").write_bytes(b"RIFF, unheard")
    with (project / PATCH).open("a", encoding="utf-8") as patch:
        patch.write(
            """
[rhythm]
"drift.a" = { steps = 16, accents = [1, 5] }
[rhythm.drift]
b = { steps = 8 }
[samples]
drift.bank = "samples/drop.wav"
[[map]]
control = "desk.f1"
cc = 20
channel = 2
to = "drift.cutoff"
[[map]]
control = "desk.f2"
cc = 21
"""
        )
    patch_read = load_project(project).require_project().patch
    assert [(r.slot, r.values) for r in patch_read.rhythms] == [
        ("drift.a", {"steps": 16, "accents": (1, 5)}),
        ("drift.b", {"steps": 8}),
    ]
    assert patch_read.rhythms[1].where.line == 28
    assert [(s.slot, s.values) for s in patch_read.samples] == [
        ("drift.bank", {"files": ("samples/drop.wav",)})
    ]
    assert [(m.control, m.cc, m.channel, m.to) for m in patch_read.maps] == [
        ("desk.f1", 20, 2, ("drift.cutoff",)),
        ("desk.f2", 21, 1, ()),
    ]


# --- which files ----------------------------------------------------------------------------------------------------


def test_of_several_patches_the_one_named_like_the_folder_is_chosen(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    (project / "other.patch.toml").write_text("format = 1\nseed = 99\n")
    assert load_project(project).require_project().patch.seed == 7
    assert load_project(project / "other.patch.toml").require_project().patch.seed == 99


def test_several_patches_and_none_like_the_folder_is_an_error_that_lists_them(
    tmp_path: Path,
) -> None:
    project = copy_tidepool(tmp_path).rename(tmp_path / "lagoon")
    (project / "other.patch.toml").write_text("format = 1\n")
    [error] = load_project(project).errors
    assert isinstance(error, FileError)
    assert error.known == ("other.patch.toml", PATCH)


def test_a_rig_alone_is_a_project_without_cables(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    (project / PATCH).unlink()
    loaded = load_project(project).require_project()
    assert (loaded.patch.name, loaded.patch.cables, loaded.setlist) == ("tidepool", (), None)
    assert len(loaded.rig.modules) == 2


def test_a_set_is_found_by_its_patch_key(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    (project / SET).rename(project / "tonight.set.toml")
    assert load_project(project).require_project().setlist is None
    spoil(project, "tonight.set.toml", "format = 1\n", f'format = 1\npatch = "{PATCH}"\n')
    setlist = load_project(project).require_project().setlist
    assert setlist is not None
    assert setlist.where.file == "tonight.set.toml"


def test_two_sets_for_one_patch_is_an_error_that_lists_them(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    spoil(project, SET, "format = 1\n", f'format = 1\npatch = "{PATCH}"\n')
    shutil.copy(project / SET, project / "b.set.toml")
    (project / SET).rename(project / "a.set.toml")
    [error] = load_project(project).errors
    assert error.known == ("a.set.toml", "b.set.toml")


def test_the_projects_own_sheet_comes_before_the_librarys(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = tmp_path / "library"
    library.mkdir()
    monkeypatch.setattr("rigproof.files.sheet_files.library_folder", lambda: library)
    project = copy_tidepool(tmp_path)
    shutil.copy(project / "modules/drift.toml", library / "drift.toml")
    (project / "modules/two-inputs.toml").rename(library / "two-inputs.toml")
    spoil(project, "modules/drift.toml", 'title = "Drift"', 'title = "My drift"')
    sheets = load_project(project).require_project().sheets
    assert sheets["drift"].title == "My drift"
    assert sheets["drift"].where.file == "modules/drift.toml"
    assert sheets["two-inputs"].where.file == "library/two-inputs.toml"


def test_a_sheet_that_nobody_uses_is_not_even_read(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    (project / "modules/broken.toml").write_text("[[[")
    assert load_project(project).errors == ()


# --- partly broken --------------------------------------------------------------------------------------------------


def test_wrong_names_can_be_told_together_with_wrong_shapes(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    spoil(project, PATCH, "cm = 45", 'cm = "long"')
    spoil(project, PATCH, '"desk.left"', '"desk.lefd"')
    loaded = load_project(project)
    assert [error.where.key for error in loaded.errors] == ["cables[0].cm"]
    assert loaded.project is None
    assert loaded.partial is not None
    with pytest.raises(RigErrors) as caught:
        flatten(loaded.partial)
    [error] = caught.value.errors
    assert isinstance(error, UnknownName)
    assert (error.name, error.nearest, error.where.line) == ("lefd", "left", 9)


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("rig.toml", 'id = "drift"', 'id = "The Drift"'),
        ("rig.toml", "hp = 12", 'hp = "twelve"'),
        ("rig.toml", 'sheet = "drift"', 'sheet = "draft"'),
        ("modules/drift.toml", 'signal = "cv", range_v', 'signal = "cw", range_v'),
        ("modules/drift.toml", "format = 1", "format = "),
    ],
)
def test_one_error_does_not_draw_others_after_it(
    tmp_path: Path, file: str, old: str, new: str
) -> None:
    """What refers to a module that an error has hidden is not called unknown."""
    project = copy_tidepool(tmp_path)
    spoil(project, file, old, new)
    loaded = load_project(project)
    assert len(loaded.errors) == 1
    assert loaded.partial is not None
    flatten(loaded.partial)


def test_leads_are_those_that_the_net_knows() -> None:
    assert set(NET_LEADS.values()) <= set(LEADS)


def test_key_text_is_written_as_toml_would() -> None:
    assert key_text(("a-b", 0, "c.d", "e f", "")) == 'a-b[0]."c.d"."e f".""'


def big_project(folder: Path) -> Path:
    """Sixty modules of twenty-five models, 150 cables, a set of 200 moves."""
    project = copy_tidepool(folder)
    mixer = (project / "modules/quiet-mixer.toml").read_text("utf-8")
    for i in range(25):
        jacks = "".join(
            f'[jacks.extra-{j}]\nto = "mix.in-1"\nsignal = "cv"\nat_mm = [{j}, 10]\n\n'
            for j in range(12)
        )
        (project / f"modules/model-{i}.toml").write_text(mixer + "\n" + jacks, "utf-8")
    with (project / "rig.toml").open("a", encoding="utf-8") as rig:
        for i in range(60):
            rig.write(f'\n[[module]]\nid = "m-{i}"\nsheet = "model-{i % 25}"\nrow = 1\nhp = {i}\n')
    with (project / PATCH).open("w", encoding="utf-8") as patch:
        patch.write("format = 1\ncables = [\n")
        for i in range(150):
            ends = f'from = "m-{i % 60}.out", to = "m-{(i + 1) % 60}.in-{1 + i % 2}"'
            patch.write(f'  {{ {ends}, colour = "teal", cm = 45 }},  # {i}\n')
        patch.write("]\n[settings]\n")
        for i in range(60):
            patch.write(f"m-{i}.level = 0.{i + 10}\n")
    with (project / SET).open("a", encoding="utf-8") as setlist:
        setlist.write("moves = [\n")
        for i in range(200):
            setlist.write(f'  {{ control = "m-{i % 60}.level", to = 1, bar = {1 + i % 16} }},\n')
        setlist.write("]\n")
    return project


def fastest_s(project: Path, runs: int) -> float:
    """The fastest of some loads, in processor time, so that a busy machine does not count."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        loaded = load_project(project)
        times.append(time.process_time() - start)
        assert loaded.errors == ()
    return min(times)


@pytest.mark.bench
def test_a_big_rig_loads_in_well_under_a_tenth_of_a_second(tmp_path: Path) -> None:
    assert fastest_s(big_project(tmp_path), 5) < 0.1


def test_a_big_rig_loads_whole(tmp_path: Path) -> None:
    project = load_project(big_project(tmp_path)).require_project()
    assert (len(project.rig.modules), len(project.patch.cables)) == (62, 150)
    assert project.patch.cables[149].where.line == 152
