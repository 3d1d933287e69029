"""Kit: a rig is made with mouse and keys alone, and what the hand did stands in the files."""

from __future__ import annotations

import re
import time
import tomllib
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.driving import TABLET, App, Faults, accessibility_faults, enter
from tests.browser.hands import click

PATIENCE_S = 10.0


def rig_of(folder: Path) -> dict[str, Any]:
    """What rig.toml says now."""
    return tomllib.loads((folder / "rig.toml").read_text("utf-8"))


def place_of(folder: Path, module: str) -> tuple[int, int, bool] | None:
    """Where the file has a module: row, HP, whether it is turned."""
    for one in rig_of(folder)["module"]:
        if one["id"] == module:
            return one["row"], one["hp"], one.get("turned", False)
    return None


def until(is_so: Callable[[], bool]) -> None:
    """Wait until something is so, and fail when it never is."""
    end_s = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end_s, "it never came to be so"
        time.sleep(0.05)


def drag(page: Page, what: Locator, to: Locator, *, by: tuple[float, float] = (20, 60)) -> None:
    """Take a module by a point near its top left corner and let it go at the same point of another thing."""
    start, end = what.bounding_box(), to.bounding_box()
    assert start is not None
    assert end is not None
    page.mouse.move(start["x"] + 20, start["y"] + 60)
    page.mouse.down()
    page.mouse.move(end["x"] + by[0], end["y"] + by[1], steps=6)
    page.mouse.up()


def undo(page: Page) -> None:
    page.get_by_role("button", name="Undo", exact=True).click()


def test_quick_keys_are_one_step_to_undo(page: Page, project_folder: Path) -> None:
    """Three times one HP to the right is one gesture; the demo has the module at HP 94."""
    page.get_by_test_id("module-bridge").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("t")
    until(lambda: place_of(project_folder, "bridge") == (1, 97, True))
    expect(page.get_by_test_id("saved")).to_have_attribute("data-revision", "1")
    expect(page.get_by_test_id("saved")).to_have_text("Saved")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Control+z")  # before it is written: the gesture alone is taken back
    expect(page.get_by_label("Left edge of bridge, in HP")).to_have_value("97")
    page.keyboard.press("Control+z")
    until(lambda: place_of(project_folder, "bridge") == (1, 94, False))
    expect(page.get_by_label("Left edge of bridge, in HP")).to_have_value("94")
    page.keyboard.press("Shift+X")  # with the mult at its left, 8 HP wide
    until(lambda: place_of(project_folder, "bridge") == (1, 86, False))
    assert place_of(project_folder, "mult") == (1, 98, False)
    expect(page.get_by_test_id("module-bridge")).to_be_focused()


def test_a_module_goes_where_it_is_dropped_and_nowhere_else(
    page: Page, project_folder: Path
) -> None:
    """Into a gap; over another of its width in exchange; onto one that cannot give way not at all."""
    row = page.get_by_test_id("case-row-1").locator("rect")
    box = row.bounding_box()
    assert box is not None
    drag(page, page.get_by_test_id("module-lfo"), row, by=(box["width"] - 30, 60))
    until(lambda: place_of(project_folder, "lfo") == (1, 118, False))
    drag(page, page.get_by_test_id("module-shape"), page.get_by_test_id("module-env"))
    until(lambda: place_of(project_folder, "shape") == (1, 62, False))
    assert place_of(project_folder, "env") == (1, 78, False)
    before = (project_folder / "rig.toml").read_bytes()
    drag(page, page.get_by_test_id("module-rhythm"), page.get_by_test_id("module-bass"))
    expect(page.get_by_text("rhythm stays where it is. It would overlap bass")).to_be_visible()
    assert (project_folder / "rig.toml").read_bytes() == before


def test_what_leaves_is_named_first_and_comes_back_whole(page: Page, project_folder: Path) -> None:
    files = sorted(project_folder.glob("*.toml"))
    before = [file.read_bytes() for file in files]
    page.get_by_test_id("module-sampler").focus()
    page.keyboard.press("Delete")
    question = page.get_by_role("dialog")
    expect(question).to_contain_text("16 cables and all else that names it")
    expect(question).to_contain_text("cable sampler.left to out.left-2")
    question.get_by_role("button", name="Keep it").click()
    assert [file.read_bytes() for file in files] == before
    page.keyboard.press("Delete")
    question.get_by_role("button", name="Remove", exact=True).click()
    until(lambda: place_of(project_folder, "sampler") is None)
    expect(page.get_by_test_id("module-outs")).to_be_focused()
    for file in files:
        assert "sampler." not in file.read_text("utf-8")
    undo(page)
    until(lambda: [file.read_bytes() for file in files] == before)


