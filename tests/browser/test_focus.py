"""The focus is never lost: who works by keys goes on where they were."""

from playwright.sync_api import Page, expect

from tests.browser.hands import click, pick


def test_a_dialogue_that_another_one_has_opened_gives_the_focus_back_to_what_opened_the_first(
    page: Page,
) -> None:
    describe = page.get_by_test_id("describe")
    describe.press("Enter")
    click(page.get_by_role("combobox", name="The sheet that is most like it"))
    pick(page, "clock-6")
    page.get_by_test_id("describe-title").fill("Tide clock")
    save = page.get_by_test_id("describe-save")
    expect(save).to_be_enabled()
    save.press("Enter")
    expect(page.get_by_role("dialog", name="Add a module")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(describe).to_be_focused()
