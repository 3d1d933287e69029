"""What a file says, made safe to show: no control character, no escape to the terminal, no hidden letter."""

from __future__ import annotations

import unicodedata
from typing import Any

SHOWN_LETTERS = 60
"""A longer text is cut when a message quotes it."""
HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories that a terminal obeys, hides or cannot show. Source: Unicode Standard, table 4-4."""


def is_hidden(letter: str) -> bool:
    """Return whether a letter could act on a terminal or is invisible.

    >>> is_hidden(chr(27)), is_hidden("ö")
    (True, False)
    """
    return unicodedata.category(letter) in HIDDEN


def printable(text: str) -> str:
    r"""Return the text with every hidden letter written as an escape.

    >>> print(printable("a" + chr(27) + "[2J"))
    a\x1b[2J
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        letter.encode("unicode_escape").decode() if is_hidden(letter) else letter for letter in text
    )


def shown(value: Any) -> str:
    """Return a value from a file in a few words for a message: quoted if text, and never long.

    >>> shown("osc"), shown([1, 2]), shown(True), shown(float("nan"))
    ("'osc'", 'a list', 'true', 'nan')
    """
    if isinstance(value, str):
        cut = value if len(value) <= SHOWN_LETTERS else value[:SHOWN_LETTERS] + "…"
        return f"'{printable(cut)}'"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**SHOWN_LETTERS:
        return "an enormous number"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return "a date or time"
