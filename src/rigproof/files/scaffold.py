"""A new project folder: three files that load as they are, with comments that say what goes where."""

from __future__ import annotations

import contextlib
import re
import unicodedata
from collections.abc import Iterable
from pathlib import Path

from rigproof.errors import FileError, Where
from rigproof.files.atomic import cannot_write, write_whole
from rigproof.files.printable import printable, shown
from rigproof.files.sheet_files import MODULES
from rigproof.files.values import Wrong, read_id, read_text

SAMPLES = "samples"

RIG_TEXT = """\
# What you own: the case, what hangs in it, what stands beside it, and the cables in the box.
#
# Caution. A power connector plugged in the wrong way round can destroy a module or the supply. Switch the case off
# and pull its mains lead before you touch a power cable, and follow the makers' manuals. Leave work on mains supplies
# to licensed people, under your local electrical code.
format = 1
name = {title}

# One line a row, from the top. The depth is what is free below the panels.
[case]
rows = [
  {{ hp = 84, depth_mm = 50 }},
]

# What the supply gives on each rail, as its maker states it.
[supply]
rails_ma = {{ "+12V" = 2000, "-12V" = 1200, "+5V" = 500 }}
headroom = 0.2  # share to keep free

# A module. Its sheet is a file in {modules}/ or one of the library. Rows count from 1, hp from 0 at the left.
# [[module]]
# id = "submix"
# sheet = "my-mixer"
# row = 1
# hp = 0

# What stands beside the case is written like this, or as [[interface]].
# [[controller]]
# id = "faders"
# sheet = "my-faders"

# The cables in the box.
# [[cables]]
# lead = "mono-3.5"
# cm = 45
# count = 20
"""

PATCH_TEXT = """\
# How the rig is wired and set.
format = 1
name = {title}
tempo_bpm = 120

# A cable a line. Jacks are written module.jack.
cables = [
  # {{ from = "drums.left", to = "submix.in-1", colour = "teal", cm = 45 }},
]

# Where each control stands: a number, a quantity or a choice.
[settings]
# submix.level = 0.8
# echo.time = "375 ms"

# What stands in each rhythm slot, and the samples in each bank.
[rhythm]
[samples]
# drums.kick = ["{samples}/kick.wav"]

# What a knob or fader sends, and which slots listen.
# [[map]]
# control = "faders.f1"
# cc = 20
# to = "drums.cutoff"
"""

SET_TEXT = """\
# How the patch is played: sections counted in bars, and what each hand does in them.
format = 1
name = {title}
beats_per_bar = 4

[[section]]
id = "intro"
title = "Intro"
bars = 16
moves = [
  # {{ control = "submix.level", to = 0.8, bar = 9, beats = 32, hand = "left" }},
]
"""


def create_project(
    folder: Path, *, name: str | None = None, title: str | None = None
) -> list[Path]:
    """Make a project folder and return the files in it. `name` is the patch's, else the folder's; `title` is shown.

    Raises `FileError` when the folder holds anything already, the name is no id, or it may not be written; then
    nothing is left of it.
    """
    where = Where(printable(str(folder)))
    called = name if name is not None else folder.resolve().name
    name = name if name is not None else id_from(called)
    try:
        read_id(name)
        title = read_text(title if title is not None else called.replace("-", " ").title())
    except Wrong as wrong:
        raise FileError(
            where, "a project cannot be called this", found=shown(called), expected=wrong.expected
        ) from None
    written = scaffold_texts(name, title)
    is_new = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise FileError(where, "the folder is not empty", expected="a new or empty folder")
    except OSError as error:
        raise cannot_write(where, error) from None
    try:
        (folder / MODULES).mkdir()
        (folder / SAMPLES).mkdir()
        for file, text in written.items():
            write_whole(folder / file, text.encode("utf-8"), folder)
    except BaseException as error:
        _take_back(folder, written, is_new=is_new)
        if isinstance(error, OSError):
            raise cannot_write(where, error) from None
        raise
    return [folder / file for file in written]


def scaffold_texts(name: str, title: str) -> dict[str, str]:
    """Return the texts of a new project by file name. `name` is the patch's id, `title` is shown."""
    quoted = '"' + title.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'
    texts = {
        "rig.toml": RIG_TEXT,
        f"{name}.patch.toml": PATCH_TEXT,
        f"{name}.set.toml": SET_TEXT,
    }
    return {
        file: text.format(title=quoted, modules=MODULES, samples=SAMPLES)
        for file, text in texts.items()
    }


def id_from(called: str) -> str:
    """Return an id that is like what a folder is called; it may be empty.

    >>> id_from("Mein Rig ü"), id_from("No. 7 (Straße)")
    ('mein-rig-u', 'no-7-strasse')
    """
    plain = unicodedata.normalize("NFKD", called.casefold())
    letters = "".join(c for c in plain if not unicodedata.combining(c))
    return "-".join(re.findall(r"[a-z0-9]+", letters))


def _take_back(folder: Path, files: Iterable[str], *, is_new: bool) -> None:
    """Remove what a start that failed has made, so that the next one finds the folder as it was."""
    for file in files:
        with contextlib.suppress(OSError):
            (folder / file).unlink()
    for made in (folder / MODULES, folder / SAMPLES, *([folder] if is_new else [])):
        with contextlib.suppress(OSError):
            made.rmdir()
