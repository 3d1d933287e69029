"""Find a Chromium for the tests that drive the app in a browser; get one where there is none.

As root on Debian and its kin the package is installed, fonts with it; else Playwright fetches its own build into
.cache. When neither works, one message says what to install.
"""

import os
import shutil
import sys
from pathlib import Path

from setup import bootstrap, front
from setup.bootstrap import ROOT, SetupError

SETTING = "CHROMIUM"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FETCHED = ROOT / ".cache" / "browsers"
FETCHED_PROGRAMS = (
    "chromium-*/chrome-linux*/chrome",
    "chromium-*/chrome-mac*/*.app/Contents/MacOS/*",
)
PACKAGES = ("chromium", "fonts-dejavu-core")
WANTED = f"""The tests in tests/browser need a Chromium, and none could be found or fetched.
  Debian, as root: apt-get install {" ".join(PACKAGES)}
  elsewhere: install Chromium or Chrome, and if it is not on the PATH say where it is: {SETTING}=PATH ./check"""


def find() -> Path | None:
    """The Chromium to use: the one that CHROMIUM names, one on the PATH, or one fetched earlier.

    Raises `SetupError` when CHROMIUM names nothing that can be started.
    """
    told = os.environ.get(SETTING)
    if told:
        found = shutil.which(told)
        if not found:
            raise SetupError(f"{SETTING} says {told}, which cannot be started")
        return Path(found)
    for name in NAMES:
        if found := shutil.which(name):
            return Path(found)
    fetched = (path for shape in FETCHED_PROGRAMS for path in sorted(FETCHED.glob(shape)))
    return next((path for path in fetched if os.access(path, os.X_OK)), None)


def install_package() -> None:
    """Install the distribution's Chromium."""
    bootstrap.run("apt-get", "update", "-q")
    bootstrap.run(
        *("apt-get", "install", "-qy", "--no-install-recommends", *PACKAGES),
        DEBIAN_FRONTEND="noninteractive",
    )


def fetch() -> None:
    """Let Playwright fetch the Chromium that it was tested with."""
    front.set_up(until="node")
    bootstrap.run(
        *(sys.executable, "-m", "playwright", "install", "--no-shell", "chromium"),
        PLAYWRIGHT_BROWSERS_PATH=str(FETCHED),
        PLAYWRIGHT_NODEJS_PATH=str(front.NODE),
    )


def ready() -> Path:
    """A Chromium that starts. Raises `SetupError` when there is none to be had."""
    if found := find():
        return found
    ways = [("fetching Chromium", fetch)]
    if os.geteuid() == 0 and shutil.which("apt-get"):
        ways.insert(0, ("installing Chromium and a font", install_package))
    said = []
    for does, way in ways:
        bootstrap.say(f"{does} ...")
        try:
            way()
            if found := find():
                bootstrap.run(found, "--version")
                return found
        except (SetupError, OSError) as error:
            said.append(str(error))
    raise SetupError("\n".join([WANTED, *said]))


def main() -> int:
    """Say which Chromium serves."""
    try:
        print(f"  {ready()}")
    except SetupError as error:
        print(f"browser: {error}")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
