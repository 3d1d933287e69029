"""A file changed by an editor while the page is open: seen, asked about where both meet, told where it breaks."""

from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.driving import Faults, go
from tests.browser.hands import click, middle, save_as_an_editor

AT_ONCE_MS = 2000
"""How soon a change on the disk has to be on the page."""
FINDING = "clips-with-all-up"
RAILS = 'rails_ma = { "+12V" = 2000,'
SAID = "# lent to a friend until Friday\n"


@pytest.fixture
def rig(project_folder: Path) -> Path:
    return project_folder / "rig.toml"


@pytest.fixture
def patch(project_folder: Path) -> Path:
    return project_folder / "lowtide.patch.toml"


def test_an_edit_from_outside_is_on_the_page_within_two_seconds_and_its_comment_stays(
    page: Page, rig: Path
) -> None:
    """Written in its place or put in its place; what the page writes later leaves the comment where it is."""
    go(page, "Proof")
    page.get_by_test_id(f"finding-{FINDING}").wait_for()
    text = rig.read_text("utf-8")
    assert RAILS in text
    short = text.replace(RAILS, RAILS.replace("2000", "1500"))
    rig.write_text(short, "utf-8")
    finding = page.get_by_test_id("finding-rail-headroom-short")
    expect(finding).to_contain_text("+12V", timeout=AT_ONCE_MS)
    expect(page.get_by_role("log")).to_contain_text("Changed on the disk: ")

    weak = text.replace(RAILS, SAID + RAILS.replace("2000", "1300"))
    save_as_an_editor(rig, weak)
    finding = page.get_by_test_id("finding-rail-overloaded")
    expect(finding).to_contain_text("+12V", timeout=AT_ONCE_MS)

    click(finding)
    click(page.get_by_test_id("fix-apply"))
    expect(finding).to_have_count(0)
    assert rig.read_text("utf-8") == weak.replace("1300", "1800")  # the fix, and nothing else


def meet(button: Locator, path: Path, theirs: str) -> None:
    """Press a button, and have the file changed before it is let go: the page cannot have heard of it."""
    mouse = button.page.mouse
    mouse.move(*middle(button))
    mouse.down()
    save_as_an_editor(path, theirs)
    mouse.up()


def test_where_two_changed_the_same_the_performer_is_asked_which_is_to_stay(
    page: Page, patch: Path, faults: Faults
) -> None:
    faults.allow("409")
    text = patch.read_text("utf-8")
    theirs = (
        f'{text}\n[[declined]]\nfinding = "{FINDING}"\nat = "patch"\nreason = "the limiter holds"\n'
    )
    question = page.get_by_role("dialog", name="Changed meanwhile")
    view = page.get_by_test_id("finding-view")

    go(page, "Proof")
    click(page.get_by_test_id(f"finding-{FINDING}"))
    click(page.get_by_test_id("decline"))
    page.keyboard.type("my hands know")
    for answer, reason in (("Keep theirs", "the limiter holds"), ("Keep mine", "my hands know")):
        expect(
            page.get_by_role("log")
        ).to_be_empty()  # what was said of the last one may lie over the button
        meet(page.get_by_role("button", name="Let it stand", exact=True), patch, theirs)
        expect(question).to_contain_text("On the disk")
        assert patch.read_text("utf-8") == theirs, "nothing is written before the answer"
        click(question.get_by_role("button", name=answer))
        expect(view).to_contain_text(f"You let it stand: {reason}")
        expect(question).to_have_count(0)
        assert patch.read_text("utf-8") == theirs.replace("the limiter holds", reason)

        click(page.get_by_test_id("undecline"))
        again = page.get_by_test_id("decline")
        if answer == "Keep theirs":  # what was typed and not taken is still there
            again = page.get_by_role("textbox", name="Why it may stand")
            expect(again).to_have_value("my hands know")
        expect(again).to_be_visible()
        assert "[[declined]]" not in patch.read_text("utf-8")


BROKEN = {
    'tempo_bpm = "slow"': ("tempo_bpm = 80", "a number from 10 to 1000"),
    'name = "Low Tide Radio\n': ('name = "Low Tide Radio"\n', "text"),
    '{ from = "bass.sow",': ('{ from = "bass.saw",', "did you mean 'saw'?"),
}
"""What an editor leaves in the patch in place of what, and a part of what is to be said of it."""


def test_a_broken_file_is_told_with_its_line_and_mended_it_is_gone(page: Page, patch: Path) -> None:
    text = patch.read_text("utf-8")
    troubles = page.get_by_role("region", name="What is wrong with the files")
    finding = page.get_by_test_id(f"finding-{FINDING}")
    go(page, "Proof")
    for after, (before, told) in BROKEN.items():
        finding.wait_for()
        broken = text.replace(before, after)
        assert broken != text
        line = broken[: broken.index(after)].count("\n") + 1
        save_as_an_editor(patch, broken)
        expect(troubles).to_contain_text(f"{patch.name} line {line}", timeout=AT_ONCE_MS)
        expect(troubles).to_contain_text(told)
        expect(page.get_by_role("main")).to_contain_text("Nothing is checked")
        expect(page.get_by_test_id("project-name")).not_to_be_empty()
        if after.startswith(
            "tempo_bpm"
        ):  # the rig still loads, so it is still there to be looked at
            go(page, "Kit")
            expect(page.get_by_test_id("module-clock")).to_be_visible()
            expect(troubles).to_be_visible()
            go(page, "Proof")

        save_as_an_editor(patch, text)
        expect(troubles).to_have_count(0)
        expect(finding).to_be_visible()
