"""What stands on the disk: the texts of a project folder, and whether they still say what they said.

A file is looked at by its time, size and number, which is quick, and read again when they differ. A time that is as
young as the look itself proves nothing (a clock ticks in steps), so such a file is read again at the next look.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from rigproof.errors import RigError, Where
from rigproof.files.sheet_files import MODULES
from rigproof.files.text import TEXT_LIMIT_BYTES, read_bytes, require_inside

FILES_LIMIT = 2000
"""So many texts of a folder are watched at most."""
YOUNG_NS = 50_000_000
"""A file this young may be written again without its time moving on. Our choice, five of the slowest common ticks."""

Stamp = tuple[int, int, int]


def stamp_of(path: Path) -> Stamp | None:
    """Return a file's time, size and number; None when it cannot be looked at."""
    try:
        info = path.stat()
    except (OSError, ValueError):
        return None
    return (info.st_mtime_ns, info.st_size, info.st_ino)


def text_names(folder: Path) -> Iterator[str]:
    """Yield the names of the texts in a project folder: those at its top and its module sheets."""
    for below in ("", MODULES):
        try:
            entries = sorted(os.listdir(folder / below))  # noqa: PTH208  names are all that is wanted
        except OSError:
            continue
        for name in entries[:FILES_LIMIT]:
            if name.endswith(".toml") and not name.startswith("."):
                yield f"{below}/{name}" if below else name


@dataclass(slots=True)
class Disk:
    """The texts of one folder as they were last seen."""

    folder: Path
    texts: dict[str, bytes] = field(default_factory=dict)
    _stamps: dict[str, Stamp] = field(default_factory=dict)
    _sounds: dict[str, Stamp | None] = field(default_factory=dict)

    def look(self) -> dict[str, tuple[bytes | None, bytes | None]]:
        """Return every text that changed since the last look, as it was and as it is; None where there is no file."""
        changed: dict[str, tuple[bytes | None, bytes | None]] = {}
        names = set(text_names(self.folder))
        for name in sorted(names | self.texts.keys()):
            stamp = stamp_of(self.folder / name) if name in names else None
            if stamp is not None and stamp == self._stamps.get(name):
                continue
            old, new = self.texts.get(name), self._read(name) if stamp is not None else None
            if new is None:
                self.texts.pop(name, None)
            else:
                self.texts[name] = new
            self._keep(name, stamp)
            if old != new:
                changed[name] = (old, new)
        return changed

    def wrote(self, name: str, data: bytes | None) -> None:
        """Note that we have written a text ourselves."""
        if data is None:
            self.texts.pop(name, None)
            self._stamps.pop(name, None)
        else:
            self.texts[name] = data
            self._stamps.pop(name, None)  # somebody else may write right after us

    def sounds_changed(self, names: Iterable[str]) -> bool:
        """Whether one of the sound files that the project names came, went or changed since the last look."""
        now = {name: stamp_of(self.folder / name) for name in names}
        has_changed = any(
            name in self._sounds and self._sounds[name] != stamp for name, stamp in now.items()
        )
        self._sounds = now
        return has_changed

    def _keep(self, name: str, stamp: Stamp | None) -> None:
        if stamp is None or time.time_ns() - stamp[0] < YOUNG_NS:
            self._stamps.pop(name, None)
        else:
            self._stamps[name] = stamp

    def _read(self, name: str) -> bytes | None:
        """Return what a text holds; None for one that may not be read, of which loading tells."""
        path = self.folder / name
        try:
            require_inside(path, self.folder, Where(name))
            return read_bytes(path, Where(name), limit_bytes=TEXT_LIMIT_BYTES)
        except RigError:
            return None
