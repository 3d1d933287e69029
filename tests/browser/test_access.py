"""Nobody is shut out: every place in its states against WCAG 2.2 A and AA, at twice the size, and with no motion.

Source of the rules: W3C, Web Content Accessibility Guidelines 2.2 (1.4.10 reflow, 2.3.3 and the prefers-reduced-motion
technique C39, and what axe tests of levels A and AA).
"""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenApp, OpenPage
from tests.browser.driving import App, accessibility_faults, enter, go
from tests.browser.hands import click, here, pick, save_as_an_editor

PLACES = ("Kit", "Wiring", "Proof", "Hear")
HALF = (640, 400)
"""A laptop's window at 200 %. [CSS px]"""
RULES: dict[str, tuple[str, ...]] = {"light": (), "dark": ("color-contrast", "link-in-text-block")}
"""The dark sheet has other colours, and nothing else."""
FIRST_SOUND_MS = 90_000


def find(page: Page, name: str) -> None:
    """Choose a module, a jack or a cable by typing its name."""
    click(page.get_by_test_id("diagram-find"))
    pick(page, name)


def states(page: Page) -> Iterator[str]:
    """Lead a page through the states of its places, and name each when it is there."""
    keys = page.keyboard

    go(page, "Kit")
    clock = page.get_by_test_id("module-clock")
    clock.wait_for()
    yield "Kit"
    page.mouse.click(*here(clock))
    page.get_by_test_id("remove").wait_for()
    yield "Kit, a module chosen"
    for opener in ("add-module", "describe", "remove"):
        click(page.get_by_test_id(opener))
        page.get_by_role("dialog").wait_for()
        yield f"Kit, {opener}"
        keys.press("Escape")
        expect(page.get_by_role("dialog")).to_have_count(0)

    go(page, "Wiring")
    page.get_by_test_id("block-clock").wait_for()
    yield "Wiring, a module chosen"
    for name in ("bass.saw", "bass.saw to ladder.in"):
        find(page, name)
        expect(page.get_by_test_id("inspector")).to_contain_text(name.split(" ")[0])
        yield f"Wiring, {name} chosen"
    click(page.get_by_test_id("wire-from"))
    keys.type("clock")
    yield "Wiring, a list open"
    keys.press("Escape")

    go(page, "Proof")
    page.get_by_test_id("verdict").wait_for()
    yield "Proof"
    click(page.get_by_test_id("finding-clips-with-all-up"))
    click(page.get_by_test_id("decline"))
    yield "Proof, a finding let stand"

    go(page, "Hear")
    page.get_by_test_id("render-start").wait_for()
    yield "Hear"

    click(page.get_by_role("button", name="Keys"))
    page.get_by_role("dialog").wait_for()
    yield "the keys"
    keys.press("Escape")


def faults_in(page: Page, walk: Callable[[Page], Iterator[str]], sheet: str = "light") -> list[str]:
    """Return what shuts somebody out, with the state in which it does."""
    return [
        f"{state}: {fault}"
        for state in walk(page)
        for fault in accessibility_faults(page, rules=RULES[sheet])
    ]


INSPECTOR_PARTS = (
    "fields and names", "a jack's range", "steps and notes", "controls", "findings here", "the patch",
    "a module", "jacks", "a jack", "a cable", "a cable of which nothing is said", "a control",
    "mappings", "a rhythm, filled and empty", "samples, filled and empty",
)  # fmt: skip
"""What the page of all parts shows of the inspector."""


@pytest.mark.parametrize("sheet", ["light", "dark"])
def test_nobody_is_shut_out_of_any_place(app: App, open_page: OpenPage, sheet: str) -> None:
    page = open_page(sheet=sheet)
    enter(page, app)
    assert page.evaluate("document.documentElement.dataset.sheet") == sheet
    faults = faults_in(page, states, sheet)
    page.goto(f"{app.address}#/parts")
    for part in INSPECTOR_PARTS:
        expect(page.get_by_role("heading", name=f"Inspector: {part}", exact=True)).to_be_visible()
    click(page.get_by_role("button", name="A sheet", exact=True))
    faults += [f"parts: {fault}" for fault in accessibility_faults(page, rules=RULES[sheet])]
    assert not faults, "\n".join(faults)


def heard(page: Page) -> Iterator[str]:
    """A render that can be played and looked at."""
    go(page, "Hear")
    field = page.get_by_role("textbox", name="How long")
    click(field)
    page.keyboard.press("Control+a")
    page.keyboard.type("1")
    click(page.get_by_role("combobox", name="Look at a jack"))
    pick(page, "bass.saw")
    click(page.get_by_test_id("render-start"))
    scope = page.get_by_test_id("scope-bass.saw")
    expect(scope).to_contain_text("Seen within", timeout=FIRST_SOUND_MS)
    yield "Hear, a render taken"
    click(page.get_by_test_id("play"))
    page.get_by_role("dialog").wait_for()
    yield "Hear, the caution"


def test_nobody_is_shut_out_of_what_is_heard_or_what_is_broken(
    page: Page, project_folder: Path
) -> None:
    found = faults_in(page, heard)
    page.keyboard.press("Escape")

    def broken(page: Page) -> Iterator[str]:
        patch = project_folder / "lowtide.patch.toml"
        text = patch.read_text("utf-8")
        save_as_an_editor(patch, text.replace("tempo_bpm = 80", 'tempo_bpm = "slow"'))
        page.get_by_role("region", name="What is wrong with the files").wait_for()
        for place in PLACES:
            go(page, place)
            yield f"{place}, broken files"

    found += faults_in(page, broken)
    assert not found, "\n".join(found)


