"""Wiring: the diagram stays as it is while it is edited; wires are pulled out, moved and found; groups are folded."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.driving import LAPTOP, TABLET, App, accessibility_faults, enter

Places = dict[str, str]
UPRIGHT = (768, 1024)
"""A small tablet held upright. [CSS px]"""


@pytest.fixture
def drawn(page: Page) -> Page:
    """The diagram of the demo rig."""
    page.goto(f"{page.url.partition('#')[0]}#/wiring")
    page.get_by_test_id("block-desk").wait_for()
    return page


def cables(folder: Path) -> list[tuple[str, str]]:
    """The cables that the file has, from and to."""
    patch = tomllib.loads((folder / "lowtide.patch.toml").read_text("utf-8"))
    return [(one["from"], one["to"]) for one in patch["cables"]]


def places(page: Page) -> Places:
    """Where every block stands."""
    found: Places = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll("[data-testid^=block-]")]
             .map((one) => [one.dataset.block, one.getAttribute("transform")]))"""
    )
    return found


def saved(page: Page, revision: int) -> None:
    expect(page.get_by_test_id("saved")).to_have_attribute("data-revision", str(revision))
    expect(page.get_by_test_id("saved")).to_have_text("Saved")


def find(page: Page, words: str) -> None:
    field = page.get_by_test_id("diagram-find")
    field.fill(words)
    field.press("Enter")


def middle(thing: Locator) -> tuple[float, float]:
    box = thing.bounding_box()
    assert box, f"{thing} is not to be seen"
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_all_of_the_patch_is_drawn_found_and_folded(drawn: Page, project_folder: Path) -> None:
    page = drawn
    assert page.locator("[data-testid^=block-]").count() == 24
    lines = cables(project_folder)
    assert page.locator("[data-testid=diagram] [data-testid^=cable-]").count() == len(lines)
    for index in (0, len(lines) - 1):
        name = page.get_by_test_id(f"cable-{index}").get_attribute("aria-label") or ""
        assert f"from {lines[index][0]} to {lines[index][1]}" in name
    assert accessibility_faults(page) == []
    is_found_and_in_the_middle(page, "faders")
    folds_and_unfolds_to_what_was(page)


@pytest.mark.parametrize("size", [LAPTOP, TABLET, UPRIGHT], ids=["laptop", "tablet", "upright"])
def test_all_names_can_be_read_when_the_whole_is_shown(
    app: App, open_page: OpenPage, size: tuple[int, int]
) -> None:
    page = open_page(size=size)
    enter(page, app)
    page.goto(f"{app.address}#/wiring")
    page.get_by_test_id("block-desk").wait_for()
    page.get_by_role("button", name="Fit all").click()
    names: list[tuple[str, float]] = page.evaluate(NAMES_ON_SCREEN)
    assert len(names) == 24 + 6  # blocks, and groups of more than a module of the same name
    assert [name for name, px in names if px < 11] == []
    assert [name for name, _ in names if name.endswith("…")] == []


NAMES_ON_SCREEN = """() => [...document.querySelectorAll(".plate, .group-title text")].map((one) => {
  const { a, b } = one.getScreenCTM();
  return [one.textContent.trim(), parseFloat(getComputedStyle(one).fontSize) * Math.hypot(a, b)];
})"""
"""What blocks and groups are called, and how large that is written. [CSS px]"""


def test_no_block_moves_when_a_cable_goes_and_comes(drawn: Page, project_folder: Path) -> None:
    page = drawn
    before, lines = places(page), cables(project_folder)
    page.get_by_test_id("cable-4").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Delete")
    expect(page.get_by_test_id("diagram-says")).to_have_text(
        f"Pulled out the cable from {lines[4][0]} to {lines[4][1]}."
    )
    saved(page, 1)
    assert cables(project_folder) == lines[:4] + lines[5:]
    assert places(page) == before
    page.keyboard.press("Control+z")
    saved(page, 2)
    assert cables(project_folder) == lines
    assert places(page) == before
    page.reload()
    page.get_by_test_id("block-desk").wait_for()
    assert places(page) == before


