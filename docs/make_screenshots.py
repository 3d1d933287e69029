"""Picture every place of the app at three sizes, on the light sheet and the dark: docs/screenshots/*.png.

    docs/make_screenshots.py [PLACE ...]      all places, or the ones named

Run by hand from the root of the project with the developer's Python. Shows the invented demo rig and nothing else.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

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
COLOURS = 128
LIMIT_BYTES = 200_000
PLACES = "nav a[href^='#/']"
IS_AT_REST = """async () => {
  await document.fonts.ready;
  const busy = () => document.querySelector("[aria-busy=true]") !== null;
  for (let frames = 0; busy() || frames < 3; frames += 1) await new Promise(requestAnimationFrame);
}"""


def small(png: bytes) -> bytes:
    """The same picture in fewer colours: a drawing has few, and the eye misses none."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    drawn = picture.quantize(COLOURS, dither=Image.Dither.NONE)
    written = io.BytesIO()
    drawn.save(written, "PNG", optimize=True)
    return written.getvalue()


def places_of(page: Page) -> list[str]:
    """The names of all places, as the addresses of the page's own links have them."""
    links: list[str] = page.locator(PLACES).evaluate_all(
        "all => all.map(a => a.getAttribute('href'))"
    )
    return list(dict.fromkeys(link.removeprefix("#/") for link in links))


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
