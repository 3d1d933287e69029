"""`rigproof new`: an empty project to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson
from rigproof.cli.screen import command_name, finish, heading, typed

if TYPE_CHECKING:
    from rich.console import Console


def new(
    folder: Annotated[Path, Parameter(help="where it is to stand; must be new or empty")],
    /,
    *,
    title: Annotated[str | None, Parameter(help="the rig's name; the folder's by default")] = None,
    as_json: AsJson = False,
) -> int:
    """Begin a project: a rig, a patch and a set that load and check as they are, with comments to go on from."""
    from rigproof.files.scaffold import create_project

    files = create_project(folder, title=title)
    data = {"folder": folder, "files": files}
    return finish("new", data, lambda console: _show(console, folder, files), is_json=as_json)


def _show(console: Console, folder: Path, files: list[Path]) -> None:
    heading(console, str(folder), "new project")
    for file in files:
        console.print(f"  {file}", soft_wrap=True)
    console.print()
    console.print("Write what you own into rig.toml, then:", style="dim")
    console.print(f"  {command_name()} check {typed(folder)}", soft_wrap=True)
