"""Hear in a browser: a render is stopped, two are held against each other, and the timeline is walked and looped."""

import re
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.driving import go
from tests.browser.hands import click, drag, files_in, here, pick
from tests.browser.test_journey import FIRST_SOUND_MS, NOTE_AUDIO, PLAYED_S

SILENCED = ("sampler.left", "sampler.right")
"""Without the cables from these to the way out the drums are gone."""


def last(page: Page, seconds: str) -> None:
    """Say how long the render is to be."""
    click(page.get_by_role("textbox", name="How long"))
    page.keyboard.press("Control+a")
    page.keyboard.type(seconds)


def played_s(page: Page) -> float:
    """Return where it plays, as the timeline says it."""
    said = page.get_by_test_id("timeline").get_attribute("aria-valuenow")
    assert said
    return float(said)


def test_a_render_is_stopped_and_two_are_held_against_each_other(
    page: Page, project_folder: Path
) -> None:
    page.add_init_script(NOTE_AUDIO)
    page.reload()
    before = files_in(project_folder)
    go(page, "Hear")
    renders = page.get_by_role("list", name="Renders")

    # A long one is begun, and stopped on the way: nothing of it can be played.
    last(page, "700")
    click(page.get_by_test_id("render-start"))
    expect(page.get_by_role("progressbar").first).to_be_visible()
    click(page.get_by_test_id("render-cancel"))
    expect(renders).to_contain_text("stopped")
    expect(page.get_by_test_id("player")).to_have_count(0)

    # The fullest stretch, once as it is and once with the drums pulled out.
    page.get_by_role("combobox", name="Section").select_option("Spring tide")
    last(page, "2")
    click(page.get_by_role("combobox", name="Look at a jack"))
    pick(page, "pad.left")
    page.get_by_role("combobox", name="Held against").select_option("the same with cables pulled")
    for jack in SILENCED:
        click(page.get_by_role("searchbox", name="Find a cable"))
        page.keyboard.press("Control+a")
        page.keyboard.type(jack)
        click(page.get_by_role("switch", name=re.compile(f"^{jack} ")))
    click(page.get_by_test_id("render-start"))
    expect(page.get_by_test_id("difference")).to_be_visible(timeout=FIRST_SOUND_MS)
    expect(page.get_by_test_id("difference")).to_contain_text("softer than A")
    expect(page.get_by_test_id("hear-a")).to_have_attribute("aria-pressed", "true")
    click(page.get_by_test_id("play"))
    click(page.get_by_role("button", name="They are down: play"))
    page.wait_for_function(f"() => {PLAYED_S} > 0.1")
    assert page.evaluate("sounds.filter((one) => !one.paused).length") == 2, "both, in step"
    click(page.get_by_test_id("hear-b"))
    expect(page.get_by_test_id("hear-b")).to_have_attribute("aria-pressed", "true")
    scope = page.get_by_test_id("scope-pad.left")
    expect(scope).to_contain_text("The proof is of the patch in the files")
    assert files_in(project_folder) == before, "listening writes nothing"


def test_the_timeline_is_walked_by_mouse_and_keys_and_loops(page: Page) -> None:
    page.add_init_script(NOTE_AUDIO)
    page.reload()
    go(page, "Hear")
    last(page, "4")
    click(page.get_by_test_id("render-start"))
    timeline = page.get_by_test_id("timeline")
    timeline.wait_for(timeout=FIRST_SOUND_MS)

    click(timeline)  # in its middle
    expect(timeline).to_have_attribute("aria-valuenow", "2")
    assert page.evaluate("sounds.at(-1).currentTime") == 2
    beat_s = 60 / 80  # the demo's tempo
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert abs(played_s(page) - 2 * beat_s) < 0.06  # told to a tenth of a second

    box = timeline.bounding_box()
    assert box
    drag(page, timeline, box["x"] + box["width"] * 0.75, here(timeline)[1])
    expect(page.get_by_test_id("loop")).to_have_text("Loop on")
    click(page.get_by_test_id("play"))
    click(page.get_by_role("button", name="They are down: play"))
    page.wait_for_function(f"() => {PLAYED_S} > 2.6")
    page.wait_for_function(
        f"() => {PLAYED_S} < 2.4 && {PLAYED_S} >= 1.9"
    )  # round again, from 2 s to 3 s
