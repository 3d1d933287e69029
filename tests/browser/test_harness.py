"""What the other tests here rely on: that no fault of a page stays unseen, and that the app can be lost and found."""

import asyncio
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.driving import App, Faults, accessibility_faults

PROVOKED = (
    ("console.error('oh')", "error: oh"),
    ("setTimeout(() => { throw new Error('lost') })", "exception: lost"),
    ("fetch('/api/nowhere')", "404"),
    (
        "document.body.append(Object.assign(document.createElement('script'), { text: '1' }))",
        "policy: script-src",
    ),
    ("document.body.insertAdjacentHTML('beforeend', '<p style=\"top: 0\">')", "policy: style-src"),
    ("new Image().src = 'http://192.0.2.1/x.png'", "policy: img-src"),  # nobody's: RFC 5737
    ("open('http://192.0.2.1/')", "asked: http://192.0.2.1/"),
)


def test_every_sort_of_fault_of_a_page_is_seen(page: Page, faults: Faults) -> None:
    assert not faults.left
    for provoke, told in PROVOKED:
        page.evaluate(f"() => {{ {provoke} }}")
        for _ in range(500):
            if any(told in one for one in faults.left):
                break
            page.wait_for_timeout(20)
        assert any(told in one for one in faults.left), (told, faults.found)
        faults.found.clear()
    page.evaluate("console.error('provoked')")
    faults.allow("provoked")
    assert faults.found
    assert not faults.left


def test_what_shuts_out_is_found_in_a_part_and_in_the_whole(page: Page) -> None:
    """WCAG 2.2, 1.1.1: an image has words. The policy lets images of data: in, and no more than that."""
    page.evaluate("""() => {
        const image = document.createElement("img");
        image.src = "data:image/gif;base64,R0lGODlhAQABAAAAACw=";
        const part = document.createElement("div");
        part.id = "planted";
        part.append(image);
        document.querySelector("main").append(part);
    }""")
    assert [one for one in accessibility_faults(page, within="#planted") if "image-alt" in one]
    assert [one for one in accessibility_faults(page) if "image-alt" in one]
    assert accessibility_faults(page, within="#planted", rules=["image-alt"])
    assert not accessibility_faults(page, within="#planted", rules=["color-contrast"])


def test_an_app_that_dies_comes_back_at_the_same_place_for_the_same_page(
    app: App, page: Page, faults: Faults
) -> None:
    faults.allow("ERR_|WebSocket connection")  # whatever was under way breaks off in its own way
    port = app.port
    app.kill()
    assert app.process.returncode == -9
    app.restart()
    assert app.port == port
    page.reload()  # without the new link: the page is known by its cookie
    page.get_by_test_id("project-name").wait_for()


def test_an_app_that_cannot_start_says_why(tmp_path: Path) -> None:
    (tmp_path / "nothing.txt").touch()
    app = App(tmp_path / "nothing.txt", tmp_path / "state")
    with pytest.raises(AssertionError, match="said no link"):
        app.start()
    app.stop()
    assert any("nothing" in line for line in app.said)


def test_the_event_loop_is_taken_while_a_browser_runs(page: Page) -> None:
    """Why the browser ends with this folder's tests: as long as it runs, theirs could not."""
    assert asyncio._get_running_loop() is not None
