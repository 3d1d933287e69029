"""The texts that edits have made put on the disk: all of them, or none."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path

from rigproof.errors import FileError, RigError, Where
from rigproof.files.edit import save_text
from rigproof.files.text import place, read_text


def save_edits(changed: Mapping[Path, tuple[str, str]], folder: Path) -> None:
    """Write every file that says something else now: its text before and after.

    Each file is replaced whole. When one cannot be written, those before it are put back.

    Raises `FileError` when a file says something else than before by now, or may not be written.
    """
    for path, (before, _) in changed.items():
        if read_text(path, folder) != before:
            raise FileError(
                Where(place(path, folder)),
                "somebody else has changed the file meanwhile",
                expected="to be asked again: nothing is written",
            )
    done: list[Path] = []
    try:
        for path, (_, after) in changed.items():
            save_text(path, after, folder)
            done.append(path)
    except RigError:
        for path in done:
            with contextlib.suppress(RigError):
                save_text(path, changed[path][0], folder)
        raise
