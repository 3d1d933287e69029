"""A file written where there was none: an old one is never replaced, and no piece of the new one is ever seen.

Source: POSIX.1-2017, link(): it fails with EEXIST when the new name exists, and makes it atomically otherwise.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from rigproof.errors import FileError, Where
from rigproof.files.atomic import PART, cannot_write, sync_folder
from rigproof.files.text import place, require_inside


def require_new(path: Path, folder: Path) -> None:
    """Raise `FileError` when there is something of this name already, or the path leads out of the folder."""
    where = Where(place(path, folder))
    require_inside(path, folder, where)
    if os.path.lexists(path):
        raise already_there(where)


def already_there(where: Where) -> FileError:
    """Return the error for a name that is taken."""
    return FileError(where, "there is a file of this name already", expected="another name")


def write_new(path: Path, data: bytes, folder: Path) -> None:
    """Write a file that does not exist yet; the folder it goes into is made if it is missing.

    Raises `FileError` when there is one already, or it may not be written.
    """
    where = Where(place(path, folder))
    require_inside(path, folder, where)
    part = path.with_name(f".{path.name[:100]}.{secrets.token_hex(8)}{PART}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(handle)
        os.link(part, path)
        sync_folder(path.parent)
    except FileExistsError:
        raise already_there(where) from None
    except OSError as error:
        raise cannot_write(where, error) from None
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
