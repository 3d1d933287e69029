"""One module sheet by itself, outside any project: the model, all that is wrong with it, and which keys it writes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from rigproof.errors import RigError, RigErrors
from rigproof.files.build_sheet import build_sheet
from rigproof.files.migrate import require_format
from rigproof.files.reading import BROKEN, Report, read_table
from rigproof.files.shapes import FILES
from rigproof.files.sheet_files import library_folder, names_in
from rigproof.files.text import place, read_text
from rigproof.files.toml_text import parse_toml
from rigproof.model.sheet import Sheet


@dataclass(frozen=True, slots=True)
class LoadedSheet:
    """A sheet file that has been read."""

    sheet: Sheet | None
    """None when anything is wrong with it."""
    errors: tuple[RigError, ...]
    written: frozenset[str] = frozenset()
    """Every key that stands in the file, such as `typical` or `jacks.out.resistance_ohm`."""

    def require_sheet(self) -> Sheet:
        """Return the sheet.

        Raises `RigErrors` with everything that is wrong.
        """
        if self.sheet is None:
            raise RigErrors(self.errors)
        return self.sheet


def load_sheet_text(text: str, *, file: str, name: str) -> LoadedSheet:
    """Return what a sheet's text says. Never raises for what it says."""
    try:
        raw, lines = parse_toml(text, file)
        written = frozenset(keys_of(raw))
        raw = require_format(raw, "sheet", lines)
    except RigError as error:
        return LoadedSheet(None, (error,))
    report = Report(lines)
    node = read_table(FILES["sheet"], raw, report)
    sheet = build_sheet(node, report, name) if node is not BROKEN else None
    errors = tuple(report.errors)
    return LoadedSheet(None if errors else sheet, errors, written)


def load_sheet_file(path: Path) -> LoadedSheet:
    """Return what a sheet file says, or that it cannot be read."""
    try:
        text = read_text(path, path.parent)
    except RigError as error:
        return LoadedSheet(None, (error,))
    folder = path.parent.parent if path.parent.name == "modules" else path.parent
    return load_sheet_text(text, file=place(path, folder), name=path.stem)


def keys_of(raw: Mapping[str, Any], above: str = "") -> Iterator[str]:
    """Yield the keys of tables in tables, joined by dots.

    >>> sorted(keys_of({"hp": 6, "jacks": {"in": {"to": "a.in"}}}))
    ['hp', 'jacks', 'jacks.in', 'jacks.in.to']
    """
    for key, value in raw.items():
        path = f"{above}{key}"
        yield path
        if isinstance(value, Mapping):
            yield from keys_of(value, f"{path}.")


@cache
def library_texts() -> Mapping[str, str]:
    """Return the text of every sheet of the library, by name."""
    folder = library_folder()
    return {name: read_text(folder / f"{name}.toml", folder) for name in names_in(folder)}


@cache
def library_sheets() -> Mapping[str, Sheet]:
    """Return every sheet of the library, by name.

    Raises `RigErrors` when one of them does not load, which is a bug of ours.
    """
    return {
        name: load_sheet_text(text, file=f"library/{name}.toml", name=name).require_sheet()
        for name, text in library_texts().items()
    }
