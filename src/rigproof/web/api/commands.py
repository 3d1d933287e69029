"""What a client may ask to be changed: every edit of the model under its own name, read strictly from JSON."""

from __future__ import annotations

import math
import re
import types
from collections.abc import Mapping
from dataclasses import MISSING, fields
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from rigproof.errors import NOWHERE, RigError, ShapeError, UnknownName
from rigproof.files.apply_edits import WRITERS
from rigproof.model.edits import AddCable, AddMap, AddModule, Edit
from rigproof.model.patch import Cable, Map
from rigproof.model.rig import Mounted
from rigproof.model.sheet import RawValue

HOLDS: dict[type, tuple[str, type]] = {
    AddCable: ("cable", Cable),
    AddMap: ("link", Map),
    AddModule: ("module", Mounted),
}
"""Edits whose one field is a thing: a client names the thing's own fields."""
TEXT_LIMIT = 2000
LIST_LIMIT = 1000
WHOLE_LIMIT = 2**53
"""Beyond it a client's numbers are not exact. Source: IEEE 754 binary64, 53 significant bits."""


def command_name(edit: type) -> str:
    """Return the name under which a client asks for an edit.

    >>> command_name(AddCable)
    'add-cable'
    """
    return re.sub(r"(?<!^)(?=[A-Z])", "-", edit.__name__).lower()


COMMANDS: dict[str, type] = {command_name(edit): edit for edit in WRITERS}


@cache
def fields_of(edit: type) -> Mapping[str, tuple[Any, bool]]:
    """Return what a client must or may give for an edit: the type by field name, and whether it must be there."""
    cls = HOLDS[edit][1] if edit in HOLDS else edit
    hints = get_type_hints(cls)
    return {
        f.name: (hints[f.name], f.default is MISSING and f.default_factory is MISSING)
        for f in fields(cls)
        if f.name != "where"
    }


def read_command(raw: Any) -> Edit:
    """Return the edit that a client asks for.

    Raises `RigError` when there is no such edit, or its fields are not what they should be.

    >>> read_command({"do": "set-control", "control": "osc.tune", "value": "440 Hz"}).words
    'set osc.tune to 440 Hz'
    """
    if not isinstance(raw, dict) or not isinstance(raw.get("do"), str):
        raise ShapeError(NOWHERE, "a command is a table", expected='{"do": "set-control", ...}')
    name = raw["do"]
    if name not in COMMANDS:
        raise UnknownName(NOWHERE, "command", name[:80], COMMANDS)
    edit = COMMANDS[name]
    takes = fields_of(edit)
    for key in raw:
        if key != "do" and key not in takes:
            raise UnknownName(NOWHERE, "field", str(key)[:80], takes, owner=name)
    values = {}
    for key, (wanted, is_needed) in takes.items():
        if key in raw:
            values[key] = _read(raw[key], wanted, f"{name}.{key}")
        elif is_needed:
            raise ShapeError(NOWHERE, f"{name} lacks the field '{key}'")
    if edit in HOLDS:
        held, cls = HOLDS[edit]
        values = {held: cls(**values)}
    made: Edit = edit(**values)
    return made


def _read(raw: Any, wanted: Any, key: str) -> Any:
    if raw is None and type(None) in get_args(wanted):
        return None
    if {bool, int, float, str} <= set(
        get_args(wanted)
    ):  # `RawValue`, however its own name is resolved
        return _raw_value(raw, key)
    if get_origin(wanted) in (Union, types.UnionType):
        kinds = [kind for kind in get_args(wanted) if kind is not type(None)]
        return _read(raw, kinds[0], key)
    if get_origin(wanted) is tuple:
        if not isinstance(raw, list) or len(raw) > LIST_LIMIT:
            raise _wrong(key, f"a list of at most {LIST_LIMIT}")
        return tuple(_read(item, get_args(wanted)[0], key) for item in raw)
    if wanted is str and isinstance(raw, str):
        return _text(raw, key)
    if wanted is bool and isinstance(raw, bool):
        return raw
    if wanted is int and isinstance(raw, int) and not isinstance(raw, bool) and raw >= 0:
        return _number(raw, key)
    if wanted is float and isinstance(raw, int | float) and not isinstance(raw, bool):
        return float(_number(raw, key))
    raise _wrong(
        key, {str: "text", bool: "true or false", int: "a whole number from 0"}.get(wanted)
    )


def _raw_value(raw: Any, key: str) -> RawValue:
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, int | float):
        return _number(raw, key)
    if isinstance(raw, str):
        return _text(raw, key)
    if isinstance(raw, list) and len(raw) <= LIST_LIMIT:
        return tuple(_raw_value(item, key) for item in raw)
    raise _wrong(key, "a number, a text, true or false, or a list of them")


def _number(raw: float, key: str) -> float | int:
    if not math.isfinite(raw) or (isinstance(raw, int) and abs(raw) > WHOLE_LIMIT):
        raise _wrong(key, "a number that is not too large")
    return raw


def _text(raw: str, key: str) -> str:
    try:
        raw.encode("utf-8")
    except UnicodeEncodeError:
        raise _wrong(key, "text that is Unicode") from None
    if len(raw) > TEXT_LIMIT:
        raise _wrong(key, f"text of at most {TEXT_LIMIT} letters")
    return raw


def _wrong(key: str, expected: str | None) -> RigError:
    return ShapeError(NOWHERE, f"'{key}' is not of the right sort", expected=expected or "a number")
