"""The guide to one's own module is walked through as it is written, and names every lint."""

import re
import shlex
from pathlib import Path

import pytest

from rigproof.checks.sheet import LINTS, describe, lint_sheet
from rigproof.cli.library_page import library_page
from rigproof.cli.screen import FINE, SHOW_STOPPED
from rigproof.files.load_sheet import library_sheets, load_sheet_text
from tests.cli.conftest import Call

GUIDE = (Path(__file__).resolve().parents[2] / "docs" / "describe-your-module.md").read_text(
    "utf-8"
)
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", GUIDE, flags=re.DOTALL)
ANSWERS, SHEET = (text for sort, text in BLOCKS if sort == "toml")
(SHOWN,) = (text for sort, text in BLOCKS if sort == "text")
ASKING, FILTER, VCA, ECHO, LINT = (
    shlex.split(line)[1:] for sort, text in BLOCKS if sort == "sh" for line in text.splitlines()
)


def test_the_guide_works_from_top_to_bottom(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert ASKING == ["new-sheet", "my-filter"]
    assert call(*FILTER).code == FINE
    own = Path("modules/my-filter.toml")
    text = own.read_text("utf-8")
    assert "v-oct" in text
    assert call(*VCA).code == FINE
    Path("echo.answers").write_text(ANSWERS, "utf-8")
    assert call(*ECHO).code == FINE
    assert 'title = "Harbour echo"' in Path("modules/my-echo.toml").read_text("utf-8")
    assert call(*LINT).code == FINE

    # The flaw it shows: a jack beyond the edge of ten HP.
    line = next(line for line in text.splitlines() if line.startswith("high = "))
    own.write_text(text.replace(line, line.replace(" }", ", at_mm = [55.0, 114.5] }")), "utf-8")
    shown = call("lint-sheet", "my-filter")
    assert shown.code == SHOW_STOPPED
    assert re.sub(r"line \d+", "line", SHOWN) in re.sub(r"line \d+", "line", shown.out)


def test_the_sheet_in_the_guide_has_no_flaw() -> None:
    loaded = load_sheet_text(SHEET, file="modules/it.toml", name="it")
    module = describe(loaded.require_sheet(), written=loaded.written, library=library_sheets())
    assert module.plan.errors == []
    assert lint_sheet(module) == []


def test_the_guide_names_every_lint_and_no_other() -> None:
    named = {n for n in re.findall(r"\| `([a-z-]+)` ", GUIDE) if "-" in n and n != "v-oct"}
    assert named == set(LINTS)


def test_output_resistance_is_found_as_the_guide_says() -> None:
    """Ohm's law: 5 V behind 1 kohm into 10 kohm reads 5 x 10 / 11 V."""
    measured_v = 5.0 * 10.0 / 11.0
    assert 10.0 * (5.0 - measured_v) / measured_v == pytest.approx(1.0)


def test_the_library_page_tells_of_every_sheet() -> None:
    page = library_page()
    for name, sheet in library_sheets().items():
        part = page.split(f"### {name}\n")[1].split("\n### ")[0]
        assert sheet.summary in part
        for thing in (*sheet.jacks, *sheet.controls, *sheet.slots):
            assert f"`{thing}`" in part
