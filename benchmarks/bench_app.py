"""The app in a real browser on a rig of 60 modules and 150 cables: how soon it draws, follows a hand, and pans.

Times are taken inside the page, from what a person does to the frame after the one in which it shows. The browser has
no graphics processor here, so a person's own draws no slower.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from playwright.sync_api import Browser, Page

from setup import front
from tests.browser.driving import LAPTOP, PATIENCE_MS, App, enter, new_context, running_browser
from tests.faultbench.clean_rigs import write_large

MODULES, CABLES = 60, 150
EDITS = 10
PAN_S = 2.0
DIAGRAM = '[data-testid="diagram"]'
BLOCK = f'{DIAGRAM} [data-testid^="block-"]'
CABLE = f'{DIAGRAM} [data-testid^="cable-"]'
WIRE_FROM, WIRE_TO, WIRE_ADD = "wire-from", "wire-to", "wire-add"
READINGS = "/api/readings"
NEXT_FRAME = "const nextFrame = () => new Promise(requestAnimationFrame);"
UNTIL_DRAWN = (
    "async ([block, blocks, cable, cables, patience]) => {"
    + NEXT_FRAME
    + """
  const count = (selector) => document.querySelectorAll(selector).length;
  while (count(block) < blocks || count(cable) < cables) {
    if (performance.now() > patience)
      throw new Error(`drawn are ${count(block)} blocks and ${count(cable)} cables`);
    await nextFrame();
  }
  await nextFrame();
  return performance.now();
}"""
)
"""Milliseconds from asking for the page until so much is drawn."""
ARM = (
    "([trigger, shown, path]) => {"
    + NEXT_FRAME
    + """
  const isShown = () => document.querySelector(shown) !== null;
  if (isShown()) throw new Error(`${shown} is there already`);
  window.measured = new Promise((tell) => {
    document.querySelector(trigger).addEventListener("click", async () => {
      const began = performance.now();
      const back = new Promise((come) => {
        const observer = new PerformanceObserver((list) => {
          if (list.getEntries().some((e) => e.startTime >= began && e.name.endsWith(path))) {
            observer.disconnect();
            come();
          }
        });
        observer.observe({ type: "resource" });
      }).then(nextFrame).then(() => performance.now() - began);
      while (!isShown()) await nextFrame();
      await nextFrame();
      const seen = performance.now() - began;
      tell([seen, await back]);
    }, { capture: true, once: true });
  });
}"""
)
"""From a click on the trigger: until something new is shown, and until what the path answers is in."""
IN_TIME = """(patience) => Promise.race([measured, new Promise((_, refuse) => setTimeout(
  () => refuse(new Error("what was clicked led to nothing")), patience))])"""
COUNT_FRAMES = """() => {
  const times = [];
  let counting = true;
  const note = (time) => { times.push(time); if (counting) requestAnimationFrame(note); };
  requestAnimationFrame(note);
  window.stopFrames = () => { counting = false; return times; };
}"""
LOOSE_ENDS = """async (wanted) => {
  const { blocks } = await (await fetch("/api/diagram")).json();
  const outs = blocks.flatMap((block) =>
    block.jacks.filter((jack) => jack.way === "out" && !jack.is_used).map((jack) => `${block.id}.${jack.id}`));
  const taken = new Set(), pairs = [];
  for (const source of outs) {
    if (pairs.length === wanted) break;
    const { ends } = await (await fetch(`/api/ends?jack=${source}`)).json();
    const end = ends.find((e) => e.ok && !e.lead && !e.cables.length && !e.warns.length && !taken.has(e.jack));
    if (end) { taken.add(end.jack); pairs.push([source, end.jack]); }
  }
  return pairs;
}"""
"""Pairs of jacks that a cable may join, as the app itself says."""
PLUG = """async (pairs) => {
  const { revision } = await (await fetch("/api/project")).json();
  const edits = pairs.map(([source, target]) => ({ do: "add-cable", source, target }));
  const body = JSON.stringify({ client: "speeds", revision, edits });
  const headers = { "content-type": "application/json" };
  const done = await fetch("/api/edits", { method: "POST", headers, body });
  return done.ok ? "" : await done.text();
}"""
CABLES_NOW = """async () => (await (await fetch("/api/project")).json()).patch.cables.length"""


class Frames(NamedTuple):
    """How evenly a page has drawn."""

    rate_hz: float
    median_ms: float
    worst_ms: float

    @classmethod
    def of(cls, times_ms: Sequence[float]) -> Frames:
        """From the times at which frames began. [ms]"""
        gaps = [after - before for before, after in pairwise(times_ms)]
        return cls(1e3 * len(gaps) / sum(gaps), statistics.median(gaps), max(gaps))


def drawn_after_ms(
    page: Page,
    address: str,
    *,
    blocks: int = MODULES,
    cables: int = CABLES,
    patience_ms: int = PATIENCE_MS,
) -> float:
    """Ask for a page and return when so many blocks and cables are drawn. [ms]"""
    page.goto(address, wait_until="commit")
    taken: float = page.evaluate(UNTIL_DRAWN, [BLOCK, blocks, CABLE, cables, patience_ms])
    return taken


def followed_after_ms(
    page: Page, trigger: str, *, shown: str, path: str = READINGS
) -> tuple[float, float]:
    """Click the trigger; return when what it leads to is shown, and when the readings are back. [ms]"""
    page.evaluate(ARM, [trigger, shown, path])
    page.locator(trigger).click()
    seen, back = page.evaluate(IN_TIME, PATIENCE_MS)
    return seen, back


def frames_while_panning(page: Page, *, diagram: str = DIAGRAM, seconds: float = PAN_S) -> Frames:
    """Drag the diagram by an empty corner, and see how evenly the page draws meanwhile."""
    box, block = page.locator(diagram).bounding_box(), page.locator(BLOCK).first
    assert box, "the page has no diagram"
    stood = block.bounding_box()
    left, top = box["x"] + 6, box["y"] + 6
    page.mouse.move(left, top)
    page.mouse.down()
    page.evaluate(COUNT_FRAMES)
    began_s = time.monotonic()
    while (passed_s := time.monotonic() - began_s) < seconds:
        there = passed_s / seconds
        page.mouse.move(left + there * box["width"] / 3, top + there * box["height"] / 3)
    page.mouse.up()
    frames = Frames.of(page.evaluate("stopFrames()"))
    assert block.bounding_box() != stood, "the diagram has not moved"
    return frames


def grow(page: Page, cables: int) -> None:
    """Plug in cables, where the app says that they may go, until there are so many."""
    lacking = cables - page.evaluate(CABLES_NOW)
    refused = page.evaluate(PLUG, page.evaluate(LOOSE_ENDS, lacking)) if lacking > 0 else ""
    there = page.evaluate(CABLES_NOW)
    assert there >= cables, f"{there} cables; {refused}"


def measure(browser: Browser, folder: Path) -> dict[str, float]:
    """Measure all on a fresh copy of the large rig."""
    app = App(write_large(folder / "large"), folder / "state").start()
    try:
        page = new_context(browser, size=LAPTOP).new_page()
        enter(page, app)
        grow(page, CABLES)
        loose = page.evaluate(LOOSE_ENDS, 1)[0]
        wiring = f"{app.address}#/wiring"
        first_ms = []
        for _ in range(3):
            page.goto("about:blank")
            first_ms.append(drawn_after_ms(page, wiring))
        frames = frames_while_panning(page)
        follows = []
        for _ in range(EDITS):
            for field, jack in zip((WIRE_FROM, WIRE_TO), loose, strict=True):
                page.get_by_test_id(field).fill(jack)
                page.get_by_test_id(field).press("Tab")
            new = f'{DIAGRAM} [data-testid="cable-{CABLES}"]'
            follows.append(followed_after_ms(page, f'[data-testid="{WIRE_ADD}"]', shown=new))
            page.keyboard.press("Control+z")
            page.locator(new).wait_for(state="detached")
    finally:
        app.stop()
    return {
        f"first drawing of {MODULES} modules and {CABLES} cables (ms)": statistics.median(first_ms),
        "a cable plugged, until it shows (ms)": statistics.median(f[0] for f in follows),
        "a cable plugged, until the readings are back (ms)": statistics.median(
            f[1] for f in follows
        ),
        "frames a second while panning": frames.rate_hz,
        "longest frame while panning (ms)": frames.worst_ms,
    }


def main() -> dict[str, float]:
    """Build the page, open it on the large rig, and measure."""
    front.set_up()
    with running_browser() as browser, tempfile.TemporaryDirectory() as folder:
        return measure(browser, Path(folder))


if __name__ == "__main__":
    for name, figure in main().items():
        sys.stdout.write(f"{name:>60} {figure:10.1f}\n")
