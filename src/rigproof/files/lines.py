"""Which line of a TOML file a key stands on: one quick pass over the text, before anything is parsed.

The pass also refuses what would make a parser run away: brackets nested too deep and keys of too many parts. It is
lenient with everything else, because the parser that follows says what is not TOML.

Source: TOML v1.0.0, the grammar of keys, strings, arrays, inline tables and table headers.
"""

from __future__ import annotations

import re

from rigproof.errors import FileError, Where
from rigproof.files.printable import printable

DEPTH_LIMIT = 16
"""Brackets inside brackets. A project file needs four."""
PARTS_LIMIT = 16
"""Parts of a dotted key. A project file needs four."""

KeyPath = tuple[str | int, ...]
"""A way down into a file: keys, and places in lists counted from 0."""

# Every pattern uses possessive repeats or single letters, so that none can go back and try again.
_SPACE = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_BLANK = re.compile(r"[ \t]*+")
_BASIC = r'"(?:[^"\\\n]|\\[^\n])*+(?:"|(?=\n)|\Z)'
_LITERAL = r"'[^'\n]*+(?:'|(?=\n)|\Z)"
_LONG_BASIC = r'"""(?:[^"\\]|\\[\s\S]|"(?!""))*+(?:"{3,5}|\\?\Z)'
_LONG_LITERAL = r"'''(?:[^']|'(?!''))*+(?:'{3,5}|\Z)"
_STRING = re.compile(f"{_LONG_BASIC}|{_LONG_LITERAL}|{_BASIC}|{_LITERAL}")
_PLAIN = re.compile(r"[^,\[\]{}#\n\"']++")
_BARE = re.compile(r"[A-Za-z0-9_-]++")
_KEY = re.compile(rf"[A-Za-z0-9_-]++|{_BASIC}|{_LITERAL}")
_ESCAPE = re.compile(r"\\(u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8}|.)")
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}
_FLAT = r"""(?:[^\[\]{}"'#\n]++|"(?:[^"\\\n]|\\[^\n])*+"|'[^'\n]*+')"""
_BRACKETS = rf"[\[{{]{_FLAT}*+[\]}}]"
for _ in range(2):
    _BRACKETS = rf"[\[{{](?:{_FLAT}|{_BRACKETS})*+[\]}}]"
_ONE_LINE = re.compile(_BRACKETS)
"""A list or table, with lists and tables in it, that ends on the line on which it begins."""
_SIMPLE = re.compile(
    r"""[ \t]*+([A-Za-z0-9_-]++)[ \t]*+=[ \t]*+"""
    r"""(?:"[^"\\\n]*+"|'[^'\n]*+'|[^\s"'\[{#][^\n#"'\[{]*+)[ \t]*+(?:#[^\n]*+)?\n"""
)
"""The usual line: one bare key and a short value."""


class Lines:
    """The lines of one file's keys. `of` answers for every key, also for those that share a line with others."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.known: dict[KeyPath, int] = {}
        _Pass(self, text).run()

    def note(self, path: KeyPath, line: int) -> None:
        """Say where a key stands; the first place counts."""
        self.known.setdefault(path, line)

    def of(self, path: KeyPath) -> int | None:
        """Return the line of a key, or of the nearest thing above it that has one."""
        while path:
            line = self.known.get(path)
            if line is not None:
                return line
            path = path[:-1]
        return None

    def where(self, path: KeyPath) -> Where:
        """Return the place of a key."""
        return Where(self.file, self.of(path), key_text(path))


def key_text(path: KeyPath) -> str:
    """Return a key path as TOML would write it.

    >>> key_text(("cables", 14, "from")), key_text(("settings", "echo.feedback"))
    ('cables[14].from', 'settings."echo.feedback"')
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
            continue
        cut = part if len(part) <= 80 else part[:80] + "…"
        written = part if _BARE.fullmatch(cut) else f'"{printable(cut)}"'
        text += f".{written}" if text else written
    return text


