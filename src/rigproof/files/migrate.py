"""Files of another format version: newer ones are refused, older ones are brought up to date while they are read.

A migration takes the raw tables of one version to the next; the file itself is left as it is until it is saved.
There is one version so far, so the table is empty.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from rigproof.errors import FileError, RigError, ShapeError
from rigproof.files.lines import Lines
from rigproof.files.printable import shown
from rigproof.files.shapes import FORMAT

Migration = Callable[[dict[str, Any]], dict[str, Any]]
MIGRATIONS: dict[tuple[str, int], Migration] = {}
"""(sort of file, version) -> what makes the next version of it; without a row, nothing changed for that sort."""


def require_format(
    raw: dict[str, Any],
    sort: str,
    lines: Lines,
    *,
    migrations: Mapping[tuple[str, int], Migration] = MIGRATIONS,
    newest: int = FORMAT,
) -> dict[str, Any]:
    """Return the raw tables in the newest format.

    Raises `ShapeError` when the file does not say its format, `FileError` when this rigproof is too old for it.
    """
    error = _format_error(raw.get("format"), "format" in raw, lines, newest)
    if error is not None:
        raise error
    for version in range(raw["format"], newest):
        migration = migrations.get((sort, version))
        raw = migration(raw) if migration is not None else raw
        raw = {**raw, "format": version + 1}
    return raw


def _format_error(found: Any, is_written: bool, lines: Lines, newest: int) -> RigError | None:
    where = lines.where(("format",))
    if not is_written:
        return ShapeError(where, "the file does not say its format", expected=f"format = {newest}")
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        return ShapeError(
            where, "there is no such format", found=shown(found), expected=f"format = {newest}"
        )
    if found > newest:
        return FileError(
            where,
            "the file was written by a newer rigproof",
            found=f"format {shown(found)}",
            expected=f"format {newest}, or a newer rigproof",
        )
    return None
