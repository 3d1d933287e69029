"""A project begun from the app: the demo's files, or a rig, patch and set made of what the performer says they own.

Nothing that stands in the folder is written over, and a start that fails leaves nothing of itself.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from rigproof.errors import FileError, Where
from rigproof.files.atomic import cannot_write
from rigproof.files.edit import Edits
from rigproof.files.load import RIG
from rigproof.files.new_file import require_new, write_new
from rigproof.files.printable import printable
from rigproof.files.scaffold import SAMPLES, scaffold_texts
from rigproof.files.sheet_files import MODULES
from rigproof.files.text import PATCH
from rigproof.model.project import Project

DEMO = "lowtide"
LEFT_BEHIND = (".py", ".pyc")


def holds_project(folder: Path) -> bool:
    """Whether a folder holds anything of a project: a rig or a patch. One that is not there holds none."""
    try:
        names = [entry.name for entry in folder.iterdir()]
    except OSError:
        return False
    return any(name == RIG or name.endswith(PATCH) for name in names)


def demo_files() -> dict[str, bytes]:
    """Return the files of the demo rig that comes along, by their place in the project."""
    return dict(_files_in(resources.files("rigproof.demo") / DEMO, ""))


def _files_in(folder: Traversable, above: str) -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.is_dir():
            if entry.name != "__pycache__":
                yield from _files_in(entry, f"{above}{entry.name}/")
        elif not entry.name.endswith(LEFT_BEHIND):
            yield f"{above}{entry.name}", entry.read_bytes()


def project_files(project: Project, *, name: str) -> dict[str, bytes]:
    """Return the texts of a new project of this rig and patch, with the comments that every new one has.

    `name` is an id: the patch's file is called so.
    """
    rig, patch = project.rig, project.patch
    texts = scaffold_texts(name, rig.name)
    written = Edits(texts[RIG], RIG)
    if rig.rows:
        rows = [{"hp": row.hp, "depth_mm": _whole(row.depth_mm)} for row in rig.rows]
        while written.get(("case", "rows")):
            written.remove(("case", "rows", 0))
        for row in rows:
            written.append(("case", "rows"), row)
    if rig.supply is not None:
        written.set_value(
            ("supply", "rails_ma"), {rail: _whole(ma) for rail, ma in rig.supply.rails_ma.items()}
        )
    for module in rig.modules:
        written.add_module(
            module.id, module.sheet, row=module.row, hp=module.hp, turned=module.turned
        )
    for thing in rig.outside:
        sort = project.sheets[thing.sheet].housing.value
        written.append((sort,), {"id": thing.id, "sheet": thing.sheet})
    wired = Edits(texts[f"{name}{PATCH}"], f"{name}{PATCH}")
    if patch.tempo_bpm != 120.0:
        wired.set_value(("tempo_bpm",), _whole(patch.tempo_bpm))
    for cable in patch.cables:
        wired.add_cable(
            cable.source, cable.target, colour=cable.colour, cm=cable.cm, lead=cable.lead
        )
    for setting in patch.settings:
        wired.set_setting(setting.control, setting.value)
    for filling in patch.rhythms:
        for option, value in filling.values.items():
            plain = list(value) if isinstance(value, tuple) else value
            wired.set_value((*wired.path_of(filling.slot, ("rhythm",)), option), plain)
    texts = {**texts, RIG: written.text, f"{name}{PATCH}": wired.text}
    return {file: text.encode("utf-8") for file, text in texts.items()}


def _whole(value: float) -> float | int:
    return int(value) if float(value).is_integer() else value


def write_project(folder: Path, files: Mapping[str, bytes]) -> list[str]:
    """Put the files of a new project into a folder, which is made if it is missing, and return their names.

    The rig comes last, so that a start that is broken off leaves no project that seems to be one.

    Raises `FileError` when there is a project already or a file is in the way; then nothing is left of it.
    """
    where = Where(printable(folder.name))
    if holds_project(folder):
        raise FileError(
            where, "there is a project here already", expected="a folder without rig or patch"
        )
    made: list[Path] = []
    try:
        _make_folders(folder, made)
        for below in (MODULES, SAMPLES):
            _make_folders(folder / below, made)
        for name in files:
            require_new(folder / name, folder)
        for name in sorted(files, key=_last_of_all):
            write_new(folder / name, files[name], folder)
            made.append(folder / name)
    except BaseException as error:
        _take_back(made)
        if isinstance(error, OSError):
            raise cannot_write(where, error) from None
        raise
    return sorted(files)


def _last_of_all(name: str) -> tuple[bool, bool, str]:
    """Order the files: samples, sheets and set first, then the patch, then the rig."""
    return name == RIG, name.endswith(PATCH), name


def _make_folders(folder: Path, made: list[Path]) -> None:
    for missing in reversed([p for p in (folder, *folder.parents) if not p.exists()]):
        missing.mkdir(exist_ok=True)
        made.append(missing)


def _take_back(made: Sequence[Path]) -> None:
    for path in reversed(made):
        with contextlib.suppress(OSError):
            path.rmdir() if path.is_dir() else path.unlink()
