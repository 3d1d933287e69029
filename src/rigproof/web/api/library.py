"""The sheets that can be added to a rig: the project's own, and those of the library that none of them hides."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.files.load_sheet import LoadedSheet, library_sheets, library_texts, load_sheet_text
from rigproof.files.sheet_files import MODULES, SheetFiles
from rigproof.kinds import KINDS
from rigproof.model.sheet import Sheet, Way
from rigproof.net.kind_facts import kind_data, usable_kinds
from rigproof.web.api.plain import plain
from rigproof.web.api.problems import Refusal, error_data


def library_view(folder: Path) -> dict[str, Any]:
    """Return every sheet in short, the project's own first; of one that does not load only what is wrong with it."""
    files = SheetFiles(folder)
    return {"sheets": [_short(files, name) for name in files.names]}


def sheet_view(folder: Path, name: str) -> dict[str, Any]:
    """Return one sheet in full, with its text.

    Raises `Refusal` when there is none of this name.
    """
    files = SheetFiles(folder)
    if name not in files.names:
        wrong = UnknownName(NOWHERE, "sheet", name[:80], files.names)
        raise Refusal(404, "no-such-place", "There is no such sheet.", errors=[wrong])
    loaded, text = _loaded(files, name)
    return {
        "name": name,
        "file": files.file(name),
        "is_own": files.is_own(name),
        "errors": [error_data(error) for error in loaded.errors],
        "sheet": None if loaded.sheet is None else plain(loaded.sheet),
        "text": text,
    }


def kinds_view() -> dict[str, Any]:
    """Return every section kind that a sheet can be built from."""
    return {"kinds": [kind_data(KINDS[name]) for name in usable_kinds()]}


def _loaded(files: SheetFiles, name: str) -> tuple[LoadedSheet, str]:
    """Return a sheet and its text; one that cannot be read has none."""
    if not files.is_own(name):
        return LoadedSheet(library_sheets()[name], ()), library_texts()[name]
    try:
        text = files.text(name)
    except RigError as error:
        return LoadedSheet(None, (error,)), ""
    return _own(name, text), text


@lru_cache(maxsize=512)
def _own(name: str, text: str) -> LoadedSheet:
    return load_sheet_text(text, file=f"{MODULES}/{name}.toml", name=name)


def _short(files: SheetFiles, name: str) -> dict[str, Any]:
    loaded, _ = _loaded(files, name)
    return {
        "name": name,
        "is_own": files.is_own(name),
        "errors": len(loaded.errors),
        **(_facts(loaded.sheet) if loaded.sheet is not None else _facts(Sheet(name, name))),
    }


def _facts(sheet: Sheet) -> dict[str, Any]:
    return {
        "title": sheet.title,
        "summary": sheet.summary,
        "housing": sheet.housing.value,
        "is_typical": sheet.is_typical,
        "hp": sheet.hp,
        "depth_mm": sheet.depth_mm,
        "draw_ma": plain(sheet.draw_ma),
        "jacks": len(sheet.jacks),
        "controls": len(sheet.controls),
        "signals": _signals(sheet),
        "kinds": list(dict.fromkeys(section.kind for section in sheet.sections.values())),
    }


def _signals(sheet: Sheet) -> dict[str, list[str]]:
    """Return what its inputs and its outputs carry, each once."""
    return {
        way.value: list(dict.fromkeys(j.signal.value for j in sheet.jacks.values() if j.way is way))
        for way in (Way.IN, Way.OUT)
    }
