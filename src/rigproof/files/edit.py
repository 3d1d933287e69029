"""Edits of project files that keep comments, order and layout: text in, text out. `save_text` puts it on the disk.

Every edit is done twice, on the text and on plain tables, and the new text must say what the plain tables say.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, InlineTable, Item, Key, KeyType, SingleKey, Table, Whitespace

from rigproof.errors import FileError, ShapeError, UnknownName, Where
from rigproof.files.atomic import write_whole
from rigproof.files.lines import KeyPath, key_text
from rigproof.files.printable import printable
from rigproof.files.text import TEXT_LIMIT_BYTES, encoded_like, place, read_text
from rigproof.files.toml_text import parse_toml
from rigproof.model.sheet import RawValue

LINE_LISTS = ("cables", "moves")
"""Lists whose entries are written a line each."""
_STEP = re.compile(r"""\[(\d{1,9})\]|\.?(?:([A-Za-z0-9_-]+)|"((?:[^"\\]|\\.)*)")""")


def read_key(text: str) -> KeyPath:
    """Return the key path that a text such as `cables[3].from` stands for; the opposite of `key_text`.

    Raises `ValueError` when it stands for none.

    >>> read_key('settings."echo.feedback"'), read_key("cables[3].from")
    (('settings', 'echo.feedback'), ('cables', 3, 'from'))
    """
    path: list[str | int] = []
    at = 0
    while at < len(text):
        step = _STEP.match(text, at)
        if step is None or (text[at] == ".") != (at > 0 and text[at] != "["):
            raise ValueError(f"no key: {text!r}")
        index, bare, quoted = step.groups()
        path.append(int(index) if index is not None else bare if bare is not None else quoted)
        at = step.end()
    return tuple(path)


