"""The first open: an empty folder, and three ways out of it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenApp, OpenPage
from tests.browser.driving import TABLET, accessibility_faults


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty folder to begin in."""
    folder = tmp_path / "harbour"
    folder.mkdir()
    return folder


@pytest.fixture
def page(folder: Path, open_app: OpenApp, open_page: OpenPage) -> Page:
    """The page of the app on the empty folder, on an upright tablet."""
    page = open_page(size=TABLET)
    page.goto(open_app(folder).link)
    page.get_by_test_id("begin-owned").wait_for()
    return page


def test_the_demo_is_one_click_away(page: Page) -> None:
    page.get_by_test_id("begin-demo").click()
    expect(page.get_by_test_id("project-name")).to_contain_text("Low Tide Radio")
    expect(page.get_by_test_id("module-sampler")).to_be_visible()


def test_a_blank_rig_is_a_row_and_a_supply(page: Page, folder: Path) -> None:
    page.get_by_test_id("begin-blank").click()
    expect(page.get_by_test_id("case-row-1")).to_be_visible()
    rig = tomllib.loads((folder / "rig.toml").read_text("utf-8"))
    assert rig["case"]["rows"] == [{"hp": 84, "depth_mm": 50}]
    assert "module" not in rig


def test_nothing_is_lost_by_going_back_or_by_reading_the_page_anew(
    page: Page, folder: Path
) -> None:
    """Nor is anything written before the performer says so."""
    assert accessibility_faults(page) == []
    page.get_by_test_id("begin-owned").click()
    page.get_by_test_id("begin-name").fill("Harbour")
    page.get_by_test_id("step-supply").click()
    page.get_by_label("+5 V gives, in mA").fill("0")
    page.get_by_test_id("step-modules").click()
    page.get_by_test_id("library-find").fill("ladder")
    page.get_by_test_id("take-ladder-filter").click()
    page.get_by_test_id("take-ladder-filter").click()
    page.get_by_test_id("back").click()
    expect(page.get_by_label("+5 V gives, in mA")).to_have_value("0")
    page.reload()
    expect(page.get_by_test_id("begin-name")).to_have_value("Harbour")
    expect(page.get_by_test_id("step-modules")).to_contain_text("2 modules, 16 HP")
    page.get_by_test_id("step-sound").click()
    expect(page.get_by_text("it still lacks something that sounds")).to_be_visible()
    assert accessibility_faults(page) == []
    assert list(folder.iterdir()) == []
    page.get_by_test_id("make").click()
    expect(page.get_by_test_id("made")).to_contain_text("Nothing here makes a sound by itself")
    page.get_by_test_id("go-kit").click()
    expect(page.get_by_test_id("module-ladder-filter-no-2")).to_be_visible()
    rig = tomllib.loads((folder / "rig.toml").read_text("utf-8"))
    assert rig["name"] == "Harbour"
    assert rig["supply"]["rails_ma"] == {"+12V": 2000, "-12V": 1200}
