"""Raw TOML held against the file format. Everything wrong is said at once; what is right is kept."""

from __future__ import annotations

from typing import Any

from rigproof.errors import FileError, RigError, ShapeError, Where, nearest_name
from rigproof.files.lines import KeyPath, Lines
from rigproof.files.printable import printable, shown
from rigproof.files.shapes import REQUIRED, Key, ListOf, MapOf, Table
from rigproof.files.values import Value, Wrong

ERRORS_LIMIT = 100
"""More errors in one file are counted and not listed."""

BROKEN: Any = object()
"""Stands for what could not be read; its error has been said."""


class Node(dict[str, Any]):
    """A table that has been read, where it stood, and the keys whose values were no good."""

    __slots__ = ("broken", "path")

    def __init__(self, path: KeyPath) -> None:
        super().__init__()
        self.path = path
        self.broken: set[str] = set()


class Report:
    """What is wrong with one file."""

    def __init__(self, lines: Lines) -> None:
        self.lines = lines
        self.listed: list[RigError] = []
        self.count = 0
        self.top: tuple[str, ...] = ()
        """The keys that belong to the top of the file."""

    def hint(self, path: KeyPath) -> str | None:
        """Return what to do about a key of the top that stands below a table, as happens in TOML; else None."""
        if len(path) > 1 and path[-1] in self.top:
            return f"'{path[-1]}' belongs to the top of the file, above the first [table]"
        return None

    def add(
        self,
        path: KeyPath,
        problem: str,
        *,
        found: str | None = None,
        expected: str | None = None,
        known: tuple[str, ...] = (),
        name: str | None = None,
    ) -> None:
        """Note an error; `name` is what was written where one of `known` should stand."""
        if self.count >= ERRORS_LIMIT:
            self.count += 1
            return
        nearest = nearest_name(name, known) if name is not None and len(name) < 200 else None
        self.note(
            ShapeError(
                self.lines.where(path),
                problem,
                found=found,
                expected=expected,
                known=known,
                nearest=nearest,
            )
        )

    def note(self, error: RigError) -> None:
        """Note an error that has been made elsewhere."""
        self.count += 1
        if self.count <= ERRORS_LIMIT:
            self.listed.append(error)

    @property
    def errors(self) -> list[RigError]:
        """All errors, the last one saying how many more there are."""
        if self.count <= ERRORS_LIMIT:
            return list(self.listed)
        more = f"{self.count - ERRORS_LIMIT} more errors in this file"
        return [*self.listed, FileError(Where(self.lines.file), more)]


def read_table(table: Table, raw: Any, report: Report, path: KeyPath = ()) -> Node | Any:
    """Return the table with defaults filled in, or BROKEN when a key it cannot do without is missing or wrong."""
    if not isinstance(raw, dict):
        expected = report.hint(path) or "{ key = value, ... }"
        report.add(path, "this should be a table", found=shown(raw), expected=expected)
        return BROKEN
    if not path:
        report.top = tuple(table.keys)
    node = Node(path)
    is_whole = True
    for name, raw_value in raw.items():
        key = table.keys.get(name)
        takes = key.takes if key is not None else table.others
        if takes is not None:
            value = _read(takes, raw_value, report, (*path, name))
            if value is not BROKEN:
                node[name] = value
            else:
                node.broken.add(name)
        else:
            report.add(
                (*path, name),
                f"there is no key '{printable(name[:80])}' here",
                expected=report.hint((*path, name)),
                known=tuple(table.keys),
                name=name,
            )
    for name, key in table.keys.items():
        if name in node:
            continue
        if key.default is not REQUIRED:
            node[name] = key.default
            continue
        is_whole = False
        if name not in raw:
            report.add(path, f"the key '{name}' is missing", expected=f"{name} = {_words(key)}")
    return node if is_whole else BROKEN


def _read(takes: Value | Table | ListOf | MapOf, raw: Any, report: Report, path: KeyPath) -> Any:
    match takes:
        case Value():
            return _read_value(takes, raw, report, path)
        case Table():
            return read_table(takes, raw, report, path)
        case ListOf():
            return _read_list(takes, raw, report, path)
        case MapOf():
            return _read_map(takes, raw, report, path)


def _read_value(value: Value, raw: Any, report: Report, path: KeyPath) -> Any:
    try:
        return value.read(raw)
    except Wrong as wrong:
        report.add(
            path,
            "this value is not of the right sort" if not wrong.known else "there is no such choice",
            found=shown(raw),
            expected=wrong.expected if not wrong.known else None,
            known=wrong.known,
            name=raw if isinstance(raw, str) else None,
        )
        return BROKEN


def _read_list(takes: ListOf, raw: Any, report: Report, path: KeyPath) -> Any:
    if not isinstance(raw, list):
        report.add(path, "this should be a list", found=shown(raw), expected="[ ... ]")
        return BROKEN
    if len(raw) > takes.limit:
        report.add(
            path, "too many entries", found=f"{len(raw):,}", expected=f"at most {takes.limit:,}"
        )
        return BROKEN
    items = [_read(takes.item, item, report, (*path, i)) for i, item in enumerate(raw)]
    return tuple(item for item in items if item is not BROKEN)


def _read_map(takes: MapOf, raw: Any, report: Report, path: KeyPath) -> Any:
    if not isinstance(raw, dict):
        expected = report.hint(path) or "{ key = value, ... }"
        report.add(path, "this should be a table", found=shown(raw), expected=expected)
        return BROKEN
    if len(raw) > takes.limit:
        report.add(
            path, "too many entries", found=f"{len(raw):,}", expected=f"at most {takes.limit:,}"
        )
        return BROKEN
    if takes.is_dotted:
        raw = undot(raw, path, report)
    node = Node(path)
    for name, raw_value in raw.items():
        try:
            takes.key.read(name)
        except Wrong as wrong:
            problem = f"'{printable(name[:80])}' cannot stand here"
            asked = report.hint((*path, name)) or (wrong.expected if not wrong.known else None)
            report.add((*path, name), problem, expected=asked, known=wrong.known, name=name)
            continue
        value = _read(takes.item, raw_value, report, (*path, name))
        if value is not BROKEN:
            node[name] = value
    return node


def _words(key: Key) -> str:
    match key.takes:
        case Value(words=words):
            return words.replace("`", "")
        case Table():
            return "{ ... }"
        case ListOf():
            return "[ ... ]"
        case MapOf():
            return "{ name = ... }"


def undot(raw: dict[str, Any], path: KeyPath, report: Report) -> dict[str, Any]:
    """Return a table by `module.thing` with the keys that were written without quotes joined by dots.

    `echo.feedback = 0.5` and `[settings.echo]` mean the same as `"echo.feedback" = 0.5`.
    """
    flat: dict[str, Any] = {}
    for outer, value in raw.items():
        if "." in outer or not isinstance(value, dict):
            pairs = [(outer, (*path, outer), value)]
        else:
            pairs = [(f"{outer}.{k}", (*path, outer, k), v) for k, v in value.items()]
        for name, at, inner in pairs:
            if name in flat:
                report.add(at, f"'{printable(name[:80])}' stands twice", expected="each name once")
                continue
            line = report.lines.of(at)
            if line is not None:
                report.lines.note((*path, name), line)
            flat[name] = inner
    return flat
