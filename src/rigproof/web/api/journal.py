"""Several files changed as one: what is to be written is noted first, so that a crash in between leaves no half of it.

The note lies in the project folder while the files are written. Whoever opens the folder next finishes what it says,
but for files that say something else by then: theirs stays.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from rigproof.errors import RigError, Where
from rigproof.files.atomic import sync_folder, write_whole
from rigproof.files.sheet_files import MODULES
from rigproof.files.text import read_bytes

NOTE = ".rigproof-step.json"
NOTE_LIMIT_BYTES = 64_000_000
NAME = re.compile(rf"({MODULES}/)?[^/\\.][^/\\]*\.toml")
"""What may stand in a note: a text of the project and nothing else."""

Texts = Mapping[str, bytes | None]


@contextmanager
def noted(folder: Path, before: Texts, after: Texts) -> Iterator[None]:
    """Keep a note while several files are written; one file is whole by itself and needs none.

    Raises `FileError` when the note cannot be written; then nothing has been.
    """
    if len(after) < 2:
        yield
        return
    note = {
        name: {"before": _mark(before.get(name)), "after": _packed(data)}
        for name, data in after.items()
    }
    write_whole(folder / NOTE, json.dumps(note).encode(), folder)
    yield
    forget(folder)


def forget(folder: Path) -> None:
    """Take the note away."""
    with contextlib.suppress(OSError):
        (folder / NOTE).unlink(missing_ok=True)
        sync_folder(folder)


def finish(folder: Path) -> list[str]:
    """Finish what a note says, if there is one, and return the files that were written."""
    path = folder / NOTE
    done: list[str] = []
    if path.is_symlink() or not path.is_file():
        return done
    with contextlib.suppress(RigError, ValueError, TypeError, KeyError, AttributeError):
        raw = read_bytes(path, Where(NOTE), limit_bytes=NOTE_LIMIT_BYTES)
        for name, step in json.loads(raw).items():
            if not NAME.fullmatch(name) or _mark(_bytes_of(folder / name)) != step["before"]:
                continue
            if step["after"] is None:
                (folder / name).unlink(missing_ok=True)
            else:
                write_whole(folder / name, base64.b64decode(step["after"], validate=True), folder)
            done.append(name)
    forget(folder)
    return done


def _mark(data: bytes | None) -> str | None:
    return None if data is None else hashlib.sha256(data).hexdigest()


def _packed(data: bytes | None) -> str | None:
    return None if data is None else base64.b64encode(data).decode()


def _bytes_of(path: Path) -> bytes | None:
    try:
        return read_bytes(path, Where(path.name), limit_bytes=NOTE_LIMIT_BYTES)
    except RigError:
        return None
