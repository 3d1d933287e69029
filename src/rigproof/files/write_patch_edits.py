"""How the edits of `model.patch_edits` are written into the patch file."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rigproof.errors import NOWHERE, UnknownName
from rigproof.files.edit_paths import nth_of, set_or_drop, whole
from rigproof.model import patch_edits as model

if TYPE_CHECKING:
    from rigproof.files.apply_edits import ProjectEdits


def _set_tempo(files: ProjectEdits, edit: model.SetTempo) -> None:
    files.patch.set_value(("tempo_bpm",), whole(edit.tempo_bpm))


def _set_seed(files: ProjectEdits, edit: model.SetSeed) -> None:
    files.patch.set_value(("seed",), edit.seed)


def _set_name(files: ProjectEdits, edit: model.SetPatchName) -> None:
    files.patch.set_value(("name",), edit.name)


def _set_cable_colour(files: ProjectEdits, edit: model.SetCableColour) -> None:
    ends = (edit.source, edit.target)
    cable = nth_of(
        files.patch,
        "cables",
        lambda table: (table.get("from"), table.get("to")) == ends,
        edit.nth,
        " to ".join(ends),
    )
    set_or_drop(files.patch, (*cable, "colour"), edit.colour or None, "")


def _remove_rhythm(files: ProjectEdits, edit: model.RemoveRhythm) -> None:
    files.patch.remove_setting(edit.slot, table=("rhythm",))


def _set_map_targets(files: ProjectEdits, edit: model.SetMapTargets) -> None:
    path = nth_of(
        files.patch, "map", lambda t: t.get("control") == edit.control, edit.nth, edit.control
    )
    to: Any = edit.to[0] if len(edit.to) == 1 else list(edit.to)
    set_or_drop(files.patch, (*path, "to"), to or None, ())


def _undecline(files: ProjectEdits, edit: model.Undecline) -> None:
    tables = files.patch.plain.get("declined", [])
    found = [
        i
        for i, t in enumerate(tables)
        if (t.get("finding"), t.get("at")) == (edit.finding, edit.at)
    ]
    if not found:
        raise UnknownName(NOWHERE, "declined finding", f"{edit.finding} at {edit.at}", ())
    for index in reversed(found):
        files.patch.remove(("declined", index))


WRITERS: dict[type, Callable[[ProjectEdits, Any], None]] = {
    model.RemoveRhythm: _remove_rhythm,
    model.SetCableColour: _set_cable_colour,
    model.SetMapTargets: _set_map_targets,
    model.SetPatchName: _set_name,
    model.SetSeed: _set_seed,
    model.SetTempo: _set_tempo,
    model.Undecline: _undecline,
}
