"""Told: what the docstring of a check or a lint says under which head, and tables of them by their names."""

from __future__ import annotations

from collections.abc import Collection
from typing import Protocol, TypeVar


class Named(Protocol):
    """Something with a stable name."""

    @property
    def name(self) -> str:
        """The name."""


Thing = TypeVar("Thing", bound=Named)


def read_parts(doc: str, heads: Collection[str]) -> dict[str, str]:
    r"""Return the parts of a docstring: `Fault` for its first paragraph, then each of the heads that it has.

    >>> read_parts("It hums.\n\nWhy: a loop\nof ground.", ("Why", "Do"))
    {'Fault': 'It hums.', 'Why': 'a loop of ground.'}
    """
    parts: dict[str, str] = {}
    here = "Fault"
    for line in doc.splitlines():
        head, colon, rest = line.partition(": ")
        is_head = bool(colon) and head in heads
        here = head if is_head else here
        text = rest if is_head else line.strip()
        parts[here] = f"{parts.get(here, '')} {text}".strip()
    return parts


def table_of(kind: type[Thing], families: Collection[object]) -> dict[str, Thing]:
    """Return all things of a kind in some modules by name, in order; raises `ValueError` on a name used twice."""
    table: dict[str, Thing] = {}
    for family in families:
        for value in vars(family).values():
            if isinstance(value, kind):
                if value.name in table:
                    raise ValueError(f"two are named '{value.name}'")
                table[value.name] = value
    return table
