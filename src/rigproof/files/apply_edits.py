"""Edits of the model written into the files that they are about, comments and order kept.

What a fix changes in the model it changes in the text too: loading the new texts gives the project that the model's
own `apply` gives. Nothing is put on the disk here; `changed` says what is to be.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from rigproof.errors import NOWHERE, FileError, RigError, UnknownName
from rigproof.files import write_patch_edits, write_rig_edits, write_set_edits
from rigproof.files.edit import Edits
from rigproof.files.edit_paths import named, nth_of, plain_value, set_or_drop, whole
from rigproof.files.lines import KeyPath
from rigproof.files.load import Loaded
from rigproof.files.text import place, read_text
from rigproof.model import edits as model
from rigproof.model.edits import Edit
from rigproof.model.project import Project

Kept = dict[Path, tuple[str, Edits]]
"""Files taken apart, and the text that each stands for."""


class ProjectEdits:
    """The files of one project being edited. Each is read when an edit first needs it."""

    def __init__(self, loaded: Loaded, kept: Kept | None = None) -> None:
        """`kept` may hold files as an edit before has left them; those that still say the same are taken from it."""
        self.loaded = loaded
        self._kept: Kept = {} if kept is None else kept
        self.project: Project | None = loaded.partial
        """The project as the edits so far have made it; None while there is no rig to speak of."""
        self._open: dict[Path, tuple[str, Edits]] = {}

    def apply(self, edit: Edit) -> None:
        """Make one edit, in the model and in the text.

        Raises `RigError` when it names what is not there or the file cannot be edited; then nothing is changed.
        """
        if self.project is None:
            raise FileError(NOWHERE, "there is no rig that loads, so there is nothing to edit")
        after = edit.apply(self.project)
        before = {path: edits.text for path, (_, edits) in self._open.items()}
        try:
            WRITERS[type(edit)](self, edit)
            self.changed()
        except BaseException:
            self._open = {
                path: (self._open[path][0], Edits(text, self._open[path][1].file))
                for path, text in before.items()
            }
            raise
        self.project = after

    def changed(self) -> dict[Path, tuple[str, str]]:
        """Return every file that now says something else: its text before and after."""
        texts = {path: (old, edits.text) for path, (old, edits) in self._open.items()}
        return {path: both for path, both in texts.items() if both[0] != both[1]}

    @property
    def rig(self) -> Edits:
        """The rig file."""
        return self._edits(self.loaded.rig_path, "rig")

    @property
    def patch(self) -> Edits:
        """The patch file."""
        return self._edits(self.loaded.patch_path, "patch")

    @property
    def setlist(self) -> Edits:
        """The set file."""
        return self._edits(self.loaded.set_path, "set")

    @property
    def insides(self) -> list[Edits]:
        """The files of what runs inside hosts."""
        return [self._edits(path, "inside") for path in self.loaded.inside_paths]

    def _edits(self, path: Path | None, sort: str) -> Edits:
        if path is None:
            raise FileError(NOWHERE, f"the project has no {sort} file to write this into")
        if path not in self._open:
            text = read_text(path, self.loaded.folder)
            old = self._kept.pop(path, None)
            if old is not None and old[0] == text:
                self._open[path] = old
            else:
                edits = Edits(text, place(path, self.loaded.folder))
                self._open[path] = (edits.text, edits)
        return self._open[path][1]

    def keep(self) -> Kept:
        """Return the files as they are now, for whoever edits them next."""
        return {
            path: (edits.text, edits) for path, (_, edits) in self._open.items() if edits.is_as_read
        }


def written(
    loaded: Loaded, edits: Sequence[Edit], *, kept: Kept | None = None
) -> dict[Path, tuple[str, str]]:
    """Return the texts, before and after, of every file that the edits change.

    `kept` saves taking files apart anew: what it holds is used where a file still says the same, and it is left with
    the files as they are once the edits have been written.

    Raises `RigError` when one of them cannot be made.
    """
    files = ProjectEdits(loaded, kept)
    try:
        for edit in edits:
            files.apply(edit)
    except RigError:
        if kept is None:
            raise
        return written(
            loaded, edits
        )  # once more with nothing kept: lines and layout are told as they stand
    changed = files.changed()
    if kept is not None:
        kept.update(files.keep())
    return changed


def take_apart(loaded: Loaded, path: Path, kept: Kept) -> None:
    """Have one file of a project among those that are kept, as it stands on the disk.

    Raises `RigError` when it cannot be edited.
    """
    text = read_text(path, loaded.folder)
    if path not in kept or kept[path][0] != text:
        edits = Edits(text, place(path, loaded.folder))
        kept[path] = (edits.text, edits)


def _cable(files: ProjectEdits, source: str, target: str, nth: int) -> KeyPath:
    def fits(table: Mapping[str, Any]) -> bool:
        return (table.get("from"), table.get("to")) == (source, target)

    return nth_of(files.patch, "cables", fits, nth, f"{source} to {target}")


def _map(files: ProjectEdits, control: str, nth: int) -> KeyPath:
    return nth_of(files.patch, "map", lambda table: table.get("control") == control, nth, control)


def _boards(files: ProjectEdits) -> Sequence[Mapping[str, Any]]:
    boards: Sequence[Mapping[str, Any]] = files.rig.plain.get("supply", {}).get("board", [])
    return boards


def _board(files: ProjectEdits, id_: str) -> KeyPath:
    ids = [board.get("id") for board in _boards(files)]
    if id_ not in ids:
        raise UnknownName(NOWHERE, "bus board", id_, [str(known) for known in ids])
    return ("supply", "board", ids.index(id_))


def _off_boards(files: ProjectEdits, module: str) -> None:
    for i, board in enumerate(_boards(files)):
        for j in reversed(range(len(board.get("modules", [])))):
            if board["modules"][j] == module:
                files.rig.remove(("supply", "board", i, "modules", j))


# --- one writer for every edit ---------------------------------------------------------------------------------------


def _add_cable(files: ProjectEdits, edit: model.AddCable) -> None:
    cable = edit.cable
    files.patch.add_cable(
        cable.source, cable.target, colour=cable.colour, cm=cable.cm, lead=cable.lead
    )


def _remove_cable(files: ProjectEdits, edit: model.RemoveCable) -> None:
    files.patch.remove(_cable(files, edit.source, edit.target, edit.nth))


def _replug(files: ProjectEdits, edit: model.Replug) -> None:
    cable = _cable(files, edit.source, edit.target, edit.nth)
    files.patch.set_value((*cable, "from"), edit.new_source)
    files.patch.set_value((*cable, "to"), edit.new_target)


def _set_cable_length(files: ProjectEdits, edit: model.SetCableLength) -> None:
    cable = _cable(files, edit.source, edit.target, edit.nth)
    set_or_drop(files.patch, (*cable, "cm"), edit.cm, None)


def _set_cable_lead(files: ProjectEdits, edit: model.SetCableLead) -> None:
    cable = _cable(files, edit.source, edit.target, edit.nth)
    set_or_drop(files.patch, (*cable, "lead"), edit.lead, None)


def _set_control(files: ProjectEdits, edit: model.SetControl) -> None:
    files.patch.set_setting(edit.control, plain_value(edit.value))


def _forget_control(files: ProjectEdits, edit: model.ForgetControl) -> None:
    files.patch.remove_setting(edit.control)


def _set_rhythm(files: ProjectEdits, edit: model.SetRhythm) -> None:
    path = (*files.patch.path_of(edit.slot, ("rhythm",)), edit.option)
    files.patch.set_value(path, plain_value(edit.value))


def _set_samples(files: ProjectEdits, edit: model.SetSamples) -> None:
    path = files.patch.path_of(edit.slot, ("samples",))
    if edit.files:
        files.patch.set_value(path, list(edit.files))
    elif files.patch.has(path):
        files.patch.remove_setting(edit.slot, table=("samples",))


def _add_map(files: ProjectEdits, edit: model.AddMap) -> None:
    link = edit.link
    table: dict[str, Any] = {"control": link.control, "cc": link.cc}
    if link.channel != 1:
        table["channel"] = link.channel
    if link.to:
        table["to"] = link.to[0] if len(link.to) == 1 else list(link.to)
    files.patch.append(("map",), table)


def _set_map(files: ProjectEdits, edit: model.SetMap) -> None:
    path = _map(files, edit.control, edit.nth)
    files.patch.set_value((*path, "cc"), edit.cc)
    if edit.channel != 1 or files.patch.has((*path, "channel")):
        files.patch.set_value((*path, "channel"), edit.channel)


def _remove_map(files: ProjectEdits, edit: model.RemoveMap) -> None:
    files.patch.remove(_map(files, edit.control, edit.nth))


def _decline(files: ProjectEdits, edit: model.Decline) -> None:
    tables = files.patch.plain.get("declined", [])
    key = (edit.finding, edit.at)
    found = [i for i, t in enumerate(tables) if (t.get("finding"), t.get("at")) == key]
    for index in found:
        files.patch.set_value(("declined", index, "reason"), edit.reason)
    if not found:
        files.patch.add_declined(*key, edit.reason)


def _add_module(files: ProjectEdits, edit: model.AddModule) -> None:
    new = edit.module
    files.rig.add_module(new.id, new.sheet, row=new.row, hp=new.hp, turned=new.turned)
    if new.ribbon is not None:
        files.rig.set_value((*named(files.rig, "module", new.id), "ribbon"), new.ribbon)


def _move_module(files: ProjectEdits, edit: model.MoveModule) -> None:
    path = (*named(files.rig, "module", edit.module), "turned")
    is_said = edit.turned or files.rig.has(path)
    turned = edit.turned if is_said else None
    files.rig.move_module(edit.module, row=edit.row, hp=edit.hp, turned=turned)


def _remove_module(files: ProjectEdits, edit: model.RemoveModule) -> None:
    files.rig.remove_module(edit.module)
    _off_boards(files, edit.module)


def _set_rail(files: ProjectEdits, edit: model.SetRail) -> None:
    files.rig.set_value(("supply", "rails_ma", edit.rail), whole(edit.ma))


def _set_surge(files: ProjectEdits, edit: model.SetSurge) -> None:
    if not files.rig.has(("supply", "rails_ma")):
        files.rig.set_value(("supply", "rails_ma"), {})
    files.rig.set_value(("supply", "surge_ma", edit.rail), whole(edit.ma))


def _set_ribbon(files: ProjectEdits, edit: model.SetRibbon) -> None:
    files.rig.set_value((*named(files.rig, "module", edit.module), "ribbon"), edit.ribbon)


def _hang_on_board(files: ProjectEdits, edit: model.HangOnBoard) -> None:
    _off_boards(files, edit.module)
    files.rig.append_value((*_board(files, edit.board), "modules"), edit.module)


def _set_board_lead(files: ProjectEdits, edit: model.SetBoardLead) -> None:
    board = _board(files, edit.board)
    if files.rig.has((*board, "awg")):
        files.rig.remove((*board, "awg"))
    files.rig.set_value((*board, "mm2"), edit.mm2)


def _move(files: ProjectEdits, passage: str, index: int) -> KeyPath:
    return (*named(files.setlist, "section", passage), "moves", index)


def _set_move_length(files: ProjectEdits, edit: model.SetMoveLength) -> None:
    path = (*_move(files, edit.passage, edit.index), "beats")
    files.setlist.set_value(path, whole(edit.beats))


def _set_move_hand(files: ProjectEdits, edit: model.SetMoveHand) -> None:
    files.setlist.set_value((*_move(files, edit.passage, edit.index), "hand"), edit.hand)


def _free_move_start(files: ProjectEdits, edit: model.FreeMoveStart) -> None:
    path = (*_move(files, edit.passage, edit.index), "start")
    if files.setlist.has(path):
        files.setlist.remove(path)


def _glide_setting(files: ProjectEdits, edit: model.GlideSetting) -> None:
    setlist = files.setlist
    section = named(setlist, "section", edit.passage)
    settings = (*section, "settings")
    value = setlist.get(setlist.path_of(edit.control, settings))
    setlist.remove_setting(edit.control, table=settings)
    move = {"control": edit.control, "to": value, "beats": whole(edit.beats), "hand": edit.hand}
    setlist.append((*section, "moves"), move)


WRITERS: dict[type, Callable[[ProjectEdits, Any], None]] = {
    model.AddCable: _add_cable,
    model.AddMap: _add_map,
    model.AddModule: _add_module,
    model.Decline: _decline,
    model.ForgetControl: _forget_control,
    model.FreeMoveStart: _free_move_start,
    model.GlideSetting: _glide_setting,
    model.HangOnBoard: _hang_on_board,
    model.MoveModule: _move_module,
    model.RemoveCable: _remove_cable,
    model.RemoveMap: _remove_map,
    model.RemoveModule: _remove_module,
    model.Replug: _replug,
    model.SetBoardLead: _set_board_lead,
    model.SetCableLead: _set_cable_lead,
    model.SetCableLength: _set_cable_length,
    model.SetControl: _set_control,
    model.SetMap: _set_map,
    model.SetMoveHand: _set_move_hand,
    model.SetMoveLength: _set_move_length,
    model.SetRail: _set_rail,
    model.SetRhythm: _set_rhythm,
    model.SetRibbon: _set_ribbon,
    model.SetSamples: _set_samples,
    model.SetSurge: _set_surge,
    **write_patch_edits.WRITERS,
    **write_rig_edits.WRITERS,
    **write_set_edits.WRITERS,
}
"""How every edit of the model is written; a test holds the table to the model."""
