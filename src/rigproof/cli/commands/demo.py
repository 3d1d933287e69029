"""`rigproof demo`: an invented rig to look at, listen to and change."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson
from rigproof.cli.commands.check import prove
from rigproof.cli.loading import Opened, open_project
from rigproof.cli.problems import UsageError
from rigproof.cli.proof import proof_data, show_proof
from rigproof.cli.rendering import render_to_file, rendered_data, show_rendered, stretch_of
from rigproof.cli.screen import command_name, errors_console, finish, output_console, typed
from rigproof.units import plural

if TYPE_CHECKING:
    from rich.console import Console

NAME = "lowtide"
STRETCH_S = 90.0
"""How much of the set is rendered, so that the first command ends within about a minute. [s]"""
LEFT_BEHIND = ("*.py", "__pycache__")


def demo(
    folder: Annotated[
        Path, Parameter(help="where it is to stand; what stands there already is used as it is")
    ] = Path(NAME),
    /,
    *,
    seconds: Annotated[float, Parameter(help="how much of the set is rendered")] = STRETCH_S,
    opens: Annotated[
        bool | None,
        Parameter(
            "--open",
            negative="--no-open",
            show_default=False,
            help="open the app on it afterwards; by default where a person watches the terminal",
        ),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Copy the demo rig into a folder, prove it, render a stretch of its set, say what to try next, and open the app.

    Nothing that stands in the folder is ever overwritten but the rendered sound.
    """
    is_copied = copy_demo(folder)
    console = output_console()
    if not as_json:
        if is_copied:
            console.print(f"The demo rig now stands in {folder}.", soft_wrap=True)
        else:
            console.print(
                f"{folder} is there already: used as it is, nothing overwritten.", soft_wrap=True
            )
        console.print()
    opened = open_project(folder)
    proof = prove(opened)
    if not as_json:
        show_proof(console, proof)
        console.print()
    stretch = stretch_of(opened, from_bar=best_bar(opened, seconds), seconds=seconds)
    done = render_to_file(opened, stretch, folder / f"{NAME}.wav")
    data = {
        "folder": folder,
        "is_copied": is_copied,
        "proof": proof_data(proof),
        "render": rendered_data(done),
        "next": next_commands(opened, folder),
    }

    def show(console: Console) -> None:
        show_rendered(console, done)
        console.print()
        whole_s = proof.survey.timeline.length_s
        console.print(
            f"This was {plural(round(stretch.seconds), 'second')} of {whole_s / 60:.0f} minutes. "
            "Turn the monitors down before you listen. Next, try:"
        )
        for command in next_commands(opened, folder):
            console.print(f"  {command}", soft_wrap=True)

    code = finish("demo", data, show, is_json=as_json, code=proof.code)
    if opens if opens is not None else is_watched(is_json=as_json):
        open_it(errors_console() if as_json else console, folder)
    return code


def is_watched(*, is_json: bool) -> bool:
    """Whether a person sits before the terminal, so that a page may be opened unasked."""
    return not is_json and not os.environ.get("CI") and sys.stdout.isatty()


def open_it(console: Console, folder: Path) -> None:
    """Serve the app on the demo until Ctrl-C."""
    from rigproof.cli.serving import make, serve, tell

    console.print()
    ready = make(folder)
    tell(console, ready, folder)
    serve(ready, with_browser=True)


def copy_demo(folder: Path) -> bool:
    """Copy the packaged demo rig into a folder that is new or empty; leave any other as it is. Say whether it copied.

    The copy appears whole or not at all. Raises `UsageError` where no folder can stand.
    """
    try:
        if folder.is_dir() and any(folder.iterdir()):
            return False
        if folder.exists() and not folder.is_dir():
            raise UsageError(f"{folder} is no folder", expected="a folder that is new or empty")
        parent = folder.absolute().parent
        parent.mkdir(parents=True, exist_ok=True)
        with (
            resources.as_file(resources.files("rigproof.demo") / NAME) as packaged,
            tempfile.TemporaryDirectory(dir=parent, prefix=f".{NAME}-") as making,
        ):
            whole = Path(making) / NAME
            shutil.copytree(packaged, whole, ignore=shutil.ignore_patterns(*LEFT_BEHIND))
            if folder.is_dir():
                folder.rmdir()
            whole.rename(folder)
    except OSError as error:
        raise UsageError(
            f"the demo cannot be copied to {folder}", found=error.strerror or str(error)
        ) from None
    return True


def best_bar(opened: Opened, seconds: float) -> int | None:
    """Return the bar to begin at, so that the stretch crosses from one section into the next; None without a set.

    It begins half the stretch before the section that lies across the middle of the set.
    """
    from rigproof.net.timeline import bar_s, timeline

    setlist = opened.project.setlist
    whole = timeline(opened.net)
    if setlist is None or not whole.passages:
        return None
    middle_s = max(0.0, whole.length_s / 2 - seconds / 2)
    bars = 0
    for passage, span in zip(setlist.sections, whole.passages, strict=True):
        if span.start_s + span.length_s > middle_s:
            into = (middle_s - span.start_s) / bar_s(span.tempo_bpm, setlist.beats_per_bar)
            return bars + 1 + max(0, int(into))
        bars += passage.bars
    return None


def next_commands(opened: Opened, folder: Path) -> list[str]:
    """Return commands worth trying on the demo rig."""
    name, there = command_name(), typed(folder)
    mapped = opened.project.patch.maps
    start = mapped[0].control if mapped else next(iter(opened.net.controls))
    return [
        f"{name} trace {start} --in {there}",
        f"{name} volts {there} --seconds 10",
        f"{name} render {there}",
        f"{name} open {there}",
    ]
