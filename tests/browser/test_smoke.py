"""The app opens: it comes up on a real port, draws itself in a real browser, and shows the project it was given."""

import json
import re

import pytest
from playwright.sync_api import Page, expect

from setup import front
from tests.browser.conftest import OpenPage
from tests.browser.driving import DESK, TABLET, App, accessibility_faults, enter

NAME = "Low Tide Radio"


def test_the_page_loads_and_names_the_project(page: Page) -> None:
    """What a person sees first. The fixture fails this test on any error in the console."""
    expect(page).to_have_title(re.compile("rigproof"))
    expect(page.get_by_test_id("project-name")).to_contain_text(NAME)
    expect(page.get_by_role("main")).to_be_visible()
    assert "#" in page.url
    assert not re.search(r"#[\w-]{43}", page.url), "the key stays in the address"


def test_text_is_set_in_the_faces_that_come_along(page: Page) -> None:
    """So that it looks alike everywhere: a face is loaded, and the words are as wide as in no other."""
    loaded = page.evaluate(
        "document.fonts.ready.then(f => [...f].filter(x => x.status === 'loaded').length)"
    )
    assert loaded >= 1
    family = page.evaluate(
        "getComputedStyle(document.body).fontFamily.split(',')[0].replaceAll('\"', '')"
    )
    assert page.evaluate("([f]) => document.fonts.check(`16px '${f}'`)", [family])


def test_the_licences_of_all_that_is_packed_in_are_at_hand(app: App, page: Page) -> None:
    """Those that a style sheet brings in, too: the faces ask for their notice."""
    wanted = json.loads((front.UI / "package.json").read_text("utf-8"))["dependencies"]
    told = page.request.get(f"{app.address}licences.txt")
    assert told.ok
    text = told.text()
    for name in [*wanted, "svelte"]:
        assert re.search(rf"^{re.escape(name)} \d", text, re.MULTILINE), name
    assert "MIT License" in text
    assert "SIL OPEN FONT LICENSE" in text


@pytest.mark.parametrize("sheet", ["light", "dark"])
@pytest.mark.parametrize("size", [TABLET, DESK], ids=["tablet", "desk"])
def test_nothing_runs_over_the_side_and_nobody_is_shut_out(
    app: App, open_page: OpenPage, size: tuple[int, int], sheet: str
) -> None:
    page = open_page(size=size, sheet=sheet)
    enter(page, app)
    over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert over <= 0
    assert accessibility_faults(page) == []
