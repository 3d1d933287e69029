"""`rigproof tour`: a walk through the patch in plain language, voice by voice."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson, Target
from rigproof.cli.loading import open_project
from rigproof.cli.problems import UsageError
from rigproof.cli.screen import finish, heading, safe_text

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.readings.tour import Tour

SUFFIXES = (".md", ".txt")
WIDTH = 80


def tour(
    path: Target = None,
    /,
    *,
    out: Annotated[
        Path | None, Parameter(help="write it to this file, .md for Markdown or .txt")
    ] = None,
    markdown: Annotated[
        bool, Parameter(negative="", show_default=False, help="print Markdown")
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Walk through the patch in plain language, voice by voice, for a talk or a handout."""
    from rigproof.readings.proof import read
    from rigproof.readings.tour import markdown as as_markdown
    from rigproof.readings.tour import tour as walk

    found = walk(read(open_project(path).net))
    data = {
        "title": found.title,
        "stops": [{"heading": s.heading, "says": s.says} for s in found.stops],
        "file": out,
    }
    if out is not None:
        _write(out, as_markdown(found) if out.suffix == ".md" else plain_text(found))

        def show(console: Console) -> None:
            console.print(f"{out}: {len(found.stops)} stops", highlight=False, soft_wrap=True)

        return finish("tour", data, show, is_json=as_json)
    if markdown and not as_json:
        print(as_markdown(found), end="")
        return 0
    return finish("tour", data, lambda c: _show(c, found), is_json=as_json)


def plain_text(found: Tour) -> str:
    """Return a tour as plain text: a heading underlined, every sentence on lines of its own."""
    lines = [safe_text(found.title), "=" * len(found.title), ""]
    for stop in found.stops:
        lines += [safe_text(stop.heading), "-" * len(stop.heading)]
        for says in stop.says:
            lines += textwrap.wrap(
                safe_text(says),
                WIDTH,
                initial_indent="- ",
                subsequent_indent="  ",
                break_on_hyphens=False,
            )
        lines.append("")
    return "\n".join(lines)


def _write(out: Path, text: str) -> None:
    from rigproof.files.atomic import write_whole

    if out.suffix not in SUFFIXES:
        raise UsageError("--out is no text", found=f"'{out.name}'", expected=" or ".join(SUFFIXES))
    if not out.absolute().parent.is_dir():
        raise UsageError("--out names a folder that is not there", found=f"'{out.parent}'")
    if out.exists() and not out.is_file():
        raise UsageError("--out names something that is no file", found=f"'{out}'")
    write_whole(out.absolute(), text.encode("utf-8"), out.absolute().parent)


def _show(console: Console, found: Tour) -> None:
    heading(console, safe_text(found.title), "tour")
    for stop in found.stops:
        console.print(safe_text(stop.heading), style="bold", highlight=False)
        for says in stop.says:
            width = max(20, console.width - 2)
            for i, line in enumerate(
                textwrap.wrap(safe_text(says), width - 2, break_on_hyphens=False)
            ):
                lead = "- " if i == 0 else "  "
                console.print(f"  {lead}{line}", highlight=False, markup=False, soft_wrap=True)
        console.print()
