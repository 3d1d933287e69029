"""Edits change what they say and nothing else: comments, order and layout stay to the letter."""

import tomllib
from collections.abc import Callable
from difflib import ndiff
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.errors import FileError, ShapeError, UnknownName
from rigproof.files.edit import Edits, open_edits, read_key, save_text
from rigproof.files.lines import key_text
from rigproof.files.load import load_project
from rigproof.files.text import BOM
from tests.files.projects import PATCH, SET, TIDEPOOL, copy_tidepool

PATCH_TEXT = (TIDEPOOL / PATCH).read_text("utf-8")
RIG_TEXT = (TIDEPOOL / "rig.toml").read_text("utf-8")


def changes(old: str, new: str) -> list[str]:
    """The lines that went and came, as `- old` and `+ new`."""
    return [
        line.rstrip()
        for line in ndiff(old.splitlines(), new.splitlines())
        if line[0] in "+-" and line[2:].strip()
    ]


CASES: list[tuple[str, Callable[[Edits], Any], list[str]]] = [
    (
        PATCH_TEXT,
        lambda e: e.set_setting("submix.level", 0.5),
        ['- "submix.level" = 0.8  # leaves room', '+ "submix.level" = 0.5  # leaves room'],
    ),
    (
        PATCH_TEXT,
        lambda e: e.set_setting("drift.rise", "1 s"),
        ['- drift.rise = "180 ms"', '+ drift.rise = "1 s"'],
    ),
    (PATCH_TEXT, lambda e: e.set_setting("drift.fall", "1 s"), ['+ drift.fall = "1 s"']),
    (PATCH_TEXT, lambda e: e.set_setting("desk.gain", 2), ['+ "desk.gain" = 2']),
    (
        PATCH_TEXT,
        lambda e: e.remove_setting("submix.level"),
        ['- "submix.level" = 0.8  # leaves room'],
    ),
    (
        PATCH_TEXT,
        lambda e: e.add_cable("submix.out", "desk.right", colour="red", cm=30),
        ['+   { from = "submix.out", to = "desk.right", colour = "red", cm = 30 },'],
    ),
    (
        PATCH_TEXT,
        lambda e: e.remove_cable("drift.out", "desk.left"),
        ['-   { from = "drift.out", to = "desk.left" },'],
    ),
    (
        PATCH_TEXT,
        lambda e: e.add_declined("hot-output", "submix.out", "it is meant to be"),
        [
            "+ [[declined]]",
            '+ finding = "hot-output"',
            '+ at = "submix.out"',
            '+ reason = "it is meant to be"',
        ],
    ),
    (
        PATCH_TEXT,
        lambda e: e.set_value(("cables", 1, "to"), "desk.right"),
        [
            '-   { from = "drift.out", to = "desk.left" },',
            '+   { from = "drift.out", to = "desk.right" },',
        ],
    ),
    (
        PATCH_TEXT,
        lambda e: e.set_value(("tempo_bpm",), 98),
        ["- tempo_bpm = 96", "+ tempo_bpm = 98"],
    ),
    (PATCH_TEXT, lambda e: e.set_value(("name",), "New"), ['+ name = "New"']),
    (
        RIG_TEXT,
        lambda e: e.add_module("second", "drift", row=1, hp=20, turned=True),
        [
            "+ [[module]]",
            '+ id = "second"',
            '+ sheet = "drift"',
            "+ row = 1",
            "+ hp = 20",
            "+ turned = true",
        ],
    ),
    (
        RIG_TEXT,
        lambda e: e.move_module("drift", row=1, hp=30, turned=False),
        ["- row = 2", "- hp = 12", "- turned = true", "+ row = 1", "+ hp = 30", "+ turned = false"],
    ),
    (
        RIG_TEXT,
        lambda e: e.set_value(("supply", "rails_ma", "+5V"), 500),
        [
            '- rails_ma = { "+12V" = 1200, "-12V" = 900 }',
            '+ rails_ma = { "+12V" = 1200, "-12V" = 900, "+5V" = 500 }',
        ],
    ),
]


@pytest.mark.parametrize(("text", "edit", "expected"), CASES, ids=range(len(CASES)))
def test_an_edit_changes_its_own_lines_only(
    text: str, edit: Callable[[Edits], Any], expected: list[str]
) -> None:
    edits = Edits(text)
    edit(edits)
    assert sorted(changes(text, edits.text)) == sorted(expected)


