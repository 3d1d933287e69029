"""How the edits of `model.rig_edits` are written: into the rig file, and a new name into every file that uses it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from rigproof.errors import NOWHERE, FileError, UnknownName
from rigproof.files.edit import Edits
from rigproof.files.edit_paths import whole
from rigproof.files.lines import KeyPath
from rigproof.model import rig_edits as model
from rigproof.model.rig_edits import renamed, renamed_in

if TYPE_CHECKING:
    from rigproof.files.apply_edits import ProjectEdits

THINGS = ("module", "controller", "interface")
"""The lists of the rig file whose tables have an id and a sheet."""


def _set_name(files: ProjectEdits, edit: model.SetRigName) -> None:
    files.rig.set_value(("name",), edit.name)


def _add_row(files: ProjectEdits, edit: model.AddRow) -> None:
    rows = ("case", "rows")
    if not files.rig.has(rows):
        files.rig.set_value(rows, [])
    files.rig.append(rows, {"hp": edit.hp, "depth_mm": whole(edit.depth_mm)})


def _set_row(files: ProjectEdits, edit: model.SetRow) -> None:
    row = ("case", "rows", edit.row - 1)
    files.rig.set_value((*row, "hp"), edit.hp)
    files.rig.set_value((*row, "depth_mm"), whole(edit.depth_mm))


def _remove_row(files: ProjectEdits, edit: model.RemoveRow) -> None:
    files.rig.remove(("case", "rows", edit.row - 1))
    for i, module in enumerate(files.rig.plain.get("module", [])):
        if module["row"] > edit.row:
            files.rig.set_value(("module", i, "row"), module["row"] - 1)


def _remove_rail(files: ProjectEdits, edit: model.RemoveRail) -> None:
    for key in ("rails_ma", "surge_ma"):
        path = ("supply", key, edit.rail)
        if files.rig.has(path):
            files.rig.remove(path)


def _set_headroom(files: ProjectEdits, edit: model.SetHeadroom) -> None:
    files.rig.set_value(("supply", "headroom"), whole(edit.headroom_ratio))


def _add_board(files: ProjectEdits, edit: model.AddBoard) -> None:
    files.rig.append(("supply", "board"), {"id": edit.board})


def _remove_board(files: ProjectEdits, edit: model.RemoveBoard) -> None:
    ids = [board.get("id") for board in files.rig.plain.get("supply", {}).get("board", [])]
    if edit.board not in ids:
        raise UnknownName(NOWHERE, "bus board", edit.board, [str(id_) for id_ in ids])
    files.rig.remove(("supply", "board", ids.index(edit.board)))


def _add_outside(files: ProjectEdits, edit: model.AddOutside) -> None:
    files.rig.append((edit.sort,), {"id": edit.id, "sheet": edit.sheet})


def _remove_outside(files: ProjectEdits, edit: model.RemoveOutside) -> None:
    files.rig.remove(_thing(files, edit.id))


def _set_sheet(files: ProjectEdits, edit: model.SetSheet) -> None:
    files.rig.set_value((*_thing(files, edit.id), "sheet"), edit.sheet)


def _thing(files: ProjectEdits, id_: str) -> KeyPath:
    for sort in THINGS:
        for i, table in enumerate(files.rig.plain.get(sort, [])):
            if table.get("id") == id_:
                return (sort, i)
    raise UnknownName(NOWHERE, "module", id_, ())


def _set_stock(files: ProjectEdits, edit: model.SetStock) -> None:
    tables = files.rig.plain.get("cables", [])
    places = [
        i
        for i, t in enumerate(tables)
        if (t.get("lead", "mono-3.5"), t.get("cm")) == (edit.lead, edit.cm)
    ]
    if edit.count == 0:
        files.rig.remove(("cables", places[0]))
    elif places:
        files.rig.set_value(("cables", places[0], "count"), edit.count)
    else:
        files.rig.append(("cables",), {"lead": edit.lead, "cm": edit.cm, "count": edit.count})


# --- names -----------------------------------------------------------------------------------------------------------


def _rename(files: ProjectEdits, edit: model.RenameModule) -> None:
    old, new = edit.id, edit.new_id
    files.rig.set_value((*_thing(files, old), "id"), new)
    for i, board in enumerate(files.rig.plain.get("supply", {}).get("board", [])):
        for j, module in enumerate(board.get("modules", [])):
            if module == old:
                files.rig.set_value(("supply", "board", i, "modules", j), new)
    if files.loaded.patch_path is not None:
        _rename_in_patch(files.patch, old, new)
    if files.loaded.set_path is not None:
        _rename_in_set(files.setlist, old, new)
    for inside in files.insides:
        _rename_values(inside, ("map",), ("control",), old, new)


def _rename_in_patch(patch: Edits, old: str, new: str) -> None:
    _rename_values(patch, ("cables",), ("from", "to"), old, new)
    for table in ("settings", "rhythm", "samples", "inside"):
        _rename_keys(patch, (table,), old, new)
    _rename_values(patch, ("map",), ("control",), old, new)
    for i, link in enumerate(patch.plain.get("map", [])):
        to = link.get("to")
        if isinstance(to, str):
            _set(patch, ("map", i, "to"), to, renamed(to, old, new))
        for j, name in enumerate(to if isinstance(to, list) else ()):
            _set(patch, ("map", i, "to", j), name, renamed(name, old, new))
    for i, declined in enumerate(patch.plain.get("declined", [])):
        at = declined["at"]
        _set(patch, ("declined", i, "at"), at, renamed_in(at, old, new))


def _rename_in_set(setlist: Edits, old: str, new: str) -> None:
    for i, section in enumerate(setlist.plain.get("section", [])):
        _rename_keys(setlist, ("section", i, "settings"), old, new)
        if section.get("moves"):
            _rename_values(setlist, ("section", i, "moves"), ("control",), old, new)


def _rename_values(edits: Edits, path: KeyPath, keys: tuple[str, ...], old: str, new: str) -> None:
    """Rename in keys of the tables of a list."""
    for i, table in enumerate(edits.get(path) or ()):
        for key in keys:
            if key in table:
                _set(edits, (*path, i, key), table[key], renamed(table[key], old, new))


def _set(edits: Edits, path: KeyPath, before: str, after: str) -> None:
    if after != before:
        edits.set_value(path, after)


def _rename_keys(edits: Edits, path: KeyPath, old: str, new: str) -> None:
    """Rename the keys of a table: those that are `module.thing`, and a whole table named like the module."""
    table: Mapping[str, Any] = edits.get(path) or {}
    names = {key: after for key in table if (after := renamed(key, old, new)) != key}
    if set(names.values()) & set(table):
        raise FileError(
            edits.lines.where(path),
            "this layout cannot be edited from here",
            expected="the change made by hand in a text editor",
        )
    if names:
        edits.rename_keys(path, names)


WRITERS: dict[type, Callable[[ProjectEdits, Any], None]] = {
    model.AddBoard: _add_board,
    model.AddOutside: _add_outside,
    model.AddRow: _add_row,
    model.RemoveBoard: _remove_board,
    model.RemoveOutside: _remove_outside,
    model.RemoveRail: _remove_rail,
    model.RemoveRow: _remove_row,
    model.RenameModule: _rename,
    model.SetHeadroom: _set_headroom,
    model.SetRigName: _set_name,
    model.SetRow: _set_row,
    model.SetSheet: _set_sheet,
    model.SetStock: _set_stock,
}
