"""Two pages on one project: each sees the other's edits at once, and neither loses its own."""

from pathlib import Path

from playwright.sync_api import Locator, Page, Route, expect

from tests.browser.driving import App, Faults, go
from tests.browser.hands import click, middle, save_as_an_editor

AT_ONCE_MS = 1000
FINDING = "clips-with-all-up"


def weaken(folder: Path) -> None:
    """Leave two faults, in a file each: a weak supply, and a cable that the box does not hold."""
    for name, before, after in (
        ("rig.toml", '"+12V" = 2000', '"+12V" = 1300'),
        (
            "lowtide.patch.toml",
            'to = "sends.in-1", colour = "yellow", cm = 15',
            'to = "sends.in-1", colour = "yellow", cm = 5',
        ),
    ):
        path = folder / name
        text = path.read_text("utf-8")
        assert before in text
        save_as_an_editor(path, text.replace(before, after))


def poised(button: Locator) -> Page:
    """Hold the mouse down on a button, and return its page: letting go is all that is left to do."""
    button.page.bring_to_front()
    button.page.mouse.move(*middle(button))
    expect(button).to_be_enabled()
    button.page.mouse.down()
    return button.page


def test_two_tabs_follow_each_other_and_both_edit_at_once(app: App, page: Page) -> None:
    weaken(app.folder)
    rig, patch = app.folder / "rig.toml", app.folder / "lowtide.patch.toml"
    before = rig.read_text("utf-8"), patch.read_text("utf-8")
    other = page.context.new_page()
    other.goto(app.address)  # the browser holds the key already
    for one in (page, other):
        go(one, "Proof")
    click(page.get_by_test_id("finding-rail-overloaded"))
    click(other.get_by_test_id("finding-cable-not-in-stock"))

    # Both let go of their button at the same moment.
    for one in [poised(one.get_by_test_id("fix-apply")) for one in (page, other)]:
        one.mouse.up()
    for one in (page, other):
        expect(one.get_by_test_id("finding-rail-overloaded")).to_have_count(0)
        expect(one.get_by_test_id("finding-cable-not-in-stock")).to_have_count(0)
        expect(one.get_by_role("alert")).to_have_count(0)
    assert rig.read_text("utf-8") == before[0].replace("1300", "1800")
    assert patch.read_text("utf-8") == before[1].replace("cm = 5 ", "cm = 15 ")

    # One says that a finding may stand; the other sees it at once, and takes it back.
    click(page.get_by_test_id(f"finding-{FINDING}"))
    click(page.get_by_test_id("decline"))
    page.keyboard.type("my hands know")
    page.keyboard.press("Enter")
    status = other.get_by_test_id("saved")
    expect(page.get_by_test_id("undecline")).to_be_visible()
    expect(status).to_have_attribute("data-revision", revision(page), timeout=AT_ONCE_MS)
    expect(other.get_by_role("log")).to_contain_text("Changed in another window: let")
    assert 'reason = "my hands know"' in patch.read_text("utf-8")
    other.bring_to_front()
    other.keyboard.press("Control+z")
    expect(page.get_by_role("log")).to_contain_text("window: undo: let", timeout=AT_ONCE_MS)
    expect(page.get_by_test_id("decline")).to_be_visible()
    assert "declined" not in patch.read_text("utf-8")


def revision(page: Page) -> str:
    """Return the number of the last change that a page shows."""
    return page.get_by_test_id("saved").get_attribute("data-revision") or ""


def test_a_fix_that_has_met_a_change_on_the_disk_asks(app: App, page: Page, faults: Faults) -> None:
    faults.allow("409")
    weaken(app.folder)
    rig = app.folder / "rig.toml"
    saves = iter((("= 1300", "= 1250"), ("= 1250", "= 1200")))

    def change_first(route: Route) -> None:
        """Let an editor save the rail anew in the moment before the fix arrives."""
        if save := next(saves, None):
            save_as_an_editor(rig, rig.read_text("utf-8").replace(*save))
        route.continue_()

    page.route("**/api/fixes", change_first)
    go(page, "Proof")
    finding = page.get_by_test_id("finding-rail-overloaded")
    click(finding)
    click(page.get_by_test_id("fix-apply"))
    question = page.get_by_role("dialog", name="Changed meanwhile")
    expect(question).to_contain_text("On the disk: rig.toml")
    click(question.get_by_role("button", name="Keep theirs"))
    expect(question).to_have_count(0)
    assert '"+12V" = 1250' in rig.read_text("utf-8")

    click(page.get_by_test_id("fix-apply"))
    click(question.get_by_role("button", name="Apply the fix"))
    expect(finding).to_have_count(0)
    assert '"+12V" = 1800' in rig.read_text("utf-8")
    page.keyboard.press("Control+z")
    expect(finding).to_be_visible()
    assert '"+12V" = 1200' in rig.read_text("utf-8")
