"""The small parts that project files are made of: ids, names, texts, numbers, pairs. Each says what it expects.

A `Value` reads one raw value, or raises `Wrong` with words for the performer, and knows its JSON Schema.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from rigproof.files.printable import is_hidden
from rigproof.model.sheet import LANE, RawValue

ID = r"[a-z0-9]+(?:-[a-z0-9]+)*"
NAME_PATTERN = rf"(?:{ID}/)?{ID}\.{ID}"
"""`module.thing`, or `host/program.thing` for what runs inside a host."""
ID_LETTERS = 64
TEXT_LETTERS = 2000
PATH_LETTERS = 400
RAW_DEPTH = 3
LIST_ITEMS = 4096
_ID = re.compile(ID)
_NAME = re.compile(NAME_PATTERN)
_FRACTION = re.compile(r"([1-9][0-9]{0,3})(?:/([1-9][0-9]{0,3}))?")
_PERCENT = re.compile(r"([0-9]{1,2}(?:\.[0-9]{1,6})?) ?%")


class Wrong(Exception):
    """A value is not what was expected; `known` are the names that would do, if it is a choice."""

    def __init__(self, expected: str, known: Sequence[str] = ()) -> None:
        self.expected = expected
        self.known = tuple(known)
        super().__init__(expected)


@dataclass(frozen=True, slots=True)
class Value:
    """How one value is read, what it is in words, and its JSON Schema."""

    read: Callable[[Any], Any]
    words: str
    schema: Mapping[str, Any]


# --- text -----------------------------------------------------------------------------------------------------------


def read_id(raw: Any) -> str:
    """Return an id: lower-case words with dashes, so that it is safe as a file name too."""
    if isinstance(raw, str) and len(raw) <= ID_LETTERS and _ID.fullmatch(raw):
        return raw
    raise Wrong("lower-case words with dashes, such as 'low-tide-2'")


def read_name(raw: Any) -> str:
    """Return `module.thing`, or `host/program.thing`."""
    if isinstance(raw, str) and len(raw) <= 3 * ID_LETTERS and _NAME.fullmatch(raw):
        return raw
    raise Wrong("a name such as 'module.jack', in lower-case words with dashes")


def read_text(raw: Any) -> str:
    """Return a text to be shown: no control characters."""
    if not isinstance(raw, str) or len(raw) > TEXT_LETTERS:
        raise Wrong(f"text in quotes, at most {TEXT_LETTERS} letters")
    if not (raw.isascii() and raw.isprintable()) and any(
        is_hidden(letter) for letter in raw if letter != "\n"
    ):
        raise Wrong("text without control characters or hidden letters")
    return raw


def read_path(raw: Any) -> str:
    """Return a path below the project folder, with forward slashes."""
    expected = "a path below the project folder, such as 'samples/kick.wav'"
    if not isinstance(raw, str) or not 0 < len(raw) <= PATH_LETTERS:
        raise Wrong(expected)
    parts = read_text(raw).split("/")
    if any(part in ("", ".", "..") or set(part) & set("\\:\n") for part in parts):
        raise Wrong(expected)
    return raw


def read_file_name(raw: Any) -> str:
    """Return the name of a file in the same folder."""
    if isinstance(raw, str) and "/" not in raw:
        return read_path(raw)
    raise Wrong("the name of a file in the same folder, such as 'rig.toml'")


# --- numbers --------------------------------------------------------------------------------------------------------


def _is_number(raw: Any) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool)


def read_number(raw: Any, lo: float, hi: float) -> float:
    """Return a finite number from `lo` to `hi`."""
    if _is_number(raw) and lo <= raw <= hi:  # false for NaN too
        return float(raw)
    raise Wrong(f"a number from {lo:g} to {hi:g}")


def read_whole(raw: Any, lo: int, hi: int) -> int:
    """Return a whole number from `lo` to `hi`."""
    if isinstance(raw, int) and not isinstance(raw, bool) and lo <= raw <= hi:
        return raw
    raise Wrong(f"a whole number from {lo} to {hi}")


def read_flag(raw: Any) -> bool:
    """Return true or false."""
    if isinstance(raw, bool):
        return raw
    raise Wrong("true or false, without quotes")


def read_share(raw: Any) -> float:
    """Return a share below 1, written 0.2 or "20 %"."""
    if isinstance(raw, str):
        match = _PERCENT.fullmatch(raw)
        if match is not None:
            return float(match[1]) / 100.0
    elif _is_number(raw) and 0 <= raw < 1:
        return float(raw)
    raise Wrong("a share from 0 to below 1, such as 0.2 or '20 %'")


def read_ppqn(raw: Any) -> Fraction:
    """Return pulses per quarter note, exact, written 4, 0.5 or "1/4"."""
    if isinstance(raw, str):
        match = _FRACTION.fullmatch(raw)
        if match is not None:
            return Fraction(int(match[1]), int(match[2] or 1))
    elif _is_number(raw) and 1e-4 <= raw <= 9999:
        return Fraction(str(raw)).limit_denominator(9999)
    raise Wrong("pulses per quarter note, such as 24 or '1/4'")


def read_pair(raw: Any) -> tuple[float, float]:
    """Return `[low, high]`, low first. [V]"""
    if isinstance(raw, list) and len(raw) == 2:
        lo, hi = (read_number(v, -1000, 1000) for v in raw)
        if lo <= hi:
            return lo, hi
    raise Wrong("two numbers, the lower first, such as [-5, 5]")


def read_spot(raw: Any) -> tuple[float, float]:
    """Return `[x, y]` from the panel's left and top edge. [mm]"""
    if isinstance(raw, list) and len(raw) == 2:
        return read_number(raw[0], 0, 2000), read_number(raw[1], 0, 2000)
    raise Wrong("two numbers, millimetres from the left and the top edge, such as [10, 25.5]")


