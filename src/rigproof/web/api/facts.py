"""What a project file says, fact by fact, so that two changes of it can be told apart or seen to meet.

A fact is a key with what stands there. Things in lists go by what the performer calls them (a module by its id, a
cable by its two ends) and not by their number, so that a line that is put in above moves nothing.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

TEXTS_KEPT = 16
"""So many texts' facts are kept: what a change leaves is what the next one finds."""
NAMES = (("id",), ("from", "to"), ("finding", "at"), ("control",))
"""By which keys the tables of a list are told apart, the first that fits."""


@lru_cache(maxsize=TEXTS_KEPT)
def facts(text: str | None) -> Mapping[str, Any]:
    r"""Return the facts of a text; one that is no TOML, or none at all, is a single fact.

    >>> facts('[settings]\none.level = 1\n"two.level" = 2')
    {'settings.one.level': 1, 'settings.two.level': 2}
    """
    if text is None:
        return {}
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return {"": text}
    found: dict[str, Any] = {}
    _collect(raw, "", found)
    return found


def changed_keys(file: str, old: str | None, new: str | None) -> frozenset[str]:
    r"""Return the keys, `file key`, at which two texts of a file say something else.

    >>> sorted(changed_keys("p", "a = 1\nb = 2", "b = 2\na = 3"))
    ['p a']
    """
    before, after = facts(old), facts(new)
    return frozenset(
        f"{file} {key}"
        for key in before.keys() | after.keys()
        if key not in before or key not in after or before[key] != after[key]
    )


def _collect(value: Any, path: str, found: dict[str, Any]) -> None:
    if isinstance(value, dict):
        for key, item in value.items():
            _collect(item, f"{path}.{key}" if path else str(key), found)
        return
    names = _names_of(value)
    if names is None or path.endswith(".moves"):
        found[path] = value
    elif names == ("id",) and len({table["id"] for table in value}) == len(value):
        for table in value:
            _collect(table, f"{path}[{table['id']}]", found)
    else:
        for table in value:
            called = " > ".join(str(table[name]) for name in names)
            found.setdefault(f"{path}[{called}]", []).append(table)


def _names_of(value: Any) -> tuple[str, ...] | None:
    if not isinstance(value, list) or not value or not all(isinstance(v, Mapping) for v in value):
        return None
    fitting = (
        names for names in NAMES if all(isinstance(t.get(n), str) for t in value for n in names)
    )
    return next(fitting, None)
