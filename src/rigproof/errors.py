"""What can be wrong with what the performer wrote, as one small tree of exceptions.

A `RigError` is the performer's to fix: it says where, what was found, what would work and the nearest valid name.
Anything else that is raised is a bug of ours and keeps its traceback.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a project file: the file as the performer knows it, its line (from 1) and the key path."""

    file: str = ""
    line: int | None = None
    key: str = ""

    def __str__(self) -> str:
        """Write the place as ``file line 12, key``."""
        parts = self.file or "(in memory)"
        if self.line is not None:
            parts += f" line {self.line}"
        return f"{parts}, {self.key}" if self.key else parts

    def child(self, key: str) -> Where:
        """Return the place of a key below this one, on the same line."""
        joined = key if key.startswith("[") else f".{key}"
        return Where(self.file, self.line, f"{self.key}{joined}" if self.key else key)


NOWHERE = Where()


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """Return the known name most like `name`, or None when none is near.

    >>> nearest_name("sqare", ["sine", "saw", "square"])
    'square'
    >>> nearest_name("osc", ["saw", "oscillator"])
    'oscillator'
    >>> nearest_name("faders.f1", ["desk.left"])
    """
    names = list(known)
    near = get_close_matches(name, names, n=1, cutoff=0.6)
    if near:
        return near[0]
    # A name cut short: the shortest that begins like it.
    return min((n for n in names if len(name) > 1 and n.startswith(name)), key=len, default=None)


def of_its_module(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """Return the known names of the module that `name` begins with; all of them where it is no module's.

    >>> of_its_module("osc.sqare", ["clock.run", "osc.saw", "osc.square"])
    ('osc.saw', 'osc.square')
    >>> of_its_module("osk.saw", ["clock.run", "osc.saw"])
    ('clock.run', 'osc.saw')
    """
    names = tuple(known)
    module = name.partition(".")[0]
    return tuple(n for n in names if n.startswith(f"{module}.")) or names


class RigError(Exception):
    """Something in the project files is wrong and the performer can mend it.

    Attributes: `where` the place, `found` and `expected` in words, `known` the valid names (may be empty), `nearest`
    the valid name most like what was found (or None).
    """

    def __init__(
        self,
        where: Where,
        problem: str,
        *,
        found: str | None = None,
        expected: str | None = None,
        known: Sequence[str] = (),
        nearest: str | None = None,
    ) -> None:
        self.where = where
        self.problem = problem
        self.found = found
        self.expected = expected
        self.known = tuple(known)
        self.nearest = nearest
        super().__init__(problem)

    def __str__(self) -> str:
        """Write the error over a few lines: place and problem, then what would work."""
        lines = [f"{self.where}: {self.problem}"]
        if self.found is not None:
            lines.append(f"  found: {self.found}")
        if self.expected is not None:
            lines.append(f"  expected: {self.expected}")
        if self.known:
            shown = ", ".join(self.known[:24]) + (", ..." if len(self.known) > 24 else "")
            lines.append(f"  known: {shown}")
        if self.nearest is not None:
            lines.append(f"  did you mean '{self.nearest}'?")
        return "\n".join(lines)


class FileError(RigError):
    """A file is missing, unreadable, too large, not TOML, or not what it should be."""


class ShapeError(RigError):
    """A key is unknown or missing, or a value has the wrong type or lies outside its range."""


class UnknownName(RigError, LookupError):
    """A name (module, jack, control, sheet, section kind, port, parameter) does not exist.

    Attributes as in `RigError`, plus `what` the sort of name and `name` as it was written.
    """

    def __init__(
        self, where: Where, what: str, name: str, known: Iterable[str], *, owner: str = ""
    ) -> None:
        self.what = what
        self.name = name
        names = tuple(known)
        has = f"{owner} has no {what} '{name}'" if owner else f"there is no {what} '{name}'"
        super().__init__(where, has, known=names, nearest=nearest_name(name, names))


class WiringError(RigError):
    """A connection that cannot mean anything: a cable between a MIDI jack and a CV jack, a jack used twice inside."""


class RigErrors(Exception):
    """All errors of one load, in the order of the files and their lines."""

    def __init__(self, errors: Sequence[RigError]) -> None:
        self.errors = tuple(
            sorted(errors, key=lambda e: (e.where.file, e.where.line or 0, e.where.key))
        )
        super().__init__(f"{len(self.errors)} error{'s' if len(self.errors) != 1 else ''}")

    def __str__(self) -> str:
        """Write every error, one after the other."""
        return "\n".join(str(error) for error in self.errors)
