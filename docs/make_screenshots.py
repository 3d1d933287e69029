"""Picture every place of the app at three sizes, on the light sheet and the dark: docs/screenshots/*.png.

    docs/make_screenshots.py [PLACE ...]      all places, or the ones named

Run by hand from the root of the project with the developer's Python. Shows the invented demo rig and nothing else.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path
from typing import cast

from PIL import Image
from playwright.sync_api import Browser, Page

from setup import front
from setup.bootstrap import SetupError
from tests.browser.driving import (
    DESK,
    LAPTOP,
    TABLET,
    App,
    copy_demo,
    enter,
    new_context,
    running_browser,
)

PICTURES = Path(__file__).with_name("screenshots")
SIZES = {"laptop": LAPTOP, "tablet": TABLET, "desk": DESK}
SHEETS = ("light", "dark")
LIMIT_BYTES = 200_000
PALETTE, ALIKE = 256, 5
"""How many colours a picture has, and how far apart they are at least in one of red, green and blue."""
Colour = tuple[int, int, int]
FADER, HELD_AT, TOLD = "faders.f5", "0.5", "at 0.5: "
OUTLINE, HAS_SPECTRUM = "path.outline", "strongest at"
JACKS = ("bass.saw", "submix.out-left")
SECTION = "Fog bank"
RENDER_MS = 120_000
PLACES = "nav a[href^='#/']"
IS_AT_REST = """async () => {
  await document.fonts.ready;
  const busy = () => document.querySelector("[aria-busy=true]") !== null;
  for (let frames = 0; busy() || frames < 3; frames += 1) await new Promise(requestAnimationFrame);
}"""


def unlike(colours: list[Colour], most: int) -> list[Colour]:
    """The first of the colours of which none is nearly another: the edges of words have a hundred greys of one ink."""
    kept: list[Colour] = []
    for colour in colours:
        if all(max(abs(a - b) for a, b in zip(colour, one, strict=True)) > ALIKE for one in kept):
            kept.append(colour)
        if len(kept) == most:
            break
    return kept


def small(png: bytes) -> bytes:
    """The same picture in 256 of its colours: paper, ink and wires are among them to the letter."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    found = picture.getcolors(maxcolors=picture.width * picture.height) or []
    most = sorted(found, key=lambda one: one[0], reverse=True)
    palette = Image.new("P", (1, 1))
    kept = unlike([cast("Colour", colour) for _, colour in most], PALETTE)
    palette.putpalette([level for colour in kept for level in colour])
    drawn = picture.quantize(palette=palette, dither=Image.Dither.NONE)
    written = io.BytesIO()
    drawn.save(written, "PNG", optimize=True)
    return written.getvalue()


def places_of(page: Page) -> list[str]:
    """The names of all places, as the addresses of the page's own links have them."""
    links: list[str] = page.locator(PLACES).evaluate_all(
        "all => all.map(a => a.getAttribute('href'))"
    )
    return list(dict.fromkeys(link.removeprefix("#/") for link in links))


def follow_a_fader(page: Page) -> None:
    """Wiring, with the way of a fader drawn through the diagram."""
    field = page.get_by_role("combobox", name="Trace from")
    field.fill(FADER)
    field.press("Enter")
    held = page.get_by_label("Held at").first
    held.fill(HELD_AT)
    held.press("Enter")
    page.get_by_test_id("trace").get_by_text(TOLD).first.wait_for()


def open_a_finding(page: Page) -> None:
    """Proof, with what is said of the first finding."""
    page.locator("[data-testid^='finding-']").first.click()
    page.get_by_test_id("finding-view").wait_for()


def render_a_stretch(page: Page) -> None:
    """Hear, with a stretch that has been rendered and the volts of two jacks in it."""
    field = page.get_by_role("combobox", name="Look at a jack")
    for jack in JACKS:
        field.fill(jack)
        field.press("Enter")
    page.get_by_label("Section").select_option(label=SECTION)
    page.get_by_label("How long").fill("20")
    page.get_by_test_id("render-start").click()
    page.get_by_test_id(f"scope-{JACKS[-1]}").wait_for(timeout=RENDER_MS)
    page.locator(OUTLINE).first.wait_for(timeout=RENDER_MS)
    for jack in JACKS:
        page.locator(f"[data-testid='scope-{jack}']").get_by_text(HAS_SPECTRUM).wait_for(
            timeout=RENDER_MS
        )
    page.mouse.move(0, 0)


SHOWN = {"wiring": follow_a_fader, "proof": open_a_finding, "hear": render_a_stretch}
"""What is done in a place before its picture is taken."""


def take(browser: Browser, app: App, wanted: list[str]) -> list[Path]:
    """Picture the places on one app."""
    taken = []
    for sheet in SHEETS:
        for size_name, size in SIZES.items():
            app.restart()
            with new_context(browser, size=size, sheet=sheet) as context:
                page = context.new_page()
                enter(page, app)
                known = places_of(page)
                if unknown := set(wanted) - set(known):
                    raise SystemExit(
                        f"no place {', '.join(sorted(unknown))}; there are {', '.join(known)}"
                    )
                for place in wanted or known:
                    page.evaluate("place => { location.hash = `#/${place}` }", place)
                    page.wait_for_load_state("networkidle")
                    page.evaluate(IS_AT_REST)
                    if place in SHOWN:
                        SHOWN[place](page)
                        page.evaluate(IS_AT_REST)
                    path = PICTURES / f"{place}-{size_name}-{sheet}.png"
                    path.write_bytes(small(page.screenshot()))
                    taken.append(path)
    return taken


def main(wanted: list[str]) -> int:
    """Build the page, take the pictures, say how large they are."""
    try:
        front.set_up()
        with running_browser() as browser, tempfile.TemporaryDirectory() as folder:
            app = App(copy_demo(Path(folder, "lowtide")), Path(folder, "state")).start()
            try:
                PICTURES.mkdir(exist_ok=True)
                taken = take(browser, app, wanted)
            finally:
                app.stop()
    except SetupError as error:
        print(error)
        return 1
    for path in taken:
        size_bytes = path.stat().st_size
        print(
            f"{size_bytes / 1e3:7.1f} kB  {path.name}{'  LARGE' if size_bytes > LIMIT_BYTES else ''}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
