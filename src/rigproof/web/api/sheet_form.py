"""A new module sheet from a form: begun from one of the library, with the figures that the performer has filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from rigproof.checks.sheet import describe, lint_sheet
from rigproof.errors import NOWHERE, RigError, RigErrors, ShapeError, UnknownName
from rigproof.files.load_sheet import library_sheets, load_sheet_text
from rigproof.files.sheet_draft import SheetDraft, require_id, with_head
from rigproof.files.sheet_files import MODULES, SheetFiles
from rigproof.model.rig import RAILS
from rigproof.web.api.plain import plain
from rigproof.web.api.problems import refused_edit
from rigproof.web.api.session import Session

TOP = {"title": str, "summary": str, "hp": int, "depth_mm": float, "typical": bool}
"""Keys of the top of a sheet that a form may fill in."""
PARTS = ("jacks", "controls")


@dataclass(frozen=True, slots=True)
class SheetForm:
    """A form that has been filled in."""

    name: str
    like: str
    top: Mapping[str, Any] = field(default_factory=dict)
    draw_ma: Mapping[str, float] | None = None
    parts: Mapping[str, Mapping[str, Mapping[str, Any]]] = field(default_factory=dict)
    """For `jacks` and `controls`: by name, the keys to write; None takes a key out."""


def read_form(raw: Any) -> SheetForm:
    """Return the form that a client has sent.

    Raises `RigError` when a field is unknown or not of the right sort.
    """
    if not isinstance(raw, dict):
        raise ShapeError(NOWHERE, "a form is a table", expected='{"name": ..., "like": ...}')
    known = ("name", "like", *TOP, "draw_ma", *PARTS)
    for key in raw:
        if key not in known:
            raise UnknownName(NOWHERE, "field", str(key)[:80], known, owner="the form")
    for key in ("name", "like"):
        if not isinstance(raw.get(key), str):
            raise ShapeError(NOWHERE, f"the form lacks '{key}'", expected="an id")
    try:
        require_id(raw["name"])
    except ValueError as wrong:
        raise ShapeError(NOWHERE, "a sheet cannot be called this", expected=str(wrong)) from None
    for key, wanted in TOP.items():
        kinds = (int, float) if wanted is float else (wanted,)
        is_flag = isinstance(raw.get(key), bool)
        if key in raw and (not isinstance(raw[key], kinds) or is_flag != (wanted is bool)):
            raise ShapeError(NOWHERE, f"'{key}' is not of the right sort")
    draw = raw.get("draw_ma")
    if draw is not None and not (
        isinstance(draw, dict)
        and all(rail in RAILS and type(ma) in (int, float) for rail, ma in draw.items())
    ):
        raise ShapeError(NOWHERE, "'draw_ma' is not of the right sort", known=RAILS)
    parts = {group: raw.get(group, {}) for group in PARTS}
    for group, things in parts.items():
        if not isinstance(things, dict) or not all(isinstance(t, dict) for t in things.values()):
            raise ShapeError(NOWHERE, f"'{group}' is not of the right sort", expected="tables")
    top = {key: raw[key] for key in TOP if key in raw}
    return SheetForm(raw["name"], raw["like"], top, draw, parts)


def sheet_text(session: Session, form: SheetForm) -> str:
    """Return the text of the sheet that a form describes.

    Raises `RigError` when there is no such sheet to begin from, or no such jack or control in it.
    """
    files = SheetFiles(session.folder)
    if files.path(form.like) is None:
        raise UnknownName(NOWHERE, "sheet", form.like, files.names)
    draft = SheetDraft(files.text(form.like))
    for key, value in form.top.items():
        draft.set_top(key, value)
    if form.draw_ma is not None:
        draft.set_draw(form.draw_ma)
    for group, things in form.parts.items():
        for name, values in things.items():
            if name not in draft.group(group):
                raise UnknownName(NOWHERE, group[:-1], name, draft.group(group), owner=form.like)
            draft.change(group, name, values)
    return with_head(draft.text, f"Described from {form.like} by a form.")


def new_sheet(session: Session, form: SheetForm, *, by: str) -> dict[str, Any]:
    """Write the sheet of a form into the project, and return what it is and what the lints say of it.

    Raises `Refusal` when it would not load or fit its kinds, or there is one of this name.
    """
    name = f"{MODULES}/{form.name}.toml"
    try:
        text = sheet_text(session, form)
        loaded = load_sheet_text(text, file=name, name=form.name)
        module = describe(loaded.require_sheet(), written=loaded.written, library=library_sheets())
    except RigErrors as wrong:
        raise refused_edit(wrong.errors) from None
    except RigError as error:
        raise refused_edit([error]) from None
    if module.plan.errors:
        raise refused_edit(module.plan.errors)
    change = session.add_text(name, text, f"describe the module {form.name}", by=by)
    return {
        "revision": change.revision,
        "file": name,
        "sheet": plain(module.sheet),
        "flaws": plain(lint_sheet(module)),
    }
