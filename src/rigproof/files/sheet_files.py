"""Where module sheets come from: the project's own `modules/` first, then the library that comes along."""

from __future__ import annotations

from pathlib import Path

from rigproof.errors import FileError, Where
from rigproof.files.printable import printable
from rigproof.files.text import read_text

MODULES = "modules"
"""The folder of a project's own sheets."""


def library_folder() -> Path:
    """Return the folder of the sheets that come with the program."""
    return Path(__file__).resolve().parent.parent / "library"


def names_in(folder: Path) -> list[str]:
    """Return the names of the sheets in a folder, sorted; none when there is no such folder."""
    try:
        return sorted(path.stem for path in folder.iterdir() if path.suffix == ".toml")
    except OSError:
        return []


class SheetFiles:
    """The sheets that a project can use, by name."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.library = library_folder()
        self._own = set(names_in(folder / MODULES))
        self._library = set(names_in(self.library))

    @property
    def names(self) -> list[str]:
        """All names, the project's own first."""
        return [*sorted(self._own), *sorted(self._library - self._own)]

    def is_own(self, name: str) -> bool:
        """Whether a sheet is one of the project's own."""
        return name in self._own

    def path(self, name: str) -> Path | None:
        """Return the file of a sheet, or None when there is none."""
        if name in self._own:
            return self.folder / MODULES / f"{name}.toml"
        if name in self._library:
            return self.library / f"{name}.toml"
        return None

    def file(self, name: str) -> str:
        """Return the file as the performer knows it: from the project folder, or in the library."""
        return f"{MODULES}/{name}.toml" if name in self._own else f"library/{name}.toml"

    def text(self, name: str) -> str:
        """Return the text of a sheet that exists.

        Raises `FileError` when it cannot be read.
        """
        if name in self._own:
            return read_text(self.folder / MODULES / f"{name}.toml", self.folder)
        try:
            return read_text(self.library / f"{name}.toml", self.library)
        except FileError as error:
            raise FileError(
                Where(self.file(name)),
                error.problem,
                found=printable(error.found) if error.found else None,
                expected=error.expected,
            ) from None
