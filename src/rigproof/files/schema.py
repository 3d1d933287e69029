"""The file format told to others: as JSON Schema, and as the page of the docs that lists every key."""

from __future__ import annotations

import json
from typing import Any

from rigproof.files.shapes import FILES, FORMAT, REQUIRED, Key, ListOf, MapOf, Table
from rigproof.files.values import Value

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(sort: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a sort of file: rig, patch, set, inside or sheet.

    It knows shapes and ranges. That a name exists, that an id stands once, and how keys of a sheet depend on each
    other, only loading tells.

    Raises `KeyError` for any other sort.
    """
    schema = _schema(FILES[sort])
    schema["properties"]["format"] = {"const": FORMAT}
    return {"$schema": DIALECT, "title": f"rigproof {sort}, format {FORMAT}", **schema}


def json_schema_text(sort: str) -> str:
    """Return the JSON Schema of a sort of file as it stands in docs/schema."""
    return json.dumps(json_schema(sort), indent=2, ensure_ascii=False) + "\n"


def keys_page() -> str:
    """Return the page of the docs that lists every key of every file."""
    parts = ["# Keys of the files\n", "Every key that may stand in a project file, format 1.\n"]
    for table in FILES.values():
        title, _, file = table.doc.rstrip(".").partition(": ")
        parts.append(f"## {file}\n\n{title}.\n")
        parts.extend(_rows(table, ""))
    return "\n".join(parts)


def _schema(takes: Value | Table | ListOf | MapOf) -> dict[str, Any]:
    match takes:
        case Value():
            return dict(takes.schema)
        case Table():
            return {
                "type": "object",
                "description": takes.doc,
                "properties": {
                    name: {"description": key.doc, **_schema(key.takes)}
                    for name, key in takes.keys.items()
                },
                "required": [n for n, key in takes.keys.items() if key.default is REQUIRED],
                "additionalProperties": _schema(takes.others) if takes.others else False,
            }
        case ListOf():
            return {"type": "array", "items": _schema(takes.item), "maxItems": takes.limit}
        case MapOf():
            return _map_schema(takes)


def _map_schema(takes: MapOf) -> dict[str, Any]:
    names, item = dict(takes.key.schema), _schema(takes.item)
    if not takes.is_dotted:
        return {"type": "object", "propertyNames": names, "additionalProperties": item}
    word = {"type": "string", "pattern": names["pattern"].split("\\.")[0] + "$"}
    nested = {"type": "object", "propertyNames": word, "additionalProperties": item}
    return {
        "type": "object",
        "patternProperties": {names["pattern"]: item, word["pattern"]: nested},
        "additionalProperties": False,
    }


def _rows(table: Table, above: str) -> list[str]:
    """Return the table of a table's keys, then those of the tables in it."""
    lines = ["| key | takes | if left out | |", "|---|---|---|---|"]
    below: list[str] = []
    for name, key in table.keys.items():
        path = f"{above}.{name}" if above else name
        inner = _inner_table(key.takes)
        lines.append(f"| `{path}` | {_words(key.takes)} | {_default(key)} | {key.doc} |")
        if inner is not None:
            below.extend(_rows(inner, path + _suffix(key.takes)))
    return ["\n".join(lines) + "\n", *below]


def _inner_table(takes: Any) -> Table | None:
    if isinstance(takes, ListOf | MapOf):
        return _inner_table(takes.item)
    return takes if isinstance(takes, Table) else None


def _suffix(takes: Any) -> str:
    return "[]" if isinstance(takes, ListOf) else ".NAME" if isinstance(takes, MapOf) else ""


def _words(takes: Value | Table | ListOf | MapOf) -> str:
    match takes:
        case Value():
            return takes.words
        case Table():
            return "table"
        case ListOf():
            return f"list, at most {takes.limit}: {_words(takes.item)}"
        case MapOf():
            return f"table by {takes.key.words}: {_words(takes.item)}"


def _default(key: Key) -> str:
    if key.default is REQUIRED:
        return "**needed**"
    if key.default in (None, "", (), {}):
        return "—"
    if isinstance(key.default, bool):
        return f"`{str(key.default).lower()}`"
    value = list(key.default) if isinstance(key.default, tuple) else key.default
    return f"`{json.dumps(value)}`"
