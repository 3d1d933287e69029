"""`rigproof open`: the app on a project, served to this machine alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson

if TYPE_CHECKING:
    from rigproof.web.server import Ready


def open_app(
    folder: Annotated[
        Path,
        Parameter(
            help="a project, a patch file, or a folder to begin one in; the current one by default"
        ),
    ] = Path(),
    /,
    *,
    port: Annotated[
        int | None,
        Parameter(help="the port to use; by default the one of last time, or any that is free"),
    ] = None,
    browser: Annotated[
        bool, Parameter(negative="--no-browser", help="open the page in the browser")
    ] = True,
    as_json: AsJson = False,
) -> int:
    """Open the app: it shows the files of the folder, writes what you change, and takes in what changes on the disk.

    Only this machine is answered, and only whoever has the link that is printed. Ctrl-C ends it; a page that is still
    open goes on when the same folder is opened again within a day.
    """
    from rigproof.cli.serving import make, serve

    ready = make(folder, port=port)
    _tell(ready, folder, as_json=as_json)
    return serve(ready, with_browser=browser)


def _tell(ready: Ready, folder: Path, *, as_json: bool) -> None:
    from rigproof.cli.screen import output_console, print_json
    from rigproof.cli.serving import tell

    if as_json:
        print_json("open", {"folder": folder, "link": ready.link, "port": ready.port})
    else:
        tell(output_console(), ready, folder)
