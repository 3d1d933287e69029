"""The page built, one Chromium, an app of one's own for each test, and an end to every fault that nobody would see."""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Error, Page, expect

from setup import front
from setup.bootstrap import SetupError
from tests.browser import driving
from tests.browser.driving import App, Faults

PICTURES = driving.ROOT / ".cache" / "browser"
OpenApp = Callable[[Path], App]
OpenPage = Callable[..., Page]
HAS_FAILED = pytest.StashKey[bool]()
expect.set_options(
    timeout=driving.PATIENCE_MS
)  # a machine may be busy; what has to come soon says so itself


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Let the fixtures below know how a test has ended."""
    report = yield
    if report.failed:
        item.stash[HAS_FAILED] = True
    return report


# As long as Playwright runs it holds this thread's event loop, which tests elsewhere need; so it ends with this folder.
@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """One Chromium for all tests here, and the page as its source stands."""
    try:
        front.set_up()
        with driving.running_browser() as running:
            yield running
    except SetupError as error:
        pytest.fail(str(error), pytrace=False)


@pytest.fixture
def project_folder(tmp_path: Path) -> Path:
    """A fresh copy of the demo rig."""
    return driving.copy_demo(tmp_path / "lowtide")


@pytest.fixture
def open_app(tmp_path: Path) -> Iterator[OpenApp]:
    """Start the app on a folder; all are ended after the test, which fails when one of them told a traceback."""
    apps: list[App] = []

    def start(folder: Path) -> App:
        apps.append(App(folder, tmp_path / "state"))
        return apps[-1].start()

    yield start
    for app in apps:
        app.stop()
    for app in apps:
        assert not app.tracebacks, app.tracebacks


@pytest.fixture
def app(open_app: OpenApp, project_folder: Path) -> App:
    """The app on a fresh copy of the demo rig."""
    return open_app(project_folder)


@pytest.fixture
def faults() -> Faults:
    """The faults of all pages of a test. What a test provokes it allows: `faults.allow("401")`."""
    return Faults()


@pytest.fixture
def open_page(
    browser: Browser,
    faults: Faults,
    open_app: OpenApp,  # begun before the pages, so ended after them
    request: pytest.FixtureRequest,
) -> Iterator[OpenPage]:
    """Open a page in a window of its own: `open_page(size=TABLET, sheet="dark")`.

    A test fails when one of its pages had a fault. Of a failed test's pages pictures are kept in .cache/browser.
    """
    pages: list[Page] = []

    def start(**look: Any) -> Page:
        context = driving.new_context(browser, **look)
        faults.watch(context)
        pages.append(context.new_page())
        return pages[-1]

    yield start
    if faults.left or request.node.stash.get(HAS_FAILED, False):
        for number, page in enumerate(pages):
            keep_picture(page, f"{request.node.name}-{number}")
    for page in pages:
        page.context.close()
    assert not faults.left, "\n".join(faults.left)


def keep_picture(page: Page, name: str) -> None:
    """Keep what a page shows, and say where; a page that has gone has nothing to show."""
    path = PICTURES / (re.sub(r"[^\w-]+", "-", name) + ".png")
    PICTURES.mkdir(parents=True, exist_ok=True)
    try:
        page.screenshot(path=path)
    except Error as error:
        print(f"no picture of {name}: {error.message.splitlines()[0]}")
    else:
        print(f"how it looked: {path}")


@pytest.fixture
def page(open_page: OpenPage, app: App) -> Page:
    """The app's page on the demo rig, entered, at the size of a laptop."""
    page = open_page()
    driving.enter(page, app)
    return page
