"""The model and the readings as data that JSON can hold, by the names of their fields."""

from __future__ import annotations

import math
from collections.abc import Mapping
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
    match value:
        case None | bool():
            return value
        case Enum():
            return value.value
        case int() | str():
            return value
        case float():
            return value if math.isfinite(value) else None
        case Fraction():
            return str(value)
        case Where():
            return where_data(value)
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case tuple() | list() | frozenset():
            return [plain(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    raise TypeError(f"no data: {type(value).__name__}")
