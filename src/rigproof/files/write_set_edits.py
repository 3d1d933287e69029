"""How the edits of `model.set_edits` are written into the set file."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rigproof.files.edit import Edits
from rigproof.files.edit_paths import named, plain_value, set_or_drop, whole
from rigproof.files.lines import KeyPath
from rigproof.model import set_edits as model
from rigproof.model.setlist import Move

if TYPE_CHECKING:
    from rigproof.files.apply_edits import ProjectEdits


def _whole_or_none(value: float | None) -> float | int | None:
    return None if value is None else whole(value)


def _section(files: ProjectEdits, passage: str) -> KeyPath:
    return named(files.setlist, "section", passage)


def _set_tempo(files: ProjectEdits, edit: model.SetSetTempo) -> None:
    set_or_drop(files.setlist, ("tempo_bpm",), _whole_or_none(edit.tempo_bpm), None)


def _set_beats(files: ProjectEdits, edit: model.SetBeatsPerBar) -> None:
    set_or_drop(files.setlist, ("beats_per_bar",), edit.beats_per_bar, 4)


def _set_name(files: ProjectEdits, edit: model.SetSetName) -> None:
    files.setlist.set_value(("name",), edit.name)


def _add_passage(files: ProjectEdits, edit: model.AddPassage) -> None:
    table: dict[str, Any] = {"id": edit.passage}
    if edit.title:
        table["title"] = edit.title
    table["bars"] = edit.bars
    if edit.tempo_bpm is not None:
        table["tempo_bpm"] = whole(edit.tempo_bpm)
    sections = files.setlist.plain.get("section", [])
    files.setlist.insert(("section",), len(sections) if edit.index is None else edit.index, table)


def _set_passage(files: ProjectEdits, edit: model.SetPassage) -> None:
    section = _section(files, edit.passage)
    set_or_drop(files.setlist, (*section, "title"), edit.title, "")
    set_or_drop(files.setlist, (*section, "bars"), edit.bars, None)
    set_or_drop(files.setlist, (*section, "tempo_bpm"), _whole_or_none(edit.tempo_bpm), None)


def _remove_passage(files: ProjectEdits, edit: model.RemovePassage) -> None:
    files.setlist.remove(_section(files, edit.passage))


def _move_passage(files: ProjectEdits, edit: model.MovePassage) -> None:
    index = _section(files, edit.passage)[-1]
    assert isinstance(index, int)
    files.setlist.move(("section",), index, edit.index)


def _set_control(files: ProjectEdits, edit: model.SetPassageControl) -> None:
    table = (*_section(files, edit.passage), "settings")
    files.setlist.set_setting(edit.control, plain_value(edit.value), table=table)


def _forget_control(files: ProjectEdits, edit: model.ForgetPassageControl) -> None:
    table = (*_section(files, edit.passage), "settings")
    files.setlist.remove_setting(edit.control, table=table)


def _add_move(files: ProjectEdits, edit: model.AddMove) -> None:
    files.setlist.append((*_section(files, edit.passage), "moves"), _table(edit.move))


def _table(move: Move) -> dict[str, Any]:
    """Return a move as a hand would write it: what is usual is left out."""
    table: dict[str, Any] = {"control": move.control, "to": plain_value(move.to)}
    if move.start is not None:
        table["start"] = plain_value(move.start)
    if move.bar != 1:
        table["bar"] = move.bar
    if move.beat != 1.0:
        table["beat"] = whole(move.beat)
    if move.beats != 0.0:
        table["beats"] = whole(move.beats)
    table["hand"] = move.hand
    if move.note:
        table["note"] = move.note
    return table


def _set_move(files: ProjectEdits, edit: model.SetMove) -> None:
    path = (*_section(files, edit.passage), "moves", edit.index)
    move = edit.move
    wanted: tuple[tuple[str, Any, Any], ...] = (
        # key, value, what it is where nobody says
        ("control", move.control, None),
        ("to", plain_value(move.to), None),
        ("start", None if move.start is None else plain_value(move.start), None),
        ("bar", move.bar, 1),
        ("beat", whole(move.beat), 1),
        ("beats", whole(move.beats), 0),
        ("hand", move.hand, "right"),
        ("note", move.note, ""),
    )
    edits: Edits = files.setlist
    for key, value, usual in wanted:
        set_or_drop(edits, (*path, key), value, usual)


def _remove_move(files: ProjectEdits, edit: model.RemoveMove) -> None:
    files.setlist.remove((*_section(files, edit.passage), "moves", edit.index))


WRITERS: dict[type, Callable[[ProjectEdits, Any], None]] = {
    model.AddMove: _add_move,
    model.AddPassage: _add_passage,
    model.ForgetPassageControl: _forget_control,
    model.MovePassage: _move_passage,
    model.RemoveMove: _remove_move,
    model.RemovePassage: _remove_passage,
    model.SetBeatsPerBar: _set_beats,
    model.SetMove: _set_move,
    model.SetPassage: _set_passage,
    model.SetPassageControl: _set_control,
    model.SetSetName: _set_name,
    model.SetSetTempo: _set_tempo,
}
