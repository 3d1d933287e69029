"""The model and the readings as data that JSON can hold, by the names of their fields."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from typing import Any

from rigproof.errors import Where
from rigproof.web.api.problems import where_data


def plain(value: Any) -> Any:
    """Return a value as JSON has it: a field a key, an exact fraction as `3/2`, an infinite number as null.

    Raises `TypeError` for what is no data.

    >>> plain({"per_quarter": Fraction(3, 2), "top_v": math.inf, "ends": (1, 2)})
    {'per_quarter': '3/2', 'top_v': None, 'ends': [1, 2]}
    """
    kind = type(value)
    way = _WAYS.get(kind)
    if way is None:
        way = _WAYS[kind] = _way_of(kind)
    return way(value)


def _way_of(kind: type) -> Callable[[Any], Any]:
    """How all values of a type are told; a rig of sixty modules has many thousands of values, but few types."""
    if issubclass(kind, Enum):
        return _enum
    if issubclass(kind, Fraction):
        return str
    if issubclass(kind, Where):
        return where_data
    if issubclass(kind, Mapping):
        return _mapping
    if issubclass(kind, (tuple, list, frozenset)):
        return _items
    if is_dataclass(kind):
        names = tuple(field.name for field in fields(kind))
        return lambda value: {name: plain(getattr(value, name)) for name in names}
    if issubclass(kind, (int, str)):
        return _same
    if issubclass(kind, float):
        return _float
    raise TypeError(f"no data: {kind.__name__}")


def _same(value: Any) -> Any:
    return value


def _enum(value: Enum) -> Any:
    return value.value


def _float(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _mapping(value: Mapping[Any, Any]) -> dict[str, Any]:
    return {str(key): plain(item) for key, item in value.items()}


def _items(value: Any) -> list[Any]:
    return [plain(item) for item in value]


_WAYS: dict[type, Callable[[Any], Any]] = {type(None): _same, bool: _same}
