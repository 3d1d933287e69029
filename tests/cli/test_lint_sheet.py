"""The lint of sheets at the command line: exit codes, names and paths, notes on demand, JSON as promised."""

from pathlib import Path

import pytest

from rigproof.cli.page import SHAPES
from rigproof.cli.screen import BAD_INPUT, FINE, SHOW_STOPPED
from tests.cli.conftest import Call

WHOLE = """\
format = 1
title = "Twice"
summary = "Twice as much."
typical = true
hp = 4
depth_mm = 30
draw_ma = { "+12V" = 12 }
[jacks]
in = { to = "mix.in-1", signal = "cv", at_mm = [10, 100] }
out = { from = "mix.out", signal = "cv", resistance_ohm = 100, at_mm = [10, 114] }
[sections]
mix = { kind = "mixer", ways = 1, gain = 2 }
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with two sheets of its own, the second with a fault."""
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "twice.toml").write_text(WHOLE, "utf-8")
    wrong = WHOLE.replace("[10, 114]", "[10, 108]")
    (tmp_path / "modules" / "wrong.toml").write_text(wrong, "utf-8")
    return tmp_path


def test_a_fault_is_told_with_its_place_why_and_what_to_do(call: Call, folder: Path) -> None:
    answer = call("lint-sheet", "wrong", "--in", folder)
    assert answer.code == SHOW_STOPPED
    told = " ".join(answer.out.split())
    for words in ("jacks-too-close wrong", "jacks.out", "8.0 mm from 'in'", "why", "do", "line 10"):
        assert words in told


def test_notes_are_counted_and_shown_on_demand(call: Call, folder: Path) -> None:
    short = call("lint-sheet", "twice", "--in", folder)
    assert short.code == FINE
    assert "1 note; --notes shows them" in short.out
    assert "parameter-out-of-hand" not in short.out
    full = call("lint-sheet", "twice", "--notes", "--in", folder)
    assert "parameter-out-of-hand" in full.out
    assert "master" in full.out


def test_all_of_the_folder_a_path_or_a_library_sheet(call: Call, folder: Path) -> None:
    every = call("lint-sheet", "--in", folder, "--json")
    assert every.code == SHOW_STOPPED
    assert [s["sheet"] for s in every.data["sheets"]] == ["twice", "wrong"]
    one = call("lint-sheet", folder / "modules" / "twice.toml", "--json")
    assert one.code == FINE
    assert one.data["sheets"][0]["counts"] == {"wrong": 0, "doubtful": 0, "note": 1}
    assert call("lint-sheet", "oscillator", "--in", folder).code == FINE


def test_json_has_the_keys_that_are_promised(call: Call, folder: Path) -> None:
    data = call("lint-sheet", "wrong", "--in", folder, "--json").data
    assert set(data) == {"format", "command", *SHAPES["lint-sheet"]}
    for key in (*data["sheets"][0], *data["sheets"][0]["flaws"][0]):
        assert f"`{key}`" in SHAPES["lint-sheet"]["sheets"]


def test_a_sheet_that_does_not_load_or_fit_is_an_error(call: Call, folder: Path) -> None:
    (folder / "modules" / "bad.toml").write_text(WHOLE.replace("in-1", "in-7"), "utf-8")
    answer = call("lint-sheet", "bad", "--in", folder)
    assert answer.code == BAD_INPUT
    assert "in-7" in answer.err
    (folder / "modules" / "bad.toml").write_text("format = 1\nhq = 3", "utf-8")
    assert call("lint-sheet", "bad", "--in", folder).code == BAD_INPUT
    missing = call("lint-sheet", "twise", "--in", folder)
    assert missing.code == BAD_INPUT
    assert "'twice'" in missing.err
    assert call("lint-sheet", "--in", folder / "modules").code == BAD_INPUT
