"""A module sheet from a form: begun from a sheet that is there or from section kinds, with the figures that the
performer has filled in; or one of the project's own, changed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from rigproof.checks.sheet import LINTS, describe, lint_sheet
from rigproof.checks.sheet.base import Described
from rigproof.errors import NOWHERE, RigError, RigErrors, ShapeError, UnknownName
from rigproof.files.load_sheet import library_sheets, load_sheet_text
from rigproof.files.sheet_draft import SheetDraft, require_id, text_of_parts, with_head
from rigproof.files.sheet_files import MODULES, SheetFiles
from rigproof.model.rig import RAILS
from rigproof.model.sheet import Housing
from rigproof.net.kind_facts import require_port, usable_kinds
from rigproof.net.sheet_skeleton import section_names, skeleton
from rigproof.web.api.plain import plain
from rigproof.web.api.problems import refused_edit
from rigproof.web.api.session import Change, Session

TOP = {"title": str, "summary": str, "hp": int, "depth_mm": float, "typical": bool}
"""Keys of the top of a sheet that a form may fill in."""
PARTS = ("jacks", "controls")
PART_FIELDS = {"jacks": ("label", "range_v"), "controls": ("range", "default")}
"""Keys of a jack or control that a form has a field for."""
KINDS_LIMIT = 32
TEXT_IN_LINE = re.compile(r"""'[^'\n]*'|"(?:\\.|[^"\\\n])*\"""")


@dataclass(frozen=True, slots=True)
class SheetForm:
    """A form that has been filled in."""

    name: str
    like: str | None = None
    """The sheet that it begins from, or None where it begins from kinds."""
    is_change: bool = False
    """The project's own sheet of this name is changed."""
    kinds: tuple[str, ...] = ()
    wires: tuple[tuple[str, str], ...] = ()
    """From section outputs to section inputs, where it begins from kinds."""
    housing: Housing = Housing.MODULE
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
    known = ("name", "like", "change", "kinds", "wires", "housing", *TOP, "draw_ma", *PARTS)
    for key in raw:
        if key not in known:
            raise UnknownName(NOWHERE, "field", str(key)[:80], known, owner="the form")
    if not isinstance(raw.get("name"), str):
        raise ShapeError(NOWHERE, "the form lacks 'name'", expected="an id")
    try:
        require_id(raw["name"])
    except ValueError as wrong:
        raise ShapeError(NOWHERE, "a sheet cannot be called this", expected=str(wrong)) from None
    is_change = raw.get("change", False)
    if not isinstance(is_change, bool):
        raise ShapeError(NOWHERE, "'change' is not of the right sort", expected="true or false")
    like, kinds, wires, housing = _changed(raw) if is_change else _beginning(raw)
    for key, wanted in TOP.items():
        sorts = (int, float) if wanted is float else (wanted,)
        is_flag = isinstance(raw.get(key), bool)
        if key in raw and (not isinstance(raw[key], sorts) or is_flag != (wanted is bool)):
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
    return SheetForm(raw["name"], like, is_change, kinds, wires, housing, top, draw, parts)


Beginning: TypeAlias = tuple[str | None, tuple[str, ...], tuple[tuple[str, str], ...], Housing]


def _changed(raw: Mapping[str, Any]) -> Beginning:
    """Return what a form begins from that changes a sheet: nothing else than the sheet itself."""
    for key in ("like", "kinds", "wires", "housing"):
        if key in raw:
            raise ShapeError(NOWHERE, f"'{key}' does not go with 'change'")
    return None, (), (), Housing.MODULE


def _beginning(raw: Mapping[str, Any]) -> Beginning:
    """Return what a form begins from: a sheet, or kinds with the wires between them and where the module lives."""
    like, kinds = raw.get("like"), raw.get("kinds")
    if (like is None) == (kinds is None):
        raise ShapeError(
            NOWHERE, "a form begins from one thing", expected="'like', a sheet, or 'kinds', a list"
        )
    if kinds is None:
        if not isinstance(like, str):
            raise ShapeError(NOWHERE, "'like' is not of the right sort", expected="a sheet's name")
        for key in ("wires", "housing"):
            if key in raw:
                raise ShapeError(NOWHERE, f"'{key}' goes with 'kinds'")
        return like, (), (), Housing.MODULE
    if not isinstance(kinds, list) or not 0 < len(kinds) <= KINDS_LIMIT:
        raise ShapeError(
            NOWHERE, "'kinds' is not of the right sort", expected=f"1 to {KINDS_LIMIT} kinds"
        )
    for kind in kinds:
        if kind not in usable_kinds():
            raise UnknownName(NOWHERE, "section kind", str(kind)[:80], usable_kinds())
    houses = [house.value for house in Housing]
    if raw.get("housing", houses[0]) not in houses:
        raise ShapeError(NOWHERE, "'housing' is not of the right sort", known=houses)
    sections = {name: {"kind": kind} for name, kind in section_names(kinds).items()}
    wires = raw.get("wires", [])
    if not isinstance(wires, list) or not all(
        isinstance(w, list) and len(w) == 2 and all(isinstance(end, str) for end in w)
        for w in wires
    ):
        raise ShapeError(
            NOWHERE, "'wires' is not of the right sort", expected='pairs: ["mixer.out", "vca.in"]'
        )
    for wire in wires:
        for end, is_input in zip(wire, (False, True), strict=True):
            try:
                require_port(end, sections, is_input=is_input)
            except ValueError as wrong:
                raise ShapeError(
                    NOWHERE, "a wire ends nowhere", found=end[:80], expected=str(wrong)
                ) from None
    pairs = tuple((source, target) for source, target in wires)
    return None, tuple(kinds), pairs, Housing(raw.get("housing", houses[0]))


