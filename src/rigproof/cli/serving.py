"""The app served from a command: the link told, the browser opened where there is one, and a clean end."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.problems import UsageError
from rigproof.cli.screen import FINE, errors_console

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.console import Console

    from rigproof.web.server import Ready

STARTED_WITHIN_S = 10.0
LOOK_S = 0.02


def make(folder: Path, *, port: int | None = None) -> Ready:
    """Return the app on a folder, ready to be served.

    Raises `UsageError` when the port cannot be had, `RigError` when the folder cannot be opened.
    """
    from rigproof.web.server import make_ready

    if port is not None and not 0 <= port <= 65535:
        raise UsageError("--port cannot be that", found=str(port), expected="0 to 65535")
    try:
        return make_ready(folder, port=port)
    except OSError as error:
        raise UsageError(
            "the port cannot be had",
            found=f"{port}: {error.strerror or error}",
            expected="another --port",
        ) from None


def tell(console: Console, ready: Ready, folder: Path) -> None:
    """Say where the app is, and how it ends."""
    console.print(f"{folder.resolve().name or folder} is open at", soft_wrap=True)
    console.print(f"  {ready.link}", soft_wrap=True, highlight=False)
    console.print("The link lets one browser in, once. Ctrl-C ends it.", style="dim")


def serve(ready: Ready, *, with_browser: bool) -> int:
    """Serve until Ctrl-C, and return the exit code."""
    sys.stdout.flush()
    if with_browser and has_browser(os.environ):
        threading.Thread(target=_show, args=(ready,), name="browser", daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        ready.run()
    errors_console().print("ended; everything you changed is in the files", highlight=False)
    return FINE


def has_browser(env: Mapping[str, str], *, platform: str = sys.platform) -> bool:
    """Whether a page can be shown in a window; a browser that would take over the terminal is none."""
    if platform in ("darwin", "win32"):
        return True
    return any(env.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))


def _show(ready: Ready) -> None:
    """Open the page as soon as it can be answered. Where that fails, the printed link is there."""
    until_s = time.monotonic() + STARTED_WITHIN_S
    while not ready.server.started and time.monotonic() < until_s:
        time.sleep(LOOK_S)
    with contextlib.suppress(Exception):
        webbrowser.open(ready.link)