class Edits:
    """One file being edited. Every method says in its name what it does; `text` is what comes out.

    Raises `FileError` when the text is not TOML.
    """

    def __init__(self, text: str, file: str = "") -> None:
        plain, self.lines = parse_toml(text, file)
        self.file = file
        self._text: str | None = None
        """The text as it was last asked for; None since something has changed."""
        self.is_as_read = True
        """Reading the text anew would give the very same document: blank lines hang where they would hang then."""
        self.plain: Any = copy.deepcopy(plain)
        try:
            self.document: Any = tomlkit.parse(text)
        except (TOMLKitError, RecursionError, ValueError) as error:
            raise FileError(
                Where(file), "the file cannot be edited", found=printable(str(error))
            ) from None

    @property
    def text(self) -> str:
        """The text as it stands now.

        Raises `FileError` when the layout of the file is such that the edit would not come out right.
        """
        if self._text is not None:
            return self._text
        text = tomlkit.dumps(self.document)
        try:
            is_right = tomllib.loads(text) == self.plain
        except tomllib.TOMLDecodeError:
            is_right = False
        if not is_right:
            raise FileError(
                Where(self.file),
                "this layout cannot be edited from here",
                expected="the change made by hand in a text editor",
            )
        self._text = text
        return text

    def has(self, path: KeyPath) -> bool:
        """Whether anything stands at a key path."""
        return self._find(self.plain, path) is not None

    def get(self, path: KeyPath) -> Any:
        """Return a copy of what stands at a key path, None where nothing does."""
        return copy.deepcopy(self._find(self.plain, path))

    # --- any value ---------------------------------------------------------------------------------------------------

    def set_value(self, path: KeyPath, value: Any) -> None:
        """Put a value at a key path; tables on the way are made where they are missing.

        Raises `UnknownName` when a list on the way has no such place.
        """
        self._both(path, lambda holder, key, make: _put(holder, key, make(value)), is_making=True)

    def remove(self, path: KeyPath) -> None:
        """Take out what stands at a key path.

        Raises `UnknownName` when nothing stands there.
        """

        def take_out(holder: Any, key: str | int, _: Callable[[Any], Any]) -> None:
            del holder[key]
            _space_evenly(holder)

        self._require(path)
        self._both(path, take_out, is_making=False)
        if isinstance(path[-1], int) and isinstance(self._find(self.document, path[:-1]), AoT):
            self.is_as_read = False
            self._drop_empty(path[:-1])

    def _drop_empty(self, path: KeyPath) -> None:
        """Take out a list of tables that has none left: nothing in the text would stand for it."""
        if self._find(self.plain, path) == []:
            self._text = None
            for root in (self.plain, self.document):
                del self._find(root, path[:-1])[path[-1]]

    def insert(self, path: KeyPath, index: int, value: dict[str, Any]) -> None:
        """Put a table into the list at a key path as number `index`; a missing list is made."""
        count = len(self._find(self.plain, path) or ())
        self.append(path, value)
        if index < count:
            self.move(path, count, index)

    def move(self, path: KeyPath, index: int, to: int) -> None:
        """Let number `index` of a list of tables stand as number `to`.

        Raises `UnknownName` when the list has no such place.
        """
        for place_ in (index, to):
            self._require((*path, place_))
        self._text, self.is_as_read = None, False
        plain, tables = self._find(self.plain, path), self._find(self.document, path)
        plain.insert(to, plain.pop(index))
        tables.insert(to, tables.pop(index))

    def rename_keys(self, path: KeyPath, names: Mapping[str, str]) -> None:
        """Call keys of the table at a key path something else; their places and what stands behind them stay.

        Raises `UnknownName` when there is no such key.
        """
        for old in names:
            self._require((*path, old))
        self._text = None
        plain, table = self._find(self.plain, path), self._find(self.document, path)
        for old, new in names.items():
            plain[new] = plain.pop(old)
        lines = table.value.body if isinstance(table, Table | InlineTable) else table.body
        for index, (key, item) in enumerate(lines):
            if key is not None and key.key in names:
                lines[index] = (_called(key, names[key.key]), item)
                if isinstance(item, Table):
                    item.display_name = None  # its head is written from its keys
        self.document = tomlkit.parse(tomlkit.dumps(self.document))

    def append(self, path: KeyPath, value: dict[str, Any]) -> None:
        """Put a table at the end of the list at a key path; a missing list is made."""
        self._text = None
        document, plain = self._find(self.document, path), self._find(self.plain, path)
        if plain is None:
            self._find(self.plain, path[:-1])[path[-1]] = [copy.deepcopy(value)]
            made = _new_list(str(path[-1]), value)
            self.is_as_read = False
            if len(path) == 1:
                self.document[path[0]] = made
            else:
                _put(self._find(self.document, path[:-1]), path[-1], made)
            return
        plain.append(copy.deepcopy(value))
        if isinstance(document, AoT):
            block = _block(value)
            ends = [table.as_string().endswith("\n\n") for table in document[-2:]]
            if ends == [True, False]:  # where tables stand apart, so does the new one
                block.trivia.indent = "\n"
            self.is_as_read = False
            document.append(block)
        else:
            _append_line(document, _inline(value))

    def append_value(self, path: KeyPath, value: Any) -> None:
        """Put a plain value at the end of the list at a key path; a missing list is made."""
        self._text = None
        plain = self._find(self.plain, path)
        if plain is None:
            self.set_value(path, [value])
            return
        plain.append(value)
        self._find(self.document, path).append(value)

    def _both(
        self,
        path: KeyPath,
        do: Callable[[Any, Any, Callable[[Any], Any]], None],
        *,
        is_making: bool,
    ) -> None:
        self._text = None
        makers = ((self.plain, copy.deepcopy, dict), (self.document, _item, tomlkit.table))
        for root, make, table in makers:
            holder = root
            for i, part in enumerate(path[:-1]):
                if is_making and isinstance(part, str) and part not in holder:
                    holder[part] = table()
                elif not _has(holder, part):
                    raise self._unknown(path[: i + 1], holder)
                holder = holder[part]
            if isinstance(path[-1], int) and not _has(holder, path[-1]):
                raise self._unknown(path, holder)
            if not isinstance(holder, dict | list):
                raise self._unknown(path, {})
            do(holder, path[-1], make)

    def _require(self, path: KeyPath) -> None:
        holder = self.plain
        for i, part in enumerate(path):
            if not _has(holder, part):
                raise self._unknown(path[: i + 1], holder)
            holder = holder[part]

    def _unknown(self, path: KeyPath, holder: Any) -> UnknownName:
        known = [str(key) for key in holder] if isinstance(holder, dict) else ()
        return UnknownName(self.lines.where(path[:-1]), "key", key_text(path), known)

    @staticmethod
    def _find(root: Any, path: KeyPath) -> Any:
        for part in path:
            if not _has(root, part):
                return None
            root = root[part]
        return root

    # --- patch and set ----------------------------------------------------------------------------------------------

    def set_setting(self, control: str, value: RawValue, *, table: KeyPath = ("settings",)) -> None:
        """Say where a control (`module.control`) stands, in whichever spelling the file uses already."""
        self.set_value(self.path_of(control, table), value)

    def remove_setting(self, control: str, *, table: KeyPath = ("settings",)) -> None:
        """Say nothing about a control any more.

        Raises `UnknownName` when nothing was said.
        """
        path = self.path_of(control, table)
        self.remove(path)
        if path[-1] != control and self.get(path[:-1]) == {}:
            self.remove(path[:-1])  # the last of its module: an empty table would say nothing

    def path_of(self, name: str, table: KeyPath) -> KeyPath:
        """Return where `module.thing` stands in a table, or would, in whichever spelling the file uses already."""
        module, _, thing = name.partition(".")
        nested = self._find(self.plain, (*table, module))
        is_nested = isinstance(nested, dict) and not self.has((*table, name))
        return (*table, module, thing) if is_nested else (*table, name)

    def add_cable(
        self,
        source: str,
        target: str,
        *,
        colour: str = "",
        cm: int | None = None,
        lead: str | None = None,
    ) -> None:
        """Plug in a cable."""
        cable = {"from": source, "to": target, "colour": colour or None, "cm": cm, "lead": lead}
        self.append(("cables",), {k: v for k, v in cable.items() if v is not None})

    def remove_cable(self, source: str, target: str) -> None:
        """Pull out the cable between two jacks.

        Raises `UnknownName` when there is none.
        """
        cables = self.plain.get("cables", [])
        ends = [(c.get("from"), c.get("to")) for c in cables]
        if (source, target) not in ends:
            known = [f"{a} to {b}" for a, b in ends]
            raise UnknownName(Where(self.file), "cable", f"{source} to {target}", known)
        self.remove(("cables", ends.index((source, target))))

    def add_declined(self, finding: str, at: str, reason: str) -> None:
        """Let a finding stand, and say why."""
        self.append(("declined",), {"finding": finding, "at": at, "reason": reason})

    # --- rig --------------------------------------------------------------------------------------------------------

    def add_module(self, id_: str, sheet: str, *, row: int, hp: int, turned: bool = False) -> None:
        """Mount a module.

        Raises `ShapeError` when the id is taken.
        """
        for sort in ("module", "controller", "interface"):
            for i, thing in enumerate(self.plain.get(sort, [])):
                if thing.get("id") == id_:
                    where = self.lines.where((sort, i, "id"))
                    raise ShapeError(
                        where,
                        f"the id '{printable(id_)}' is taken",
                        expected="an id of its own for everything in the rig",
                    )
        module = {"id": id_, "sheet": sheet, "row": row, "hp": hp}
        self.append(("module",), {**module, "turned": True} if turned else module)

    def move_module(self, id_: str, *, row: int, hp: int, turned: bool | None = None) -> None:
        """Mount a module elsewhere; `turned` None leaves it the way up it is.

        Raises `UnknownName` when there is no such module.
        """
        place_ = ("module", self._module(id_))
        self.set_value((*place_, "row"), row)
        self.set_value((*place_, "hp"), hp)
        if turned is not None and turned != self._find(self.plain, (*place_, "turned")):
            self.set_value((*place_, "turned"), turned)

    def remove_module(self, id_: str) -> None:
        """Take a module out of the case.

        Raises `UnknownName` when there is no such module.
        """
        self.remove(("module", self._module(id_)))

    def _module(self, id_: str) -> int:
        ids = [module.get("id") for module in self.plain.get("module", [])]
        if id_ not in ids:
            raise UnknownName(Where(self.file), "module", id_, [str(known) for known in ids])
        return ids.index(id_)


