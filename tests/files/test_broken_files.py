"""A table of broken files: each is one change to a good project, and one error that says where and what would do."""

from pathlib import Path
from typing import NamedTuple

import pytest

from rigproof.errors import FileError, RigError, ShapeError, UnknownName
from rigproof.files.load import load_project
from rigproof.files.reading import ERRORS_LIMIT
from tests.files.projects import PATCH, SET, copy_tidepool, spoil

RIG = "rig.toml"
MIXER = "modules/quiet-mixer.toml"
DRIFT = "modules/drift.toml"


class Broken(NamedTuple):
    """A change, and the error it makes: line, key, a piece of the text, nearest name."""

    file: str
    old: str
    new: str
    line: int | None
    key: str
    says: str
    nearest: str | None = None
    sort: type[RigError] = ShapeError


TABLE = [
    # what is no TOML
    Broken(RIG, 'name = "Tidepool"', "name = Tidepool", 3, "", "this is no value", None, FileError),
    Broken(RIG, 'name = "Tidepool"', 'name = "Tidepool', 3, "", "not closed", None, FileError),
    Broken(RIG, 'name = "Tidepool"', 'name "Tidepool"', 3, "", "without its '='", None, FileError),
    Broken(RIG, 'name = "Tidepool"', "[[module", 3, "", "expected: ']]' at", None, FileError),
    Broken(
        RIG,
        'name = "Tidepool"',
        'name = "a"\nname = "b"',
        4,
        "",
        "the key stands twice",
        None,
        FileError,
    ),
    Broken(RIG, "[supply]", "[case]", 11, "", "the table stands twice", None, FileError),
    Broken(RIG, "  { hp = 60, depth_mm = 30 },", "  { hp = 60,", 8, "", "one line", None, FileError),
    Broken(RIG, "headroom =", "headroom = 0,5 #", 13, "", "a comma in a number", None, FileError),
    Broken(RIG, '"25 %"', "“25 %”", 13, "", "typographic quotes", None, FileError),
    Broken(RIG, "turned = true", "turned = true, row = 1", 26, "", "more on this line", None, FileError),
    Broken(PATCH, 'to = "desk.left"', 'to = "desk.left', 9, "", "a closing quote", None, FileError),
    Broken(PATCH, "tempo_bpm = 96", "%% 96", 3, "", "key = value, [table]", None, FileError),
    Broken(PATCH, "tempo_bpm = 96", "[[[", 3, "", "key = value, [table]", None, FileError),
    Broken(PATCH, 'colour = "teal"', 'colour = teal"', 8, "", "a quote is missing", None, FileError),
    Broken(RIG, 'name = "Tidepool"', 'name = "a\\q"', 3, "", "backslash", None, FileError),
    Broken(RIG, "headroom =", "headroom = 9" + "9" * 5000 + " #", None, "", "cannot be read", None, FileError),
    # format
    Broken(RIG, "format = 1\n", "", None, "format", "does not say its format"),
    Broken(RIG, "format = 1", "format = 2", 2, "format", "newer rigproof", None, FileError),
    Broken(RIG, "format = 1", "format = 0", 2, "format", "no such format"),
    Broken(RIG, "format = 1", 'format = "1"', 2, "format", "no such format"),
    Broken(RIG, "format = 1", "format = true", 2, "format", "no such format"),
    Broken(PATCH, "format = 1", "format = 3", 2, "format", "newer rigproof", None, FileError),
    Broken(SET, "format = 1", "format = 3", 1, "format", "newer rigproof", None, FileError),
    Broken(DRIFT, "format = 1", "format = 3", 1, "format", "newer rigproof", None, FileError),
    # rig
    Broken(RIG, 'name = "Tidepool"', "", None, "", "the key 'name' is missing"),
    Broken(RIG, 'name = "Tidepool"', "name = 3", 3, "name", "text in quotes"),
    Broken(RIG, "depth_mm = 30 ", "depht_mm = 30 ", 8, "case.rows[1]", "'depth_mm' is missing"),
    Broken(RIG, "depth_mm = 30 ", "depth_mm = nan ", 8, "case.rows[1].depth_mm", "found: nan"),
    Broken(RIG, "depth_mm = 30 ", "depth_mm = -inf ", 8, "case.rows[1].depth_mm", "found: -inf"),
    Broken(RIG, "depth_mm = 30 ", "depth_mm = true ", 8, "case.rows[1].depth_mm", "found: true"),
    Broken(RIG, "depth_mm = 30 ", "depth_mm = [3] ", 8, "case.rows[1].depth_mm", "found: a list"),
    Broken(RIG, '"-12V" = 900', '"-12" = 900', 12, "supply.rails_ma.-12", "known:", "-12V"),
    Broken(RIG, '"-12V" = 900', '"-12V" = 1e9', 12, "supply.rails_ma.-12V", "0 to 100000"),
    Broken(RIG, '"25 %"', '"250 %"', 13, "supply.headroom", "such as 0.2 or '20 %'"),
    Broken(RIG, '"25 %"', "1.0", 13, "supply.headroom", "share"),
    Broken(RIG, "headroom", "headrom", 13, "supply.headrom", "no key 'headrom'", "headroom"),
    Broken(RIG, "row = 2", "row = 0", 24, "module[1].row", "from 1 to 50"),
    Broken(RIG, "row = 2", "row = 2.0", 24, "module[1].row", "a whole number"),
    Broken(RIG, "turned = true", 'turned = "yes"', 26, "module[1].turned", "without quotes"),
    Broken(RIG, "turned = true", "turnd = true", 26, "module[1].turnd", "no key", "turned"),
    Broken(RIG, 'id = "drift"', 'id = "submix"', 22, "module[1].id", "stands twice"),
    Broken(RIG, 'id = "desk"', 'id = "submix"', 29, "interface[0].id", "stands twice"),
    Broken(RIG, 'id = "drift"', 'id = "../x"', 22, "module[1].id", "lower-case words"),
    Broken(RIG, 'id = "drift"', 'id = "dri\\u0000ft"', 22, "module[1].id", "dri\\x00ft"),
    Broken(RIG, 'sheet = "drift"', 'sheet = "/etc/drift"', 23, "module[1].sheet", "lower-case"),
    Broken(RIG, 'sheet = "drift"', 'sheet = "drfit"', 23, "module[1].sheet", "", "drift", UnknownName),
    Broken(RIG, 'lead = "mono-3.5"', 'lead = "mono"', 33, "cables[0].lead", "known:", "mono-3.5"),
    Broken(RIG, "[[interface]]", "[[interfaces]]", 28, "interfaces", "no key", "interface"),
    Broken(RIG, "[[interface]]", "[interface]", 28, "interface", "should be a list"),
    # patch
    Broken(PATCH, "tempo_bpm = 96", "tempo = 96", 3, "tempo", "no key 'tempo'", "tempo_bpm"),
    Broken(PATCH, "tempo_bpm = 96", "tempo_bpm = 0", 3, "tempo_bpm", "10 to 1000"),
    Broken(PATCH, "seed = 7", "seed = -1", 4, "seed", "whole number"),
    Broken(PATCH, "seed = 7", f"seed = {10**300}", 4, "seed", "an enormous number"),
    Broken(PATCH, "seed = 7", "seed = 2020-02-02", 4, "seed", "a date or time"),
    Broken(PATCH, "seed = 7", 'rig = "../rig.toml"', 4, "rig", "in the same folder"),
    Broken(PATCH, "seed = 7", 'rig = "rigg.toml"', None, "", "no such file", "rig.toml", FileError),
    Broken(PATCH, ', to = "desk.left"', "", 9, "cables[1]", "the key 'to' is missing"),
    Broken(PATCH, '"desk.left"', '"desk"', 9, "cables[1].to", "such as 'module.jack'"),
    Broken(PATCH, '"desk.left"', "17", 9, "cables[1].to", "found: 17"),
    Broken(PATCH, "cm = 45", "cm = 4.5", 8, "cables[0].cm", "1 to 5000"),
    Broken(PATCH, "colour =  ".strip() + ' "teal"', 'color = "teal"', 8, "cables[0].color", "", "colour"),
    Broken(PATCH, 'lead = "mono-3.5"', 'lead = "mno-3.5"', 12, "cables[2].lead", "", "mono-3.5"),
    Broken(PATCH, "= 0.8", "= inf", 16, 'settings."submix.level"', "finite"),
    Broken(PATCH, "= 0.8", "= { a = 1 }", 16, 'settings."submix.level"', "found: a table"),
    Broken(PATCH, '"submix.level"', '"submix"', 16, "settings.submix", "module.jack"),
    Broken(PATCH, "drift.rise", '"Drift.rise"', 17, 'settings."Drift.rise"', "cannot stand here"),
    Broken(PATCH, "drift.rise = ", "submix.level = ", 17, "settings.submix.level", "twice"),
    Broken(PATCH, "drift.rise = ", "tempo_bpm = ", 17, "settings.tempo_bpm", "top of the file"),
    Broken(PATCH, 'at = "drift.out"\n', "", 20, "declined[0]", "'at' is missing"),
    Broken(PATCH, "the sound of", "the \\u001b[2Jsound of", 23, "declined[0].reason", "\\x1b"),
    Broken(PATCH, "the sound of", "the \\u202Esound of", 23, "declined[0].reason", "hidden"),
    # set
    Broken(SET, "bars = 8", "bars = 0", 7, "section[0].bars", "1 to 100000"),
    Broken(SET, 'hand = "left"', 'hand = "lefft"', 10, "section[0].moves[0].hand", "", "left"),
    Broken(SET, "beat = 2.5", "beat = 0.5", 11, "section[0].moves[1].beat", "1 to 1000"),
    Broken(SET, "beat = 2.5", "bet = 2.5", 11, "section[0].moves[1].bet", "no key", "beat"),
    Broken(SET, 'id = "flood"', 'id = "ebb"', 15, "section[1].id", "stands twice"),
    Broken(SET, '{ "submix.level" = 0.4 }', "[]", 8, "section[0].settings", "should be a table"),
    # sheet
    Broken(MIXER, 'title = "Quiet mixer"', "", None, "", "'title' is missing"),
    Broken(MIXER, "[controls.level]", "[control.level]", 25, "control", "no key", "controls"),
    Broken(MIXER, 'to = "mix.in-1"\n', "", 9, "jacks.in-1", "which way"),
    Broken(MIXER, 'from = "mix.out"', 'from = "mix.out"\nto = "mix.in-1"', 20, "jacks.out.from", "one way"),
    Broken(MIXER, 'from = "mix.out"', 'way = "in"\nfrom = "mix.out"', 21, "jacks.out.from", "go with"),
    Broken(MIXER, "[-10, 10]", "[10, -10]", 23, "jacks.out.clamp_v", "the lower first"),
    Broken(MIXER, "[-10, 10]", "[1, 2, 3]", 23, "jacks.out.clamp_v", "two numbers"),
    Broken(MIXER, "[0, 2]", "[1, 1]", 26, "controls.level.range", "nowhere to go"),
    Broken(MIXER, "[0, 2]", "[0, '2 V']", 26, "controls.level.range", "in %"),
    Broken(MIXER, "default = 1", "default = 3", 27, "controls.level.default", "0 to 2"),
    Broken(MIXER, '"square"', '"log"', 28, "controls.level.taper", "above 0"),
    Broken(MIXER, '"square"', '"squar"', 28, "controls.level.taper", "", "square"),
    Broken(MIXER, 'kind = "mixer"\n', "", 31, "sections.mix", "'kind' is missing"),
    Broken(MIXER, "gain = [0.5, 0.25]", "gain = [0.5, nan]", 34, "sections.mix.gain", "finite"),
    Broken(DRIFT, '["one.out", "two.in"]', '["one.out"]', 6, "wires[0]", "from and to"),
    Broken(DRIFT, '{ to = ["one.in"]', "{ to = { x = 3 }", 10, "jacks.in.to", "a name such as"),
    Broken(DRIFT, "range_v = [0, 8]", "resistance_ohm = 0", 10, "jacks.in.resistance_ohm", "short"),
    Broken(DRIFT, '"20 ms"', '"20 mss"', 16, "controls.rise.default", "in s or ms"),
    Broken(DRIFT, '"cv", range_v', '"cvv", range_v', 10, "jacks.in.signal", "", "cv"),
]  # fmt: skip