def test_a_new_line_stands_before_the_comment_of_the_next_table() -> None:
    edits = Edits(PATCH_TEXT)
    edits.set_setting("desk.gain", 2)
    lines = edits.text.split("\n")
    assert lines.index('"desk.gain" = 2') < lines.index("# Read and let stand.")
    assert lines[lines.index("# Read and let stand.") + 1] == "[[declined]]"


@pytest.mark.parametrize(
    ("keys", "left"),
    [
        ("cm", '{ from = "a.b", to = "c.d", colour = "red" }'),
        ("colour", '{ from = "a.b", to = "c.d", cm = 30 }'),
        ("from", '{ to = "c.d", colour = "red", cm = 30 }'),
        ("colour cm", '{ from = "a.b", to = "c.d" }'),
        ("cm colour", '{ from = "a.b", to = "c.d" }'),
    ],
)
def test_a_key_leaves_a_table_in_one_line_without_a_gap(keys: str, left: str) -> None:
    edits = Edits('cables = [\n  { from = "a.b", to = "c.d", colour = "red", cm = 30 },\n]\n')
    edits.set_value(("cables", 0, "lead"), "usb")
    assert ', cm = 30, lead = "usb" },' in edits.text
    for key in ["lead", *keys.split()]:
        edits.remove(("cables", 0, key))
    assert edits.text == f"cables = [\n  {left},\n]\n"
    edits.set_value(("cables", 0, "lead"), "usb")
    assert edits.text == f'cables = [\n  {left[:-2]}, lead = "usb" }},\n]\n'


@pytest.mark.parametrize(
    "text", ["a = 1\n", "rails_ma = { }\n", "[rails_ma]\n", "[rails_ma]\nx = 1 # y\n"]
)
def test_both_rails_are_written_in_quotes(text: str) -> None:
    """TOML asks for them at `+12V` alone; a key without them beside one with them looks like another sort of thing."""
    edits = Edits(text)
    for rail in ("+12V", "-12V"):
        edits.set_value(("rails_ma", rail), 500)
    assert '"+12V" = 500' in edits.text
    assert '"-12V" = 500' in edits.text
    edits.set_value(("rails_ma",), {"-12V": 1})
    assert '"-12V" = 1' in edits.text
    edits.append(("board",), {"-12V": 2})
    assert '"-12V" = 2' in edits.text
    assert tomllib.loads(edits.text)["board"] == [{"-12V": 2}]


@pytest.mark.parametrize(
    "text",
    [
        "format = 1",
        "format = 1\ncables = []\n",
        "format = 1\ncables = [\n]\n",
        'format = 1\ncables = [{ from = "a.b", to = "c.d" }]\n',
        'format = 1\ncables = [\n  { from = "a.b", to = "c.d" }  # last\n]\n',
        'format = 1\n[[cables]]\nfrom = "a.b"  # a\nto = "c.d"\n\n# end\n',
        'format = 1\n[settings]\na.b = 1\n[[cables]]\nfrom = "a.b"\nto = "c.d"\n',
    ],
)
def test_cables_come_and_go_in_every_spelling(text: str) -> None:
    before = tomllib.loads(text).get("cables", [])
    edits = Edits(text)
    edits.add_cable("x.a", "y.a", cm=30)
    edits.add_cable("x.b", "y.b")
    edits = Edits(edits.text)
    edits.remove_cable("x.a", "y.a")
    after = tomllib.loads(edits.text)["cables"]
    assert after == [*before, {"from": "x.b", "to": "y.b"}]
    for comment in ("# last", "# a", "# end"):
        assert (comment in text) == (comment in edits.text)


def test_settings_are_made_where_there_are_none() -> None:
    edits = Edits("format = 1\n")
    edits.set_setting("a.b", "180 ms")
    assert tomllib.loads(edits.text) == {"format": 1, "settings": {"a.b": "180 ms"}}


def test_the_settings_of_a_section_of_the_set_can_be_edited() -> None:
    edits = Edits((TIDEPOOL / SET).read_text("utf-8"))
    edits.set_setting("drift.rise", "1 s", table=("section", 0, "settings"))
    edits.set_value(("section", 1, "bars"), 32)
    raw = tomllib.loads(edits.text)
    assert raw["section"][0]["settings"] == {"submix.level": 0.4, "drift.rise": "1 s"}
    assert raw["section"][1]["bars"] == 32