def test_a_module_is_found_and_added_from_the_library(page: Page, project_folder: Path) -> None:
    """The first that is found by Enter; another one of it by its own id; the current follows at once."""
    current = page.get_by_test_id("current")
    expect(current).to_contain_text("1385 of 2000 mA")
    page.get_by_test_id("add-module").click()
    page.get_by_test_id("library-find").fill("ladder")
    page.get_by_test_id("sheet-ladder-filter").wait_for()
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("added")).to_contain_text("ladder-filter stands in row 1 at HP 106")
    assert accessibility_faults(page) == []
    page.get_by_role("button", name="Name Ladder filter").click()
    expect(page.get_by_test_id("add-id")).to_have_value("ladder-filter-no-2")
    page.get_by_test_id("add-id").fill("ladder")
    expect(page.get_by_text("There is a ladder already.")).to_be_visible()
    page.get_by_test_id("add-id").fill("low")
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("added")).to_contain_text("low stands in row 1 at HP 114")
    page.keyboard.press("Escape")
    assert place_of(project_folder, "ladder-filter") == (1, 106, False)
    assert place_of(project_folder, "low") == (1, 114, False)
    expect(current).to_contain_text("1475 of 2000 mA")  # 2 times 45 mA more, says the sheet


def test_a_module_is_described_in_a_form(page: Page, project_folder: Path, faults: Faults) -> None:
    """From a sheet that is there, with figures of its own; refused while a range is upside down."""
    faults.allow("422")
    page.get_by_test_id("describe").click()
    like = page.get_by_role("combobox", name="The sheet that is most like it")
    like.fill("oscill")
    page.get_by_role("listbox").get_by_role("option").first.wait_for()
    like.press("Enter")
    missing = page.get_by_text("A title is still missing.")
    expect(missing).to_be_visible()
    page.get_by_test_id("describe-title").fill("Tide oscillator")
    expect(missing).to_have_count(0)
    page.get_by_label("Width, in HP").fill("12")
    page.get_by_text("8 jacks: labels and ranges").click()
    page.get_by_label("Highest volts of pitch").fill("-9")
    page.keyboard.press("Enter")
    expect(page.get_by_text("This cannot be written yet")).to_be_visible()
    expect(page.get_by_test_id("describe-save")).to_be_disabled()
    page.get_by_label("Highest volts of pitch").fill("6")
    page.keyboard.press("Enter")
    page.get_by_label("These figures are").select_option("maker")
    expect(page.get_by_test_id("describe-save")).to_be_enabled()
    assert accessibility_faults(page) == []
    page.get_by_test_id("describe-save").click()
    expect(page.get_by_test_id("sheet-tide-oscillator")).to_contain_text("own sheet")
    sheet = tomllib.loads((project_folder / "modules" / "tide-oscillator.toml").read_text("utf-8"))
    assert sheet["hp"] == 12
    assert sheet["jacks"]["pitch"]["range_v"] == [-5, 6]
    assert sheet.get("typical", False) is False


