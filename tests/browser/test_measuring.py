"""The stop-watches of `benchmarks/bench_app.py`, on pages of which it is known how long they take."""

import pytest
from playwright.sync_api import Page

from benchmarks.bench_app import Frames, drawn_after_ms, followed_after_ms, frames_while_panning
from tests.browser.conftest import OpenPage
from tests.browser.driving import Faults

ADDRESS = "http://toy.invalid/"  # never resolves: RFC 2606, section 2; answered by the test itself
SLOW_FRAME_MS = 50
TOY = """<!doctype html><div data-testid="diagram" style="width:300px;height:300px"></div>
<button id="go" onclick="plug()">go</button>
<script>
const diagram = document.querySelector("div");
const put = (name) => diagram.append(
  Object.assign(document.createElement("i"), { innerHTML: `<b data-testid="${name}">.</b>` }));
setTimeout(() => { put("block-a"); put("block-b"); }, 300);
setTimeout(() => put("cable-0"), 500);
function plug() {
  setTimeout(() => put("cable-1"), 200);
  setTimeout(() => fetch("/api/readings"), 400);
}
const drag = () => {
  const until = performance.now() + SLOW;
  while (performance.now() < until);
  if (dragged) requestAnimationFrame(drag);
};
let dragged = false;
onmousemove = (event) => { if (dragged) diagram.style.marginLeft = `${event.clientX}px`; };
diagram.onmousedown = () => { dragged = true; drag(); };
onmouseup = () => { dragged = false; };
</script>""".replace("SLOW", str(SLOW_FRAME_MS))


@pytest.fixture
def toy(open_page: OpenPage, faults: Faults) -> Page:
    faults.allow(f"asked: {ADDRESS}")
    page = open_page()
    page.route("**/*", lambda route: route.fulfill(body=TOY, content_type="text/html"))
    return page


def test_the_watches_agree_with_what_the_page_does(toy: Page) -> None:
    """Never less than the page waits, and each thing by itself; above that what a busy machine takes besides."""
    drawn_ms = drawn_after_ms(toy, ADDRESS, blocks=2, cables=1)
    assert drawn_ms >= 500
    shown_ms, back_ms = followed_after_ms(toy, "#go", shown='[data-testid="cable-1"]')
    assert 200 <= shown_ms < back_ms
    assert back_ms >= 400


def test_frames_that_take_long_are_seen(toy: Page) -> None:
    drawn_after_ms(toy, ADDRESS, blocks=2, cables=1)
    frames = frames_while_panning(toy, seconds=0.6)
    assert frames.rate_hz <= 1e3 / SLOW_FRAME_MS
    assert frames.median_ms >= SLOW_FRAME_MS


def test_a_diagram_that_stays_where_it_is_was_not_panned(toy: Page) -> None:
    drawn_after_ms(toy, ADDRESS, blocks=2, cables=1)
    toy.evaluate("onmousemove = null")
    with pytest.raises(AssertionError, match="not moved"):
        frames_while_panning(toy, seconds=0.2)


def test_a_page_that_never_draws_is_no_figure(toy: Page) -> None:
    with pytest.raises(Exception, match=r"drawn are [012] blocks and [01] cables"):
        drawn_after_ms(toy, ADDRESS, blocks=3, cables=1, patience_ms=900)


def test_the_rate_is_that_of_the_whole_and_not_of_the_best_frames() -> None:
    assert Frames.of([0.0, 10.0, 20.0, 120.0]) == pytest.approx((25.0, 10.0, 100.0))
