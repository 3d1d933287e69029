"""Proof: who goes to the place of a finding and comes back goes on where they were, and the file is one press away."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.driving import App, accessibility_faults, go
from tests.browser.hands import click, press, save_as_an_editor
from tests.browser.test_tabs import weaken

RAIL = "finding-rail-overloaded"


@pytest.fixture
def faulty(app: App, page: Page) -> Page:
    """Proof of a rig with a weak supply and a cable that the box does not hold."""
    weaken(app.folder)
    go(page, "Proof")
    page.get_by_test_id(RAIL).wait_for()
    return page


def test_a_finding_stays_chosen_while_its_place_is_looked_at(faulty: Page) -> None:
    page = faulty
    page.set_viewport_size({"width": 1280, "height": 460})
    page.get_by_label("Words").fill("rail")
    finding = page.get_by_test_id(RAIL)
    click(finding)
    scrolled = page.locator("main")
    scrolled.evaluate("main => main.scrollTop = 150")
    page.wait_for_timeout(100)
    for back in (lambda: go(page, "Proof"), page.go_back):
        page.get_by_test_id("finding-view").get_by_role("button", name="the case in Kit").click()
        click(page.get_by_test_id("module-echo"))
        back()
        expect(finding).to_have_attribute("aria-current", "true")
        expect(page.get_by_test_id("finding-view")).to_contain_text("rail-overloaded")
        expect(page.get_by_label("Words")).to_have_value("rail")
        assert scrolled.evaluate("main => main.scrollTop") == 150


def test_the_place_in_the_file_is_copied_with_one_press(faulty: Page, app: App) -> None:
    page = faulty
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    finding = page.get_by_test_id(RAIL)
    press(finding)
    view = page.get_by_test_id("finding-view")
    copy = view.get_by_role("button", name="Copy the place in the file")
    press(copy)
    expect(view).to_contain_text("Copied")
    copied = page.evaluate("() => navigator.clipboard.readText()")
    assert copied.startswith("rig.toml:")
    assert copied in view.inner_text()
    page.evaluate("() => navigator.clipboard.writeText('')")
    finding.focus()
    page.keyboard.press("c")
    expect(view).to_contain_text("Copied")
    assert page.evaluate("() => navigator.clipboard.readText()") == copied
    assert accessibility_faults(page) == []

    # What is wrong with a file can be copied, too.
    patch = app.folder / "lowtide.patch.toml"
    save_as_an_editor(patch, patch.read_text("utf-8").replace("tempo_bpm", "temp_bpm"))
    click(page.get_by_role("button", name="Copy the place in the file, lowtide.patch.toml:"))
    assert page.evaluate("() => navigator.clipboard.readText()").startswith("lowtide.patch.toml:")


def test_the_loudest_bar_is_that_of_the_proof(page: Page, app: App) -> None:
    """Against the server's own answer."""
    go(page, "Proof")
    bars = page.request.get(f"{app.address}api/proof").json()["survey"]["loudest"]
    shown = page.get_by_test_id("loudest")
    expect(shown.get_by_role("meter")).to_have_count(len(bars))
    for bar in bars:
        expect(shown).to_contain_text(f"{bar['section']}.{bar['port']}")
        expect(shown).to_contain_text(f"Bar {bar['bar']} of {bar['passage']}")
        expect(shown).to_contain_text(f"{bar['headroom_db']:.1f} dB headroom")