def read_box(raw: Any) -> tuple[float, float, float, float]:
    """Return left, top, width and height. [mm]"""
    if isinstance(raw, list) and len(raw) == 4:
        left, top, width, height = (read_number(end, 0, 2000) for end in raw)
        return left, top, width, height
    raise Wrong("four numbers, millimetres: left, top, width and height")


def read_raw(raw: Any, depth: int = 0) -> RawValue:
    """Return a value whose unit is not known yet: number, text, true, false, or a list of such."""
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, int | float):
        if -1e15 <= raw <= 1e15:  # false for NaN too
            return raw
        raise Wrong("a finite number of reasonable size")
    if isinstance(raw, str):
        return read_text(raw)
    if isinstance(raw, list) and depth < RAW_DEPTH and len(raw) <= LIST_ITEMS:
        return tuple(read_raw(v, depth + 1) for v in raw)
    raise Wrong("a number, text in quotes, true, false, or a list of these")


def read_range(raw: Any) -> tuple[RawValue, RawValue]:
    """Return `[low, high]` of a control, as numbers or quantities."""
    if isinstance(raw, list) and len(raw) == 2:
        lo, hi = (read_raw(v, RAW_DEPTH) for v in raw)
        if not isinstance(lo, bool) and not isinstance(hi, bool):
            return lo, hi
    raise Wrong("where the control begins and ends, such as [0, 1] or ['1 ms', '2 s']")


# --- lists ----------------------------------------------------------------------------------------------------------


def _one_or_more(raw: Any, read: Callable[[Any], str]) -> tuple[str, ...]:
    if isinstance(raw, list):
        if len(raw) > LIST_ITEMS:
            raise Wrong(f"at most {LIST_ITEMS} names")
        return tuple(read(v) for v in raw)
    return (read(raw),)


def read_lanes(raw: Any) -> dict[str, tuple[str, ...]]:
    """Return lane -> section ports, from `"section.port"`, a list of them, or a table by lane."""
    if isinstance(raw, dict):
        return {read_id(lane): _one_or_more(ports, read_name) for lane, ports in raw.items()}
    return {LANE: _one_or_more(raw, read_name)}


def read_wire(raw: Any) -> tuple[str, str]:
    """Return `["section.port", "section.port"]`, from and to."""
    if isinstance(raw, list) and len(raw) == 2:
        return read_name(raw[0]), read_name(raw[1])
    raise Wrong("two names, from and to, such as ['osc.saw', 'vcf.in']")


def choice(*names: str) -> Value:
    """Return the value that is one of the names."""

    def read(raw: Any) -> str:
        if isinstance(raw, str) and raw in names:
            return raw
        raise Wrong("one of the known names", [str(name) for name in names])

    words = ", ".join(f"`{name}`" for name in names)
    return Value(read, f"one of {words}", {"enum": [str(name) for name in names]})


def number(lo: float, hi: float) -> Value:
    """Return the value that is a number from `lo` to `hi`."""
    schema = {"type": "number", "minimum": lo, "maximum": hi}
    return Value(lambda raw: read_number(raw, lo, hi), f"number, {lo:g} to {hi:g}", schema)