def test_a_sheet_of_ones_own_is_opened_in_the_form_again(
    page: Page, project_folder: Path, faults: Faults
) -> None:
    """What the form does not know stays; what an editor saved meanwhile at the same figure is asked about."""
    faults.allow("409")
    library = resources.files("rigproof.library").joinpath("dual-lfo.toml").read_text("utf-8")
    path = project_folder / "modules" / "dual-lfo.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text("# mine, measured\n" + library, "utf-8")
    before = path.read_text("utf-8")
    page.get_by_test_id("module-lfo").click()
    page.get_by_text("Sheet, ribbon …").click()
    page.get_by_test_id("edit-sheet").click()
    form = page.get_by_role("dialog", name="Edit the sheet dual-lfo")
    expect(form.get_by_test_id("beyond")).to_contain_text("comments; sections")
    click(
        form.get_by_role("button", name="Save the sheet")
    )  # nothing is changed, so nothing is written
    expect(form).to_have_count(0)
    assert path.read_text("utf-8") == before
    page.get_by_test_id("edit-sheet").click()
    form.get_by_test_id("describe-title").fill("Slow tides")
    form.get_by_label("Width, in HP").fill("9")
    form.get_by_text(re.compile("controls?: how far they go")).click()
    least = form.get_by_label(re.compile("^Least of "))
    most = form.get_by_label(re.compile("^Most of ")).first
    most.fill("7")
    most.press("Enter")
    expect(least.first).to_be_visible()
    expect(form.get_by_test_id("describe-save")).to_be_enabled()
    assert accessibility_faults(page) == []
    path.write_text(before.replace("hp = 8", "hp = 10"), "utf-8")
    form.get_by_test_id("describe-save").click()
    question = page.get_by_role("dialog", name="Changed meanwhile")
    expect(question).to_contain_text("On the disk: modules/dual-lfo.toml")
    question.get_by_role("button", name="Keep mine").click()
    expect(form).to_have_count(0)
    after = path.read_text("utf-8")
    changed = [line for line in after.splitlines() if line not in before.splitlines()]
    assert after.startswith("# mine, measured\n")
    assert changed[:2] == ['title = "Slow tides"', "hp = 9"]
    assert len(changed) == 3
    undo(page)
    until(lambda: path.read_text("utf-8") == before.replace("hp = 8", "hp = 10"))


def test_supply_case_box_and_names_are_edited_in_place(page: Page, project_folder: Path) -> None:
    page.get_by_label("+12 V gives, in mA").fill("1600")
    page.get_by_label("Keep free of each rail, in percent").fill("25")
    page.get_by_label("Depth of row 2, in mm").fill("35")
    page.get_by_label("mono-3.5 of 15 cm in the box").fill("9")
    page.keyboard.press("Enter")
    expect(page.get_by_text("5 short")).to_be_visible()  # the demo's patch uses 14
    expect(page.get_by_test_id("current")).to_contain_text("1385 of 1600 mA tight")
    expect(page.get_by_test_id("module-sampler")).to_have_accessible_name(
        "sampler, Sampler, six voices. row 2, HP 56, 20 HP wide. 3 mm too deep"
    )
    page.get_by_test_id("add-row").click()
    page.get_by_test_id("add-controller").click()
    page.get_by_test_id("sheet-knob-box-16").get_by_role("button", name="Add Sixteen").click()
    expect(page.get_by_test_id("added")).to_contain_text("knob-box-16 stands beside the case")
    page.keyboard.press("Escape")
    page.get_by_test_id("module-lfo").click()
    page.get_by_test_id("rename").fill("tides")
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("module-tides")).to_be_visible()
    rig = rig_of(project_folder)
    assert rig["supply"]["rails_ma"]["+12V"] == 1600
    assert rig["supply"]["headroom"] == 0.25
    assert [row["depth_mm"] for row in rig["case"]["rows"]] == [45, 35, 35]
    assert {"lead": "mono-3.5", "cm": 15, "count": 9} in rig["cables"]
    assert [one["id"] for one in rig["controller"]] == ["faders", "knob-box-16"]
    patch = (project_folder / "lowtide.patch.toml").read_text("utf-8")
    assert "tides." in patch
    assert "lfo." not in patch


def test_the_kit_is_open_to_everybody_when_things_do_not_fit(
    app: App, open_page: OpenPage, project_folder: Path
) -> None:
    """On an upright tablet, dark, with an overlap, a module past the end, one too deep and one upside down."""
    page = open_page(size=TABLET, sheet="dark")
    enter(page, app)
    for module, hp in (("lfo", 66), ("bridge", 120)):
        page.get_by_test_id(f"module-{module}").focus()
        page.get_by_label(f"Left edge of {module}, in HP").fill(str(hp))
        page.keyboard.press("Enter")
        until(lambda m=module, h=hp: place_of(project_folder, m) == (1, h, False))  # type: ignore[misc]
    page.get_by_label("Depth of row 2, in mm").fill("35")
    page.keyboard.press("Enter")
    for words in ("overlap 4 HP", "6 HP past the end", "3 mm too deep"):
        expect(page.get_by_text(words, exact=True)).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert accessibility_faults(page) == []