@pytest.mark.parametrize(
    "edit",
    [
        lambda e: e.remove_setting("submix.levl"),
        lambda e: e.remove_cable("a.b", "c.d"),
        lambda e: e.set_value(("cables", 9, "to"), "x.y"),
        lambda e: e.remove(("nothing",)),
        lambda e: e.set_value(("tempo_bpm", "x"), 1),
        lambda e: e.move_module("drift", row=1, hp=1),
        lambda e: e.remove_module("drift"),
    ],
)
def test_what_is_not_there_cannot_be_edited(edit: Callable[[Edits], Any]) -> None:
    edits = Edits(PATCH_TEXT)
    with pytest.raises(UnknownName):
        edit(edits)
    assert edits.text == PATCH_TEXT


def test_an_id_that_is_taken_is_refused_with_its_line() -> None:
    edits = Edits(RIG_TEXT, "rig.toml")
    with pytest.raises(ShapeError) as caught:
        edits.add_module("desk", "drift", row=1, hp=20)
    assert caught.value.where.line == 29


def test_a_text_that_is_not_toml_is_not_edited() -> None:
    with pytest.raises(FileError):
        Edits("format =")


def test_an_edited_project_loads_with_the_change_and_all_else_the_same(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    before = load_project(project).require_project()
    edits = open_edits(project / PATCH, project)
    edits.set_setting("submix.level", 0.25)
    save_text(project / PATCH, edits.text, project)
    after = load_project(project).require_project()
    assert after.patch.settings[0].value == 0.25
    assert after.patch.settings[1:] == before.patch.settings[1:]
    assert (after.rig, after.sheets, after.patch.cables) == (
        before.rig,
        before.sheets,
        before.patch.cables,
    )


def test_a_saved_file_keeps_its_line_ends_and_its_mark(tmp_path: Path) -> None:
    """An editor of another system ends lines with CR LF and may begin a file with a byte order mark."""
    project = copy_tidepool(tmp_path)
    path = project / PATCH
    path.write_bytes(BOM + path.read_bytes().replace(b"\n", b"\r\n"))
    before = path.read_bytes()
    edits = open_edits(path, project)
    edits.set_setting("submix.level", 0.5)
    save_text(path, edits.text, project)
    after = path.read_bytes()
    assert after.count(b"\n") == after.count(b"\r\n") == before.count(b"\r\n")
    assert after == before.replace(b'"submix.level" = 0.8', b'"submix.level" = 0.5')


@pytest.mark.parametrize("name", ["rig.toml", PATCH, SET, "modules/drift.toml"])
def test_a_file_that_is_not_edited_comes_out_to_the_letter(name: str) -> None:
    text = (TIDEPOOL / name).read_text("utf-8")
    assert Edits(text).text == text


NAMES = st.from_regex(r"[a-z]{1,3}\.[a-z]{1,3}", fullmatch=True)
VALUES = st.one_of(
    st.integers(-(10**6), 10**6),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.text(st.characters(exclude_categories=["C"]), max_size=8),
)


@settings(max_examples=40)
@given(st.lists(st.tuples(NAMES, VALUES), max_size=8), st.booleans())
def test_any_settings_at_all_are_read_back_as_they_were_set(
    pairs: list[tuple[str, Any]], is_fresh: bool
) -> None:
    edits = Edits("format = 1\n" if is_fresh else PATCH_TEXT)
    for control, value in pairs:
        edits.set_setting(control, value)
    raw = tomllib.loads(edits.text)
    flat = {
        (f"{key}.{inner}" if isinstance(value, dict) else key): found
        for key, value in raw.get("settings", {}).items()
        for inner, found in (value.items() if isinstance(value, dict) else [(key, value)])
    }
    for control, value in dict(pairs).items():
        assert flat[control] == value


PATHS = st.lists(
    st.one_of(st.integers(0, 99), st.from_regex(r"[a-z0-9_.+ -]{1,6}", fullmatch=True)),
    min_size=1,
    max_size=4,
).filter(lambda path: isinstance(path[0], str))


@given(PATHS)
def test_a_key_is_read_back_as_it_is_written(path: list[str | int]) -> None:
    assert read_key(key_text(tuple(path))) == tuple(path)


@pytest.mark.parametrize("text", [".a", "a..b", "a.", "[x]", "a[", 'a."b', "a b"])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        read_key(text)
