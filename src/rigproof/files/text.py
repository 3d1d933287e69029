"""A text file read with suspicion: an ordinary file inside the project folder, in UTF-8, and not too large."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from rigproof.errors import FileError, Where, nearest_name
from rigproof.files.printable import printable

TEXT_LIMIT_BYTES = 1_000_000
"""The largest project file. A patch of 150 cables takes about 20,000."""
BOM = b"\xef\xbb\xbf"
PATCH = ".patch.toml"
SET = ".set.toml"
INSIDE = ".inside.toml"
SORTS = (PATCH, SET, INSIDE)


def place(path: Path, folder: Path) -> str:
    """Return a path as the performer knows it: from the project folder, safe to show."""
    try:
        name = path.relative_to(folder).as_posix()
    except ValueError:
        name = str(path)
    return printable(name)


def require_inside(path: Path, folder: Path, where: Where) -> Path:
    """Return the path with all links followed.

    Raises `FileError` when it leads out of the folder.
    """
    try:
        real, root = path.resolve(), folder.resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise FileError(where, "this path leads nowhere", found=printable(str(error))) from None
    if real != root and root not in real.parents:
        raise FileError(
            where,
            "the path leads out of the project folder",
            found=printable(str(path)),
            expected="a file inside the project folder",
        )
    return real


@contextmanager
def open_ordinary(
    path: Path, where: Where, *, limit_bytes: int, what: str = "file"
) -> Iterator[BinaryIO]:
    """Open an ordinary file for reading.

    Raises `FileError` when it is missing, no ordinary file, not to be read, or larger than the limit.
    """
    try:
        # Without O_NONBLOCK, opening a pipe would wait for ever.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except FileNotFoundError:
        raise FileError(
            where,
            f"there is no such {what}",
            expected=f"a {what} at {printable(str(path))}",
            nearest=nearest_file(path),
        ) from None
    except PermissionError:
        raise FileError(
            where, f"the {what} may not be read", expected="permission to read it"
        ) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileError(where, f"the {what} cannot be opened", found=printable(reason)) from None
    try:
        info = os.fstat(handle)
        if not stat.S_ISREG(info.st_mode):
            found = "a folder" if stat.S_ISDIR(info.st_mode) else "a pipe or device"
            raise FileError(where, f"this is no {what}", found=found, expected="an ordinary file")
        if info.st_size > limit_bytes:
            raise _too_large(where, what, info.st_size, limit_bytes)
        with os.fdopen(handle, "rb", closefd=False) as stream:
            yield stream
    finally:
        os.close(handle)


def read_bytes(path: Path, where: Where, *, limit_bytes: int, what: str = "file") -> bytes:
    """Return what an ordinary file holds.

    Raises `FileError` as `open_ordinary` does, and when it grows beyond the limit meanwhile.
    """
    with open_ordinary(path, where, limit_bytes=limit_bytes, what=what) as stream:
        try:
            data = stream.read(limit_bytes + 1)
        except OSError as error:
            reason = printable(error.strerror or str(error))
            raise FileError(where, f"the {what} cannot be read", found=reason) from None
    if len(data) > limit_bytes:
        raise _too_large(where, what, len(data), limit_bytes)
    return data


def read_text(path: Path, folder: Path) -> str:
    """Return the text of a project file, its line ends all line feeds.

    Raises `FileError` when it is not inside the folder, not to be read, too large, or no UTF-8.
    """
    where = Where(place(path, folder))
    require_inside(path, folder, where)
    data = read_bytes(path, where, limit_bytes=TEXT_LIMIT_BYTES)
    data = data.removeprefix(BOM)
    try:
        return data.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FileError(
            Where(where.file, line),
            "the file is not UTF-8 text",
            found=f"byte 0x{data[error.start]:02x}",
            expected="text saved as UTF-8",
        ) from None


def encoded_like(text: str, old: bytes | None) -> bytes:
    r"""Return a text in UTF-8 with the line ends, and the byte order mark, of the file that it replaces.

    `old` is what the file held, None where there was none. Mixed line ends become those that stand there most often.

    >>> encoded_like("a = 1\nb = 3\n", b"a = 1\r\nb = 2\r\n")
    b'a = 1\r\nb = 3\r\n'
    """
    old = old or b""
    returns = old.count(b"\r\n")
    if 2 * returns > old.count(b"\n"):
        text = text.replace("\n", "\r\n")
    return (BOM if old.startswith(BOM) else b"") + text.encode("utf-8")


def nearest_file(path: Path) -> str | None:
    """Return the name beside a missing file that is most like it, or None.

    A missing patch is never taken for a set, though their names differ by little.
    """
    sort = next((sort for sort in SORTS if path.name.endswith(sort)), "")
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except (OSError, ValueError):
        return None
    near = nearest_name(path.name, [name for name in names[:2000] if name.endswith(sort)])
    return printable(near) if near is not None else None


def _too_large(where: Where, what: str, size_bytes: int, limit_bytes: int) -> FileError:
    return FileError(
        where,
        f"the {what} is too large",
        found=f"{size_bytes:,} bytes",
        expected=f"at most {limit_bytes:,} bytes",
    )
