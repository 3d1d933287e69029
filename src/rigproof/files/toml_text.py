"""TOML text made into plain tables with the line of every key, or one clear error."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from rigproof.errors import FileError, Where
from rigproof.files.lines import Lines
from rigproof.files.printable import printable

_AT = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_NO_LINE = ("this line is not TOML", "key = value, [table], or a remark that begins with #")
_HINTS = (
    ("Cannot overwrite a value", "the key stands twice", "each key once"),
    ("Cannot declare", "the table stands twice", "each table once"),
    ("Cannot mutate immutable", "this table is closed already", "all its keys in one place"),
    ("Unescaped '\\' in a string", "a backslash in quotes", "\\\\ or text in single quotes"),
    ("Expected '=' after a key", "a key without its '='", "key = value"),
    ("Unclosed array", "a list is not closed", "]"),
    ("Unclosed inline table", "a table is not closed", "}"),
    ("Unterminated string", "a text is not closed", "a closing quote"),
    ("Illegal character '\\n'", "a text is not closed on its line", "a closing quote"),
    ("Invalid initial character", *_NO_LINE),
    ("Invalid statement", *_NO_LINE),
    ("Expected newline", "there is more on this line than its value", "one key = value on a line"),
    ("Invalid value", "this is no value", 'a number, "text", true, false, [list] or {table}'),
)
"""The parser's beginnings of sentences, and what they mean to a performer: problem, expected."""


def parse_toml(text: str, file: str) -> tuple[dict[str, Any], Lines]:
    """Return the tables of a file and the lines of its keys.

    Raises `FileError` when it is no TOML, or nested deeper than any project file.
    """
    lines = Lines(file, text)
    try:
        return tomllib.loads(text), lines
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, file) from None
    except RecursionError:
        raise FileError(Where(file), "the file is nested too deep") from None
    except ValueError as error:  # a number of thousands of digits, a date that does not exist
        raise FileError(
            Where(file), "a value cannot be read", found=printable(str(error)[:120])
        ) from None


_SAYS_ALL = ("Cannot", "Unescaped", "Illegal character '\\n'", "Unterminated")
"""Sentences of the parser that need no look at the line."""
_SLIPS = (
    (re.compile(r"[=,\[{]\s*[“”„‟]"), "typographic quotes", 'straight ones, "text"'),
    (re.compile(r"=\s*[+-]?\d+,\d+\s*(?:#|$)"), "a comma in a number", "a point, such as 0.5"),
    (
        re.compile(r'^[^"#]*+"(?:[^"]*+"[^"]*+")*+[^"]*+$'),
        "a quote is missing",
        'a " on either side',
    ),
)
"""What a line that is no TOML looks like when the finger slipped: problem, expected. The last counts quotes."""

_ENDS_EARLY = ("Invalid initial character for a key part", "Unclosed inline table")


def _is_open_table(text: str, line: int) -> bool:
    """Return whether a `{` of this line or the one before is still open at its end."""
    return any(
        written.count("{") > written.count("}")
        for written in text.split("\n")[max(0, line - 2) : line]
    )


def _not_toml(message: str, text: str, file: str) -> FileError:
    at = _AT.search(message)
    line = None
    if at is not None:
        line = int(at[1]) if at[1] else text.count("\n", 0, len(text.rstrip())) + 1
    said = _AT.sub("", message)
    hints = [hint[1:] for hint in _HINTS if said.startswith(hint[0])]
    problem, expected = (
        hints[0] if hints else ("this is not TOML", printable(said.removeprefix("Expected ")))
    )
    if line is not None and said.startswith(_ENDS_EARLY) and _is_open_table(text, line):
        problem, expected = "a table in { } must stand on one line", "{ key = value, ... }"
    found = None
    if line is not None:
        written = text.split("\n")[line - 1].strip() if line <= text.count("\n") + 1 else ""
        found = printable(written[:80]) or None
        if not said.startswith(_SAYS_ALL):
            problem, expected = next(
                (slip[1:] for slip in _SLIPS if slip[0].search(written)), (problem, expected)
            )
    return FileError(Where(file, line), problem, found=found, expected=expected)
