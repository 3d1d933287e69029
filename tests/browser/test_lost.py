"""A server that dies and comes back, a browser that is closed and opened: what was acknowledged is there."""

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.driving import App, Faults, enter, go
from tests.browser.hands import click, middle
from tests.browser.test_tabs import FINDING, weaken

AWAY = "rigproof does not answer"
PORT_BACK_MS = 15_000
"""The page asks again at intervals that grow to 4 s."""


def test_a_server_killed_in_the_middle_of_an_edit_loses_nothing_that_it_acknowledged(
    app: App, page: Page, open_page: OpenPage, faults: Faults
) -> None:
    faults.allow("ERR_|WebSocket connection|40[13]")
    weaken(app.folder)
    rig, patch = app.folder / "rig.toml", app.folder / "lowtide.patch.toml"
    weak = rig.read_text("utf-8")
    mended = weak.replace("1300", "1800")
    port = app.port
    status = page.get_by_test_id("saved")

    go(page, "Proof")
    click(page.get_by_test_id(f"finding-{FINDING}"))
    click(page.get_by_test_id("decline"))
    page.keyboard.type("my hands know")
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("undecline")).to_be_visible()  # that is the acknowledgement
    acknowledged = patch.read_text("utf-8")
    assert 'reason = "my hands know"' in acknowledged

    click(page.get_by_test_id("finding-rail-overloaded"))
    apply = page.get_by_test_id("fix-apply")
    expect(apply).to_be_enabled()
    page.mouse.move(*middle(apply))
    page.mouse.down()
    page.mouse.up()
    app.kill()  # at once: the edit is under way, or has just been made
    expect(status).to_contain_text(AWAY)
    expect(page.get_by_test_id("finding-view")).to_be_visible()  # what there was stays in sight
    expect(apply).to_be_disabled()
    assert rig.read_text("utf-8") in (weak, mended)
    assert patch.read_text("utf-8") == acknowledged

    app.start()
    assert app.port == port
    expect(status).to_have_text("Saved", timeout=PORT_BACK_MS)  # by itself, with no reload
    now = rig.read_text("utf-8")
    assert now in (weak, mended), "never half a file"
    found = page.get_by_test_id("finding-rail-overloaded")
    expect(found).to_have_count(1 if now == weak else 0)
    assert patch.read_text("utf-8") == acknowledged

    # It takes edits again, and what is left open elsewhere is whole.
    click(page.get_by_test_id("finding-cable-not-in-stock"))
    click(page.get_by_test_id("fix-apply"))
    expect(page.get_by_test_id("finding-cable-not-in-stock")).to_have_count(0)
    assert patch.read_text("utf-8") == acknowledged.replace("cm = 5 ", "cm = 15 ")
    assert not [p for p in app.folder.iterdir() if p.name.startswith(".") and p.is_file()]

    # The browser is closed, and another opened with the link of the new start.
    page.context.close()
    again = open_page()
    enter(again, app)
    go(again, "Proof")
    expect(again.get_by_test_id("finding-cable-not-in-stock")).to_have_count(0)
    click(again.locator("summary", has_text="Declined"))
    click(again.get_by_test_id(f"finding-{FINDING}"))
    expect(again.get_by_test_id("finding-view")).to_contain_text("You let it stand: my hands know")