def open_edits(path: Path, folder: Path) -> Edits:
    """Return the edits of a project file.

    Raises `FileError` when it cannot be read or is not TOML.
    """
    return Edits(read_text(path, folder), place(path, folder))


def save_text(path: Path, text: str, folder: Path) -> None:
    """Put a text on the disk as a project file, whole or not at all, with the line ends that the file has.

    Raises `FileError` when it is not TOML, too large, not inside the folder, or may not be written.
    """
    file = place(path, folder)
    parse_toml(text, file)
    try:
        old = path.read_bytes() if path.is_file() else None
    except OSError:
        old = None  # what is wrong with it is said when it is written
    try:
        data = encoded_like(text, old)
    except UnicodeEncodeError:
        raise FileError(Where(file), "the text cannot be written as UTF-8") from None
    if len(data) > TEXT_LIMIT_BYTES:
        raise FileError(Where(file), "the file would be too large to load again")
    write_whole(path, data, folder)


def _called(key: Key, name: str) -> Key:
    """Return a key with another name, in quotes where it needs them, dotted where it was."""
    written = key.as_string()
    new = SingleKey(name, sep=written[len(written.rstrip()) :] + key.sep)
    new._dotted = key.is_dotted()  # noqa: SLF001  there is no other way to say so
    return new


