"""Where in a project file the things stand that edits name, and values as a hand would write them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from rigproof.errors import NOWHERE, UnknownName
from rigproof.files.edit import Edits
from rigproof.files.lines import KeyPath
from rigproof.model.sheet import RawValue


def plain_value(value: RawValue) -> Any:
    """Return a value as TOML has it: lists for tuples."""
    return [plain_value(v) for v in value] if isinstance(value, tuple) else value


def whole(value: float) -> float | int:
    """Return a whole number without its point, as a hand would write it."""
    return int(value) if float(value).is_integer() else value


def nth_of(
    edits: Edits, key: str, fits: Callable[[Mapping[str, Any]], bool], nth: int, what: str
) -> KeyPath:
    """Return where the `nth` fitting table of a list at the top stands; raises `UnknownName` when there is none."""
    found = [i for i, table in enumerate(edits.plain.get(key, [])) if fits(table)]
    if nth >= len(found):
        raise UnknownName(NOWHERE, key, what, ())
    return (key, found[nth])


def named(edits: Edits, key: str, id_: str) -> KeyPath:
    """Return where the table with an id stands in a list at the top."""
    return nth_of(edits, key, lambda table: table.get("id") == id_, 0, id_)


def set_or_drop(edits: Edits, path: KeyPath, value: Any, usual: Any) -> None:
    """Write a value; one that would be taken anyway is left out, unless something is written there already."""
    if value is None or (value == usual and not edits.has(path)):
        if edits.has(path):
            edits.remove(path)
    elif edits.get(path) != value:
        edits.set_value(path, value)
