"""A file replaced whole: whatever happens meanwhile, there is the old file or the new one, never a piece of either.

Source: POSIX.1-2017, rename(): "a directory entry named new shall remain visible ... and refer either to the file
referred to by new or old". The data is on the disk (fsync) before the name points at it, the name before we return.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
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
        if not folder.is_dir():
            raise FileError(
                Where(printable(folder.name)), "this folder is not there any more: put it back"
            )
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
    part = part_of(real)
    try:
        # Made with the permissions that a new file gets here; an old file's are put back below.
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            keep_mode(real, part)
            os.fsync(handle)
        os.replace(part, real)  # noqa: PTH105  beside its fellows of `os`
        sync_folder(real.parent)
    except OSError as error:
        raise cannot_write(where, error) from None
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def part_of(path: Path) -> Path:
    """Return a hidden name beside a file, of its own for each that writes it, so that two at once do not meet.

    It is short, since a name ends at 255 bytes and a letter takes up to four.
    """
    return path.with_name(f".{path.name[:50]}.{secrets.token_hex(8)}{PART}")


def keep_mode(old: Path, new: Path) -> None:
    """Give a new file the permissions of the one that it will replace, if there is one."""
    try:
        mode = stat.S_IMODE(old.stat().st_mode)
    except FileNotFoundError:
        return
    os.chmod(new, mode)  # noqa: PTH101  beside its fellows of `os`


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