def _has(holder: Any, part: str | int) -> bool:
    if isinstance(part, int):
        return isinstance(holder, list) and 0 <= part < len(holder)
    return isinstance(holder, dict) and part in holder


def _space_evenly(holder: Any) -> None:
    """Set the keys of a table in one line apart as a hand would: those that come and go leave gaps."""
    if not isinstance(holder, InlineTable):
        return
    line = holder.value
    kept = [(key, item) for key, item in line.body if key is not None]
    if any(key.is_dotted() for key, _ in kept):
        return
    has_air = bool(line.body) and isinstance(line.body[0][1], Whitespace)
    air: list[tuple[Key | None, Item]] = [(None, Whitespace(" "))] if has_air and kept else []
    for number, (_, item) in enumerate(kept):
        item.trivia.indent = " " if number > 0 else ""
    line._body = [*air, *kept, *air]  # noqa: SLF001
    line._map = {key: len(air) + i for i, (key, _) in enumerate(kept)}  # noqa: SLF001


def _put(holder: Any, key: str | int, value: Any) -> None:
    """Put a value in its place; in a document, what stands behind it on its line stays."""
    old = holder[key] if _has(holder, key) else None
    if isinstance(value, Item) and isinstance(old, Item):
        value.trivia.comment_ws = old.trivia.comment_ws
        value.trivia.comment = old.trivia.comment
        value.trivia.trail = old.trivia.trail
    last = _last_line(holder) if old is None and isinstance(value, Item) else None
    if last is None:
        is_new = old is None and isinstance(value, Item)
        holder[_key(key) if is_new and isinstance(key, str) else key] = value
        if old is None:
            _space_evenly(holder)
    else:
        # Behind the last line, not behind the comments that belong to the next table.
        body = holder.value if isinstance(holder, Table) else holder
        body._insert_after(last, _key(str(key)), value)  # noqa: SLF001


def _last_line(holder: Any) -> Any:
    """Return the key of the last line of a table that is written line by line; None when it has none."""
    if not isinstance(holder, Table | tomlkit.TOMLDocument):
        return None
    body = holder.value.body if isinstance(holder, Table) else holder.body
    lines = [
        key
        for key, item in body
        if key is not None and (key.is_dotted() or not isinstance(item, Table | AoT))
    ]
    return lines[-1] if lines else None


def _key(name: str) -> Key:
    """Return a key as it is written: `-12V` in quotes, as `+12V` has to be."""
    return SingleKey(name, KeyType.Basic) if name.startswith("-") else SingleKey(name)


def _item(value: Any) -> Any:
    return _inline(value) if isinstance(value, dict) else tomlkit.item(_plain_list(value))


def _plain_list(value: Any) -> Any:
    return [_plain_list(v) for v in value] if isinstance(value, list | tuple) else value


def _inline(value: dict[str, Any]) -> InlineTable:
    keys = [f"{_key(k).as_string()} = {_item(v).as_string()}" for k, v in value.items()]
    line = tomlkit.parse("x = { " + ", ".join(keys) + " }" if keys else "x = {}")["x"]
    assert isinstance(line, InlineTable)
    return line


def _block(value: dict[str, Any]) -> Table:
    table = tomlkit.table()
    for key, v in value.items():
        table[_key(key)] = _item(v)
    return table


def _new_list(name: str, value: dict[str, Any]) -> Item:
    """Return a new list: cables and moves a line each, everything else a table each."""
    if name not in LINE_LISTS:
        tables = tomlkit.aot()
        tables.append(_block(value))
        return tables
    lines = tomlkit.array()
    _append_line(lines, _inline(value))
    return lines


def _append_line(array: Array, item: InlineTable) -> None:
    """Put an entry on a line of its own at the end of a list."""
    array.add_line(item, indent="  ", add_comma=True)
    if "\n" not in array.as_string().rsplit("}", 1)[-1]:
        array.add_line(indent="")