def beginnings(page: Page) -> Iterator[str]:
    """The first open, step by step, with one module taken."""
    page.get_by_test_id("begin-owned").wait_for()
    yield "an empty folder"
    click(page.get_by_test_id("begin-owned"))
    for step in ("name", "case", "supply", "modules", "outside", "sound"):
        click(page.get_by_test_id(f"step-{step}"))
        expect(page.get_by_test_id(f"step-{step}")).to_have_attribute("aria-current", "step")
        if step == "modules":
            click(page.get_by_test_id("take-oscillator"))
        yield f"what is owned, {step}"
    click(page.get_by_test_id("make"))
    page.get_by_test_id("made").wait_for()
    yield "what was made"


@pytest.mark.parametrize("sheet", ["light", "dark"])
def test_nobody_is_shut_out_of_the_first_open(
    open_app: OpenApp, open_page: OpenPage, tmp_path: Path, sheet: str
) -> None:
    app = open_app(tmp_path / "harbour")
    page = open_page(sheet=sheet)
    page.goto(app.link)
    faults = faults_in(page, beginnings, sheet)
    assert not faults, "\n".join(faults)


REACHABLE = """() => [...document.querySelectorAll(
    "button, a[href], input, select, summary, [role=slider], h1, h2")]
  .filter((one) => one.checkVisibility() && !one.closest("[data-testid=diagram]"))
  .map((one) => `${one.localName} ${(one.ariaLabel || one.labels?.[0]?.textContent || one.textContent).trim()}`)
  .map((name) => name.replace(/\\s+/g, " "))"""
"""What can be read and used, by its name; the drawing of the wiring has its own window, which pans and zooms."""
OUT_OF_REACH = """() => {
  const over = document.documentElement.scrollWidth - innerWidth;
  const lost = [...document.querySelectorAll("main button, main input, main select, main summary")]
    .filter((one) => one.checkVisibility() && !one.closest("[data-testid=diagram]"))
    .filter((one) => {
      one.scrollIntoView({ block: "center", inline: "center" });
      const box = one.getBoundingClientRect();
      return box.right < 1 || box.left > innerWidth - 1 || box.bottom < 1 || box.top > innerHeight - 1;
    })
    .map((one) => one.ariaLabel || one.textContent || one.id);
  return [over, lost];
}"""


def test_at_200_percent_nothing_runs_over_the_side_and_nothing_is_lost(
    app: App, open_page: OpenPage
) -> None:
    """At 1280 px and at the 640 px that are left of them at twice the size, the same can be read and used."""
    page = open_page()
    enter(page, app)
    findings = page.get_by_role("link", name="Findings")
    expect(findings).to_contain_text("Worth knowing")
    for place in PLACES:
        go(page, place)
        expect(page.get_by_test_id("saved")).to_have_text("Saved")
        if place == "Wiring":
            page.get_by_test_id("block-clock").wait_for()
        page.wait_for_function("document.querySelectorAll('main h2, main button').length > 3")
        page.set_viewport_size({"width": 1280, "height": 800})
        wide = sorted(page.evaluate(REACHABLE))
        page.set_viewport_size({"width": HALF[0], "height": HALF[1]})
        assert sorted(page.evaluate(REACHABLE)) == wide, place
        over, lost = page.evaluate(OUT_OF_REACH)
        assert (over <= 0, lost) == (True, []), place
    page.set_viewport_size({"width": 1280, "height": 800})


def test_at_200_percent_a_project_can_be_begun(
    open_app: OpenApp, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(size=HALF)
    page.goto(open_app(tmp_path / "harbour").link)
    for state in beginnings(page):
        over, lost = page.evaluate(OUT_OF_REACH)
        assert (over <= 0, lost) == (True, []), state


def test_the_sheet_is_turned_by_hand_and_stays_turned(page: Page) -> None:
    look = page.locator("html")
    expect(look).to_have_attribute("data-sheet", "light")
    click(page.get_by_role("button", name="Turn to the dark sheet"))
    expect(look).to_have_attribute("data-sheet", "dark")
    page.reload()
    page.get_by_test_id("project-name").wait_for()
    expect(look).to_have_attribute("data-sheet", "dark")


def test_who_wants_no_motion_gets_none(app: App, open_page: OpenPage) -> None:
    """The window asks for reduced motion; whatever would move, in any place, is there at once."""
    page = open_page()
    enter(page, app)
    assert page.evaluate("matchMedia('(prefers-reduced-motion: reduce)').matches")
    for place in PLACES:
        go(page, place)
        slow = page.evaluate(
            """() => [...document.querySelectorAll("*")].filter((one) => {
              const look = getComputedStyle(one);
              const longest = (text) => Math.max(...text.split(",").map((part) => parseFloat(part)));
              return longest(look.transitionDuration) > 0.01 || longest(look.animationDuration) > 0.01
                || look.scrollBehavior === "smooth";
            }).map((one) => one.outerHTML.slice(0, 80))"""
        )
        assert slow == [], place