class _Pass:
    """One pass over the text."""

    def __init__(self, lines: Lines, text: str) -> None:
        self.lines = lines
        self.text = text if text.endswith("\n") else text + "\n"
        self.at = 0
        self.line = 1
        self.counts: dict[KeyPath, int] = {}
        """How many tables of an array of tables have begun."""

    def move(self, to: int) -> None:
        """Go on to a place, counting lines."""
        self.line += self.text.count("\n", self.at, to)
        self.at = to

    def skip(self, pattern: re.Pattern[str]) -> None:
        """Go past what the pattern matches here, if anything."""
        found = pattern.match(self.text, self.at)
        if found is not None:
            self.move(found.end())

    def run(self) -> None:
        """Go through the file, statement by statement."""
        text, end = self.text, len(self.text)
        known = self.lines.known
        table: KeyPath = ()
        while self.at < end:
            simple = _SIMPLE.match(text, self.at)
            if simple is not None:
                known.setdefault((*table, simple[1]), self.line)
                self.at = simple.end()
                self.line += 1
                continue
            self.skip(_SPACE)
            if self.at >= end:
                return
            if text[self.at] == "[":
                table = self.header()
            else:
                self.statement(table)
            self.to_next_line()

    def to_next_line(self) -> None:
        """Drop the rest of the line: nothing, a comment, or what the parser will complain about."""
        found = self.text.find("\n", self.at)
        self.move(len(self.text) if found < 0 else found + 1)

    def header(self) -> KeyPath:
        """Read `[table]` or `[[table]]` and return the path of what follows."""
        line = self.line
        is_array = self.text.startswith("[[", self.at)
        self.at += 2 if is_array else 1
        path: KeyPath = ()
        keys = self.keys()
        for i, key in enumerate(keys):
            path = (*path, key)
            self.lines.note(path, line)
            if is_array and i == len(keys) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
                self.lines.note(path, line)
        return path

    def statement(self, table: KeyPath) -> None:
        """Read `key = value`."""
        line = self.line
        path = table
        for key in self.keys():
            path = (*path, key)
            self.lines.note(path, line)
        self.skip(_BLANK)
        if path != table and self.text.startswith("=", self.at):
            self.at += 1
            self.skip(_BLANK)
            self.value(path, 0)

    def keys(self) -> list[str]:
        """Read a key of one or more parts."""
        parts: list[str] = []
        while True:
            self.skip(_BLANK)
            found = _KEY.match(self.text, self.at)
            if found is None:
                return parts
            parts.append(_unquoted(found[0]))
            if len(parts) > PARTS_LIMIT:
                raise self.fault("a key of too many parts", f"at most {PARTS_LIMIT} parts")
            self.at = found.end()
            self.skip(_BLANK)
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1

    def value(self, path: KeyPath, depth: int) -> None:
        """Go past a value, noting what stands inside it on lines of its own."""
        one_line = _ONE_LINE.match(self.text, self.at)
        if one_line is not None:
            self.at = one_line.end()
            return
        first = self.text[self.at : self.at + 1]
        if first in ('"', "'"):
            self.skip(_STRING)
        elif first == "[":
            self.array(path, depth + 1)
        elif first == "{":
            self.inline_table(path, depth + 1)
        else:
            self.skip(_PLAIN)

    def array(self, path: KeyPath, depth: int) -> None:
        """Go past `[ ... ]`."""
        self.require_depth(depth)
        self.at += 1
        index = 0
        while True:
            self.skip(_SPACE)
            here = self.at
            if self.at >= len(self.text) or self.text[self.at] == "]":
                self.at += 1
                return
            place = (*path, index)
            if self.line != self.lines.of(path):
                self.lines.note(place, self.line)
            self.value(place, depth)
            self.skip(_SPACE)
            if self.text.startswith(",", self.at):
                self.at += 1
                index += 1
            elif self.at == here:
                return  # no TOML; the parser says so

    def inline_table(self, path: KeyPath, depth: int) -> None:
        """Go past `{ ... }`."""
        self.require_depth(depth)
        self.at += 1
        while True:
            self.skip(_SPACE)
            here = self.at
            if self.at >= len(self.text) or self.text[self.at] == "}":
                self.at += 1
                return
            line = self.line
            place = path
            for key in self.keys():
                place = (*place, key)
                if line != self.lines.of(path):
                    self.lines.note(place, line)
            if self.text.startswith("=", self.at):
                self.at += 1
                self.skip(_BLANK)
                self.value(place, depth)
            self.skip(_SPACE)
            if self.text.startswith(",", self.at):
                self.at += 1
            elif self.at == here:
                return  # no TOML; the parser says so

    def require_depth(self, depth: int) -> None:
        if depth > DEPTH_LIMIT:
            raise self.fault("brackets nested too deep", f"at most {DEPTH_LIMIT} inside each other")

    def fault(self, problem: str, expected: str) -> FileError:
        return FileError(Where(self.lines.file, self.line), problem, expected=expected)


def _unquoted(key: str) -> str:
    if key[0] == "'":
        return key[1:-1]
    if key[0] == '"':
        return _ESCAPE.sub(_unescaped, key[1:-1])
    return key


def _unescaped(match: re.Match[str]) -> str:
    code = match[1]
    if code[0] in "uU" and len(code) > 1:
        number = int(code[1:], 16)
        return chr(number) if number < 0x110000 else "?"
    return _ESCAPES.get(code, code)