def whole(lo: int, hi: int) -> Value:
    """Return the value that is a whole number from `lo` to `hi`."""
    schema = {"type": "integer", "minimum": lo, "maximum": hi}
    return Value(lambda raw: read_whole(raw, lo, hi), f"whole number, {lo} to {hi}", schema)


def _list_of(item: Mapping[str, Any], lo: int = 0, hi: int = LIST_ITEMS) -> dict[str, Any]:
    return {"type": "array", "items": dict(item), "minItems": lo, "maxItems": hi}


def _raw_schema(depth: int = 0) -> dict[str, Any]:
    plain: list[dict[str, Any]] = [{"type": ["number", "boolean"]}, dict(_TEXT_SCHEMA)]
    if depth < RAW_DEPTH:
        plain.append(_list_of(_raw_schema(depth + 1)))
    return {"anyOf": plain}


_TEXT_SCHEMA = {"type": "string", "maxLength": TEXT_LETTERS}
_ID_SCHEMA = {"type": "string", "pattern": f"^{ID}$", "maxLength": ID_LETTERS}
_NAME_SCHEMA = {"type": "string", "pattern": f"^{NAME_PATTERN}$", "maxLength": 3 * ID_LETTERS}
_PATH_SCHEMA = {"type": "string", "minLength": 1, "maxLength": PATH_LETTERS}
_NAMES_SCHEMA: list[dict[str, Any]] = [_NAME_SCHEMA, _list_of(_NAME_SCHEMA)]
_VOLTS_SCHEMA = {"type": "number", "minimum": -1000, "maximum": 1000}
_SHARE_SCHEMA: list[dict[str, Any]] = [
    {"type": "number", "minimum": 0, "exclusiveMaximum": 1},
    {"type": "string", "pattern": f"^{_PERCENT.pattern}$"},
]
_PPQN_SCHEMA: list[dict[str, Any]] = [
    {"type": "number", "minimum": 1e-4, "maximum": 9999},
    {"type": "string", "pattern": f"^(?:{_FRACTION.pattern})$"},
]
_LANES_SCHEMA: list[dict[str, Any]] = [
    *_NAMES_SCHEMA,
    {
        "type": "object",
        "propertyNames": _ID_SCHEMA,
        "additionalProperties": {"anyOf": _NAMES_SCHEMA},
    },
]
_END_SCHEMA: dict[str, Any] = {"type": ["number", "string"]}

ID_VALUE = Value(read_id, "lower-case words with dashes", _ID_SCHEMA)
NAME = Value(read_name, "`module.thing`", _NAME_SCHEMA)
TEXT = Value(read_text, "text", _TEXT_SCHEMA)
FILE_NAME = Value(read_file_name, "name of a file in the same folder", _PATH_SCHEMA)
FLAG = Value(read_flag, "`true` or `false`", {"type": "boolean"})
SHARE = Value(read_share, 'share such as `0.2` or `"20 %"`', {"anyOf": _SHARE_SCHEMA})
PPQN = Value(read_ppqn, 'number or `"1/4"`', {"anyOf": _PPQN_SCHEMA})
PAIR_V = Value(read_pair, "`[low, high]`", _list_of(_VOLTS_SCHEMA, 2, 2))
SPOT = Value(
    read_spot, "`[x, y]`", _list_of({"type": "number", "minimum": 0, "maximum": 2000}, 2, 2)
)
BOX = Value(
    read_box,
    "`[left, top, width, height]`",
    _list_of({"type": "number", "minimum": 0, "maximum": 2000}, 4, 4),
)
RAW = Value(
    read_raw, 'number, quantity such as `"180 ms"`, choice, or list of these', _raw_schema()
)
RANGE = Value(read_range, "`[low, high]`, numbers or quantities", _list_of(_END_SCHEMA, 2, 2))
NAMES = Value(
    lambda raw: _one_or_more(raw, read_name),
    "`module.thing` or a list of them",
    {"anyOf": _NAMES_SCHEMA},
)
IDS = Value(
    lambda raw: _one_or_more(raw, read_id),
    "id or a list of them",
    {"anyOf": [_ID_SCHEMA, _list_of(_ID_SCHEMA)]},
)
PATHS = Value(
    lambda raw: _one_or_more(raw, read_path),
    "path below the project folder, or a list of them",
    {"anyOf": [_PATH_SCHEMA, _list_of(_PATH_SCHEMA)]},
)
LANES = Value(
    read_lanes,
    "`section.port`, a list of them, or a table by lane",
    {"anyOf": _LANES_SCHEMA},
)
WIRE = Value(read_wire, "`[from, to]`", _list_of(_NAME_SCHEMA, 2, 2))
