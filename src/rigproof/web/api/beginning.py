"""A project begun from the app: the demo, a blank rig, or what the performer owns, with a first sound where asked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rigproof.errors import NOWHERE, RigError, ShapeError, UnknownName
from rigproof.files.begin import demo_files, project_files
from rigproof.files.load_sheet import library_sheets
from rigproof.files.scaffold import id_from
from rigproof.model.patch import Patch
from rigproof.model.project import Project
from rigproof.model.rig import RAILS, Row
from rigproof.plan.first_rig import first_rig
from rigproof.plan.first_sound import first_sound
from rigproof.web.api.opening import Opening

STARTS = ("demo", "blank", "owned")
FIELDS: Mapping[str, tuple[str, ...]] = {
    "demo": (),
    "blank": ("name", "rows", "rails_ma", "tempo_bpm"),
    "owned": (
        "name", "rows", "rails_ma", "tempo_bpm", "modules", "controller", "interface", "first_sound",
    ),
}  # fmt: skip
"""What can be said for each start."""
ROWS = (Row(84, 50.0),)
RAILS_MA = {"+12V": 2000.0, "-12V": 1200.0, "+5V": 500.0}
"""A case and a supply where nobody says: those of a new project."""
ROWS_LIMIT = 40
MODULES_LIMIT = 300
NAME_LIMIT = 100


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a project is to begin with."""

    start: str
    name: str | None = None
    rows: tuple[Row, ...] = ROWS
    rails_ma: Mapping[str, float] | None = None
    tempo_bpm: float = 120.0
    modules: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    with_sound: bool = False


def read_wanted(raw: Mapping[str, Any]) -> Wanted:
    """Return what a client wants to begin with.

    Raises `RigError` when a field is unknown or not of the right sort.
    """
    start = raw.get("start")
    if start not in STARTS:
        raise UnknownName(NOWHERE, "start", str(start)[:80], STARTS)
    for key in raw:
        if key not in ("start", *FIELDS[start]):
            raise UnknownName(NOWHERE, "field", str(key)[:80], FIELDS[start], owner=f"'{start}'")
    name = raw.get("name")
    if name is not None and (not isinstance(name, str) or not 0 < len(name.strip()) <= NAME_LIMIT):
        raise _wrong("name", f"1 to {NAME_LIMIT} letters")
    modules = raw.get("modules", [])
    if (
        not isinstance(modules, list)
        or len(modules) > MODULES_LIMIT
        or not all(isinstance(m, str) for m in modules)
    ):
        raise _wrong("modules", f"a list of at most {MODULES_LIMIT} sheets")
    outside = []
    for key in ("controller", "interface"):
        value = raw.get(key)
        if value is not None and not isinstance(value, str):
            raise _wrong(key, "the name of a sheet")
        outside += [value] if value is not None else []
    with_sound = raw.get("first_sound", False)
    if not isinstance(with_sound, bool):
        raise _wrong("first_sound", "true or false")
    return Wanted(
        start,
        name.strip() if name is not None else None,
        _rows(raw["rows"]) if raw.get("rows") is not None else ROWS,
        _rails(raw["rails_ma"]) if raw.get("rails_ma") is not None else None,
        _number(raw.get("tempo_bpm", 120), "tempo_bpm", 1.0, 999.0),
        tuple(modules),
        tuple(outside),
        with_sound,
    )


def _rows(raw: Any) -> tuple[Row, ...]:
    if not isinstance(raw, list) or not 0 < len(raw) <= ROWS_LIMIT:
        raise _wrong("rows", f"1 to {ROWS_LIMIT} rows")
    rows = []
    for row in raw:
        if not isinstance(row, dict) or set(row) != {"hp", "depth_mm"}:
            raise _wrong("rows", '{"hp": 84, "depth_mm": 50}')
        if type(row["hp"]) is not int or not 0 < row["hp"] <= 1000:
            raise _wrong("hp", "a whole number from 1 to 1000")
        rows.append(Row(row["hp"], _number(row["depth_mm"], "depth_mm", 1.0, 2000.0)))
    return tuple(rows)


def _rails(raw: Any) -> dict[str, float]:
    if not isinstance(raw, dict) or not set(raw) <= set(RAILS):
        raise _wrong("rails_ma", f"currents of {', '.join(RAILS)}")
    return {rail: _number(ma, "rails_ma", 0.0, 100_000.0) for rail, ma in raw.items()}


def _number(raw: Any, key: str, lo: float, hi: float) -> float:
    if type(raw) not in (int, float) or not math.isfinite(raw) or not lo <= raw <= hi:
        raise _wrong(key, f"a number from {lo:g} to {hi:g}")
    return float(raw)


def _wrong(key: str, expected: str) -> RigError:
    return ShapeError(NOWHERE, f"'{key}' is not of the right sort", expected=expected)


def begun(opening: Opening, wanted: Wanted) -> tuple[dict[str, bytes], str, tuple[str, ...]]:
    """Return the files of a new project, what was done in words, and what is to be said of it.

    Raises `RigError` when a sheet is unknown or stands in the wrong place.
    """
    if wanted.start == "demo":
        return demo_files(), "begin with the demo rig", ()
    called = opening.folder.name
    title = wanted.name or called.replace("-", " ").title() or "My rig"
    name = id_from(called) or id_from(title) or "patch"
    sheets = library_sheets()
    first = first_rig(
        sheets,
        name=title,
        rows=wanted.rows,
        rails_ma=RAILS_MA if wanted.rails_ma is None else wanted.rails_ma,
        modules=wanted.modules,
        outside=wanted.outside,
    )
    used = dict.fromkeys((*wanted.modules, *wanted.outside))
    project = Project(
        first.rig,
        Patch(title, tempo_bpm=wanted.tempo_bpm),
        {sheet: sheets[sheet] for sheet in used},
    )
    says = first.says
    if wanted.with_sound:
        sound = first_sound(project)
        project, says = sound.project, (*says, *sound.says)
    words = f"begin the rig {title}"
    return project_files(project, name=name), words, says
