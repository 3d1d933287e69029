"""A file replaced whole: whatever happens meanwhile, there is the old file or the new one, never a piece of either.

Source: POSIX.1-2017, rename(): "a directory entry named new shall remain visible ... and refer either to the file
referred to by new or old". The data is on the disk (fsync) before the name points at it, the name before we return.
"""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from pathlib import Path

from rigproof.errors import FileError, Where
from rigproof.files.printable import printable
from rigproof.files.text import place, require_inside

PART = ".part"
"""End of the name of a file that is not finished."""


def real_target(path: Path, folder: Path) -> Path:
    """Return the file to write, with links inside the folder followed.

    Raises `FileError` when it lies outside the folder, its folder is missing, or it is no ordinary file.
    """
    where = Where(place(path, folder))
    real = require_inside(path, folder, where)
    try:
        if not real.parent.is_dir():
            raise FileError(where, "there is no folder to write it to")
        if real.exists() and not real.is_file():
            raise FileError(where, "there is something of this name that is no file")
    except OSError as error:
        raise cannot_write(where, error) from None
    return real


def write_whole(path: Path, data: bytes, folder: Path) -> None:
    """Replace a file inside the folder, or make it; its permissions stay.

    Raises `FileError` when it may not be written; then the old file is untouched.
    """
    real = real_target(path, folder)
    where = Where(place(path, folder))
    part: Path | None = None
    try:
        handle, name = tempfile.mkstemp(PART, f".{real.name}.", real.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.chmod(part, usual_mode(real))  # noqa: PTH101  beside its fellows of `os`
            os.fsync(handle)
        os.replace(part, real)  # noqa: PTH105
        part = None
        sync_folder(real.parent)
    except OSError as error:
        raise cannot_write(where, error) from None
    finally:
        if part is not None:
            with contextlib.suppress(OSError):
                part.unlink()


def usual_mode(path: Path) -> int:
    """Return the permissions of a file, or those that a new one would get."""
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can say so."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def cannot_write(where: Where, error: OSError) -> FileError:
    """Return the error that says why a file cannot be written."""
    reason = printable(error.strerror or str(error))
    return FileError(where, "the file cannot be written", found=reason)
