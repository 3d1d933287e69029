"""Boards, ribbons, surges, screens and USB currents come through from the files, and old files load as before."""

import re
from pathlib import Path

import pytest

from rigproof.files.load import load_project
from rigproof.model.rig import Board, mm2_from_awg
from tests.files.projects import TIDEPOOL, copy_tidepool, spoil

BOARD = (
    '\n[[supply.board]]\nid = "upper"\nmodules = ["submix", "drift"]\n'
    'lead_cm = 40\nawg = 18\nlimit_ma = { "+12V" = 2000 }\n'
)


def add_boards(folder: Path, text: str) -> Path:
    project = copy_tidepool(folder)
    path = project / "rig.toml"
    path.write_text(path.read_text("utf-8") + text, "utf-8")
    return project


def test_an_old_file_has_none_of_it() -> None:
    project = load_project(TIDEPOOL).require_project()
    supply = project.rig.supply
    assert supply is not None
    assert (supply.surge_ma, supply.boards) == ({}, ())
    assert all(m.ribbon is None for m in project.rig.modules)
    for sheet in project.sheets.values():
        assert (sheet.surge_ma, sheet.screen_mm) == ({}, None)
        assert all(jack.usb_ma is None for jack in sheet.jacks.values())


def test_a_board_comes_through(tmp_path: Path) -> None:
    project = load_project(add_boards(tmp_path, BOARD)).require_project()
    assert project.rig.supply is not None
    (board,) = project.rig.supply.boards
    assert board.modules == ("submix", "drift")
    assert board.limit_ma == {"+12V": 2000.0}
    assert board.where.key == "supply.board[0]"
    assert board.mm2 == mm2_from_awg(18)


@pytest.mark.parametrize(
    ("awg", "mm2"), [(16, 1.308696), (20, 0.517619), (24, 0.204730), (28, 0.080976)]
)
def test_wire_gauges(awg: int, mm2: float) -> None:
    """Source: table of solid copper wire after Floyd, Electric Circuit Fundamentals, and ASTM B258 (from memory)."""
    assert mm2_from_awg(awg) == pytest.approx(mm2, abs=1e-6)


@pytest.mark.parametrize(
    ("awg", "ohm_a_1000_ft"), [(16, 4.016), (20, 10.15), (22, 16.14), (24, 25.67), (28, 64.9)]
)
def test_leads_have_the_resistance_of_the_handbook(awg: int, ohm_a_1000_ft: float) -> None:
    """Source: table of solid copper wire after Floyd, Electric Circuit Fundamentals; 1000 ft are 304.8 m. It gives four
    digits, hence 0.05 %."""
    board = Board("any", lead_cm=100.0, mm2=mm2_from_awg(awg))
    assert board.lead_ohm == pytest.approx(ohm_a_1000_ft / 304.8, rel=5e-4)


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ('"drift"]', '"drift", "drif"]', "there is no module 'drif'"),
        ('"drift"]', '"drift", "drift"]', "hangs on two boards"),
        ("awg = 18\n", "awg = 18\nmm2 = 1\n", "one wire has one size"),
        ("limit_ma =", "limit =", "there is no key 'limit'"),
        ("awg = 18", "awg = 0", "supply.board.0..awg"),
    ],
)
def test_what_is_wrong_with_a_board_is_told(
    tmp_path: Path, old: str, new: str, problem: str
) -> None:
    project = add_boards(tmp_path, BOARD)
    spoil(project, "rig.toml", old, new)
    errors = load_project(project).errors
    assert any(re.search(problem, str(e)) for e in errors), [str(e) for e in errors]
    assert all("supply.board[0]" in e.where.key for e in errors)


def test_ribbon_surge_screen_and_usb_come_through(tmp_path: Path) -> None:
    project = copy_tidepool(tmp_path)
    spoil(project, "rig.toml", "turned = true", 'turned = true\nribbon = "16-way"')
    sheet = project / "modules" / "drift.toml"
    text = sheet.read_text("utf-8")
    sheet.write_text(
        text.replace(
            "format = 1\n",
            'format = 1\nscreen_mm = [5, 10, 20, 12]\nsurge_ma = { "+12V" = 300 }\n',
            1,
        ),
        "utf-8",
    )
    loaded = load_project(project).require_project()
    assert [m.ribbon for m in loaded.rig.modules] == [None, "16-way"]
    assert loaded.sheets["drift"].screen_mm == (5.0, 10.0, 20.0, 12.0)
    assert loaded.sheets["drift"].surge_ma == {"+12V": 300.0}