def test_an_end_is_pulled_out_and_put_elsewhere(drawn: Page, project_folder: Path) -> None:
    page = drawn
    assert ("clock.bar", "roots.clock") in cables(project_folder)
    find(page, "clock.bar to roots.clock")
    page.mouse.move(*middle(page.locator("[data-handle=target]")))
    page.mouse.down()
    page.mouse.move(*middle(page.get_by_test_id("jack-roots.reset").locator(".stub")), steps=6)
    hand = page.locator(".hand")
    expect(hand).to_contain_text("is driven by")  # it says why it cannot go there
    page.mouse.move(*middle(page.get_by_test_id("block-rhythm").locator(".name")), steps=6)
    free = page.locator(".drawer[data-block=rhythm] .can").first
    free.wait_for()  # held over a block it opens
    jack = free.get_attribute("data-jack")
    page.mouse.move(*middle(free.locator(".spot")), steps=6)
    page.mouse.up()
    saved(page, 1)
    assert ("clock.bar", jack) in cables(project_folder)
    assert ("clock.bar", "roots.clock") not in cables(project_folder)


def test_the_start_of_a_cable_is_moved_by_keys(drawn: Page, project_folder: Path) -> None:
    page = drawn
    index = cables(project_folder).index(("clock.bar", "roots.clock"))
    page.get_by_test_id(f"cable-{index}").focus()
    page.keyboard.press("Shift+M")
    says = page.get_by_test_id("diagram-says")
    expect(says).to_contain_text("jacks may take it")
    page.keyboard.type("clock.eighth")
    expect(says).to_contain_text("clock.eighth, 1 of 1")
    page.keyboard.press("Enter")
    saved(page, 1)
    assert cables(project_folder)[index] == ("clock.eighth", "roots.clock")


def folds_and_unfolds_to_what_was(page: Page) -> None:
    before = places(page)
    page.get_by_test_id("block-ladder").locator(".face").focus()
    page.keyboard.press("f")
    folded = page.get_by_test_id("block-fold:bass")
    folded.wait_for()
    assert page.get_by_test_id("block-ladder").count() == 0
    expect(folded.get_by_role("button", name="wires to vcas ×2")).to_have_count(1)
    assert accessibility_faults(page, within="[data-testid=diagram]") == []
    page.keyboard.press("f")
    page.get_by_test_id("block-ladder").wait_for()
    assert places(page) == before


def is_found_and_in_the_middle(page: Page, module: str) -> None:
    find(page, module)
    frame = page.get_by_test_id("diagram").bounding_box()
    assert frame
    x, y = middle(page.get_by_test_id(f"block-{module}").locator(".box"))
    assert abs(x - frame["x"] - frame["width"] / 2) < 40
    assert abs(y - frame["y"] - frame["height"] / 2) < 40


def test_a_block_stays_where_it_was_put_until_all_is_arranged_anew(drawn: Page) -> None:
    page = drawn
    before = places(page)
    lfo = page.get_by_test_id("block-lfo")
    lfo.locator(".plate").click()
    x, y = middle(lfo.locator(".face"))
    page.mouse.move(x, y)
    page.mouse.down()
    across, down = middle(page.get_by_test_id("block-desk").locator(".face"))
    page.mouse.move(across, down + 100, steps=8)
    page.mouse.up()
    put = places(page)
    assert [block for block in put if put[block] != before[block]] == ["lfo"]
    assert all_wires_end_at_their_pins(page)
    page.reload()
    page.get_by_test_id("block-desk").wait_for()
    assert places(page) == put
    page.get_by_test_id("block-lfo").locator(".face").focus()
    for key in ("m", "ArrowDown", "ArrowLeft", "Escape"):
        page.keyboard.press(key)
    assert places(page) == put
    for key in ("m", "ArrowDown", "ArrowLeft", "Enter"):
        page.keyboard.press(key)
    assert [block for block, at in places(page).items() if at != put[block]] == ["lfo"]
    page.get_by_role("button", name="Arrange anew").click()
    assert places(page) == before


def all_wires_end_at_their_pins(page: Page) -> bool:
    """Whether the arrow of every wire is at the stub of some pin."""
    found: bool = page.evaluate(
        """() => {
          const middles = (what) => [...document.querySelectorAll(`[data-testid=diagram] ${what}`)].map((one) => {
            const { left, right, top, bottom } = one.getBoundingClientRect();
            return [(left + right) / 2, (top + bottom) / 2];
          });
          const stubs = middles(".pin .stub");
          return middles(".wire .tip").every(([x, y]) =>
            stubs.some(([a, b]) => Math.hypot(a - x, b - y) < 6));
        }"""
    )
    return found