@pytest.mark.parametrize(
    "broken", TABLE, ids=lambda b: f"{b.file}-{b.new[:24]}".encode("unicode_escape").decode()
)
def test_one_fault_is_one_error_that_says_where_and_what(tmp_path: Path, broken: Broken) -> None:
    project = copy_tidepool(tmp_path)
    spoil(project, broken.file, broken.old, broken.new)
    loaded = load_project(project)
    assert loaded.project is None
    error = next(e for e in loaded.errors if broken.says in str(e) or broken.nearest == e.nearest)
    expected_file = "rigg.toml" if "rigg" in broken.new else broken.file
    assert (error.where.file, error.where.line, error.where.key) == (
        expected_file,
        broken.line,
        broken.key,
    )
    assert broken.says in str(error)
    assert error.nearest == broken.nearest
    assert isinstance(error, broken.sort)
    # A key that is misspelt is also missing; nothing else draws a second error.
    assert len(loaded.errors) == (2 if "depht" in broken.new else 1)


def test_the_table_holds_faults_of_every_file() -> None:
    assert {broken.file for broken in TABLE} == {RIG, PATCH, SET, MIXER, DRIFT}


def test_all_errors_of_all_files_are_told_at_once_in_order(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    spoil(project, RIG, "row = 2", 'row = "two"')
    spoil(project, RIG, "cm = 45", "cm = 0")
    spoil(project, PATCH, "seed = 7", "seeed = 7")
    spoil(project, SET, "bars = 8", "bars = 8.5")
    spoil(project, MIXER, "hp = 8", 'hp = "8"')
    places = [(e.where.file, e.where.line) for e in load_project(project).errors]
    assert places == [(MIXER, 5), (RIG, 24), (RIG, 34), (PATCH, 4), (SET, 7)]


def test_too_many_errors_are_counted_and_not_listed(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    with (project / SET).open("a", encoding="utf-8") as setlist:
        setlist.writelines(f"wrong-{i} = 1\n" for i in range(250))
    errors = load_project(project).errors
    assert len(errors) == ERRORS_LIMIT + 1
    assert any("150 more errors" in str(error) for error in errors)