def sheet_text(session: Session, form: SheetForm) -> str:
    """Return the text of the sheet that a form describes.

    Raises `RigError` when there is no such sheet to begin from, or no such jack or control in it.
    """
    draft = SheetDraft(_begun(session, form))
    _fill_in(draft, form)
    if form.is_change:
        return draft.text
    begun = form.like if form.like is not None else ", ".join(form.kinds)
    return with_head(draft.text, f"Described from {begun} by a form.")


def _fill_in(draft: SheetDraft, form: SheetForm) -> None:
    if not form.is_change and form.top.get("hp", draft.plain.get("hp")) != draft.plain.get("hp"):
        draft.drop_places()
    for key, value in form.top.items():
        draft.set_top(key, value)
    if form.draw_ma is not None:
        draft.set_draw(form.draw_ma)
    for group, things in form.parts.items():
        for name, values in things.items():
            if name not in draft.group(group):
                raise UnknownName(
                    NOWHERE, group[:-1], name, draft.group(group), owner=form.like or form.name
                )
            draft.change(group, name, values)


def _begun(session: Session, form: SheetForm) -> str:
    if form.is_change:
        return own_text(session, form.name)
    if form.like is None:
        parts = skeleton(form.kinds, wires=form.wires, housing=form.housing)
        title = form.name.replace("-", " ").capitalize()
        return text_of_parts(title, parts, housing=form.housing.value, wires=form.wires)
    files = SheetFiles(session.folder)
    if files.path(form.like) is None:
        raise UnknownName(NOWHERE, "sheet", form.like, files.names)
    return files.text(form.like)


def own_text(session: Session, name: str) -> str:
    """Return the text of one of the project's own sheets.

    Raises `RigError` when there is none of this name, or it cannot be read.
    """
    files = SheetFiles(session.folder)
    if not files.is_own(name):
        own = [one for one in files.names if files.is_own(one)]
        raise UnknownName(NOWHERE, "sheet of your own", name, own)
    return files.text(name)


def drafted(session: Session, form: SheetForm) -> tuple[str, Described]:
    """Return the text of a form's sheet and what it describes.

    Raises `Refusal` when it would not load or fit its kinds.
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
    return text, module


def draft_view(session: Session, form: SheetForm) -> dict[str, Any]:
    """Return what the sheet of a form would be and what the lints would say of it; nothing is written.

    Raises `Refusal` as `new_sheet` does, but for the name, which may be taken.
    """
    text, module = drafted(session, form)
    return {
        "file": f"{MODULES}/{form.name}.toml",
        "text": text,
        "sheet": plain(module.sheet),
        "flaws": flaws_data(module),
        "beyond": beyond_form(text) if form.is_change else [],
    }


def flaws_data(module: Described) -> list[dict[str, Any]]:
    """Return what the lints say of a sheet, each with the fault in words and what to do about it."""
    return [
        {
            "lint": flaw.lint,
            "weight": flaw.weight.value,
            "at": flaw.at,
            "message": flaw.message,
            "fault": LINTS[flaw.lint].parts["Fault"],
            "do": LINTS[flaw.lint].parts["Do"],
        }
        for flaw in lint_sheet(module)
    ]


def beyond_form(text: str) -> list[str]:
    r"""Return what a sheet says that no field of the form holds, in words: all of it is left alone.

    >>> beyond_form('hp = 4  # narrow\njacks.a = { label = "A", needed = true, to = "b.c" }')
    ['comments', 'of jacks: needed, to']
    """
    said = SheetDraft(text).plain
    found = ["comments"] if "#" in TEXT_IN_LINE.sub("", text) else []
    held = {"format", "housing", "draw_ma", *TOP, *PARTS}
    found += [key for key in said if key not in held]
    for group, fields in PART_FIELDS.items():
        keys = dict.fromkeys(key for table in said.get(group, {}).values() for key in table)
        if left := [key for key in keys if key not in fields]:
            found.append(f"of {group}: {', '.join(left)}")
    return found


def new_sheet(session: Session, form: SheetForm, *, by: str) -> dict[str, Any]:
    """Write the sheet of a form into the project, and return what it is and what the lints say of it.

    Raises `Refusal` when it would not load or fit its kinds, or there is one of this name.
    """
    text, module = drafted(session, form)
    name = f"{MODULES}/{form.name}.toml"
    change = session.add_text(name, text, f"describe the module {form.name}", by=by)
    return {
        "revision": change.revision,
        "file": name,
        "sheet": plain(module.sheet),
        "flaws": flaws_data(module),
    }


def change_sheet(
    session: Session, form: SheetForm, *, by: str, revision: int, keep_mine: bool = False
) -> Change:
    """Write what a form changes of one of the project's own sheets; what the form has no field for stays.

    Raises `Refusal` when the sheet would not load or fit its kinds, and as `Session.edit` does.
    """
    with session.held():
        text, _ = drafted(session, form)
        name = f"{MODULES}/{form.name}.toml"
        words = f"change the sheet {form.name}"
        return session.change_text(name, text, words, by=by, revision=revision, keep_mine=keep_mine)
