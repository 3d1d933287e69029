"""Start the app as a person does, and a Chromium to look at it: for tests, speeds and screenshots."""

from __future__ import annotations

import contextlib
import os
import queue
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    expect,
    sync_playwright,
)

from setup import browser as chromium
from setup import front
from setup.bootstrap import SetupError

ROOT = Path(__file__).resolve().parents[2]
LAPTOP, TABLET, DESK = (1280, 800), (820, 1180), (1680, 1050)
"""Sizes of a window that the app has to look right in. [CSS px]"""
START_S = 30.0
"""How long the app may take until it says its link. A quiet machine needs less than 1 s."""
PATIENCE_MS = 20_000
FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
LINK = re.compile(r"http://127\.0\.0\.1:(\d+)/#\S+")
LOOPBACK = "127.0.0.1"
INSIDE = ("about", "blob", "data")
"""Addresses of these schemes ask nobody."""
TELL_VIOLATIONS = """
addEventListener("securitypolicyviolation", (event) => {
  console.error(`policy: ${event.violatedDirective} forbids ${event.blockedURI}`);
});
"""
AXE_TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
AXE_SOURCE = front.MODULES / "axe-core" / "axe.min.js"
RUN_AXE = """
async ([selector, type, values]) => {
  const found = await axe.run(selector ?? document, { runOnly: { type, values } });
  return found.violations.flatMap((rule) =>
    rule.nodes.map((node) => {
      const why = node.any.map((one) => one.message).join(" ");
      return `${rule.id} (${rule.impact}) at ${node.target.join(" ")}: ${rule.help}. ${why}`;
    }));
}
"""


@dataclass
class App:
    """`rigproof open` on a folder, in a process of its own.

    `said` holds all that it has printed, on either stream, so far. In `state` it remembers where it was last.
    """

    folder: Path
    state: Path
    port: int = 0
    link: str = ""
    said: list[str] = field(default_factory=list)
    _process: subprocess.Popen[str] | None = None
    _reader: threading.Thread | None = None

    @property
    def process(self) -> subprocess.Popen[str]:
        """The running program."""
        assert self._process is not None, "the app has not been started"
        return self._process

    @property
    def address(self) -> str:
        """Where it serves, without the key."""
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> App:
        """Start it and wait for its link."""
        env = os.environ | {
            "PYTHONPATH": str(ROOT / "src"),
            "PYTHONUNBUFFERED": "1",
            "XDG_STATE_HOME": str(self.state),
        }
        self._process = subprocess.Popen(
            [sys.executable, "-m", "rigproof", "open", str(self.folder), "--no-browser"],
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
        )
        links: queue.Queue[str] = queue.Queue()
        self._reader = threading.Thread(target=self._read, args=(links,), daemon=True)
        self._reader.start()
        try:
            self.link = links.get(timeout=START_S)
        except queue.Empty:
            self.kill()
        assert self.link, "the app said no link:\n" + "".join(self.said)
        found = LINK.fullmatch(self.link)
        assert found
        self.port = int(found[1])
        return self

    def _read(self, links: queue.Queue[str]) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.said.append(line)
            if found := LINK.search(line):
                links.put(found[0])
        links.put("")

    def kill(self) -> None:
        """End it as a crash or a lost battery does: at once, without a word."""
        self.process.kill()
        self._gone()

    def stop(self) -> None:
        """End it as a closed terminal does; harmless when it has gone already."""
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.process.kill()
        self._gone()

    def _gone(self) -> None:
        self.process.wait()
        if self._reader is not None:
            self._reader.join()
        if self.process.stdout:
            self.process.stdout.close()

    def restart(self) -> App:
        """End it and start it again; `link` is the new one."""
        self.stop()
        self.link = ""
        return self.start()

    @property
    def tracebacks(self) -> str:
        """What it has said, if a traceback is among it; empty otherwise."""
        text = "".join(self.said)
        return text if "Traceback (most recent call last)" in text else ""


@dataclass
class Faults:
    """What went wrong in a page that a person would not see: errors in the console, exceptions, forbidden things, and
    whatever was asked of another machine.
    """

    found: list[str] = field(default_factory=list)
    allowed: list[re.Pattern[str]] = field(default_factory=list)

    def allow(self, pattern: str) -> None:
        """Let faults pass that a test provokes."""
        self.allowed.append(re.compile(pattern))

    @property
    def left(self) -> list[str]:
        """All faults that are not allowed."""
        return [one for one in self.found if not any(p.search(one) for p in self.allowed)]

    def watch(self, context: BrowserContext) -> None:
        """Take down the faults of every page of a context."""
        context.add_init_script(TELL_VIOLATIONS)
        context.on("console", self._said)
        context.on("weberror", lambda fault: self.found.append(f"exception: {fault.error}"))
        context.on("request", lambda asked: self._asked(asked.url))
        context.on(
            "page", lambda page: page.on("websocket", lambda socket: self._asked(socket.url))
        )

    def _asked(self, url: str) -> None:
        if urlsplit(url).scheme not in INSIDE and urlsplit(url).hostname != LOOPBACK:
            self.found.append(f"asked: {url}")

    def _said(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning", "assert"):
            place = message.location.get("url", "")
            self.found.append(f"{message.type}: {message.text} ({place})")


def copy_demo(place: Path) -> Path:
    """Copy the demo rig into a new folder."""
    with resources.as_file(resources.files("rigproof.demo") / "lowtide") as packaged:
        left = shutil.ignore_patterns("*.py", "__pycache__")
        return Path(shutil.copytree(packaged, place, ignore=left))


@contextlib.contextmanager
def running_browser() -> Iterator[Browser]:
    """A Chromium without a window, with a new user folder, driven through the Node.js that builds the page.

    Raises `SetupError` when there is no Chromium, or no Node.js.
    """
    front.set_up(until="node")
    program = chromium.find()
    if program is None:
        raise SetupError(chromium.WANTED)
    os.environ["PLAYWRIGHT_NODEJS_PATH"] = str(front.NODE)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=program, args=list(FLAGS), chromium_sandbox=os.geteuid() != 0
        )
        try:
            yield browser
        finally:
            browser.close()


def new_context(
    browser: Browser, *, size: tuple[int, int] = LAPTOP, sheet: str = "light"
) -> BrowserContext:
    """A window's worth of the browser that shares nothing with any other. `sheet` is `light` or `dark`."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if sheet == "dark" else "light",
        reduced_motion="reduce",
        locale="en-GB",
    )
    context.set_default_timeout(PATIENCE_MS)
    return context


def enter(page: Page, app: App) -> None:
    """Follow the link that the app has printed, and wait until the project is on the page."""
    page.goto(app.link)
    page.get_by_test_id("project-name").wait_for()


def go(page: Page, place: str) -> None:
    """Go to a place, as the strip at the top names it."""
    link = page.get_by_role("navigation").get_by_role("link", name=place, exact=True)
    link.click()
    expect(link).to_have_attribute("aria-current", "page")


def accessibility_faults(
    page: Page, *, within: str | None = None, rules: Sequence[str] = ()
) -> list[str]:
    """What axe finds against WCAG 2.2 A and AA on a page, or in a part of it, a line each.

    `rules` are those of axe to be tried; all of these levels where none is named.

    Source of the rules: W3C, Web Content Accessibility Guidelines 2.2.
    """
    page.evaluate(AXE_SOURCE.read_text(encoding="utf-8"))
    tried = ("rule", list(rules)) if rules else ("tag", list(AXE_TAGS))
    found: list[str] = page.evaluate(RUN_AXE, [within, *tried])
    return found
