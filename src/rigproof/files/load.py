"""A project folder made into the model, or a list of all that is wrong with it. Nothing in it is ever executed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from rigproof.errors import FileError, RigError, RigErrors, UnknownName, Where
from rigproof.files.build import build_inside, build_patch, build_rig, build_setlist
from rigproof.files.build_sheet import build_sheet
from rigproof.files.lines import Lines
from rigproof.files.migrate import require_format
from rigproof.files.printable import printable
from rigproof.files.reading import BROKEN, Node, Report, read_table
from rigproof.files.shapes import FILES
from rigproof.files.sheet_files import SheetFiles
from rigproof.files.sounds import require_beginning
from rigproof.files.text import INSIDE, PATCH, SET, nearest_file, place, read_text, require_inside
from rigproof.files.toml_text import parse_toml
from rigproof.model.patch import InsideFile, Patch
from rigproof.model.project import Inside, Project
from rigproof.model.rig import Mounted, Outside, Rig
from rigproof.model.setlist import Setlist
from rigproof.model.sheet import Sheet

RIG = "rig.toml"
SHEETS_KEPT = 256
"""So many sheets that have been read are kept, for whoever loads a project again and again."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """What a folder holds: the project, or everything that is wrong with it."""

    folder: Path
    project: Project | None
    """The project; None when there is any error."""
    partial: Project | None
    """As much of it as is sure: what an error makes doubtful is left out, with all that refers to it. Checked further,
    it shows wrong names together with the errors here. None when there is no rig to speak of."""
    errors: tuple[RigError, ...]
    is_patch_read: bool = True
    """Whether anything of the patch could be read; where not, `partial` holds an empty one in its place."""
    patch_path: Path | None = None
    rig_path: Path | None = None
    set_path: Path | None = None
    sheet_paths: tuple[Path, ...] = ()
    inside_paths: tuple[Path, ...] = ()

    @property
    def paths(self) -> tuple[Path, ...]:
        """Every file that was read, so that a change of one can be noticed."""
        found = (self.rig_path, self.patch_path, self.set_path)
        return (
            *(path for path in found if path is not None),
            *self.inside_paths,
            *self.sheet_paths,
        )

    def require_project(self) -> Project:
        """Return the project.

        Raises `RigErrors` with everything that is wrong.
        """
        if self.project is None:
            raise RigErrors(self.errors)
        return self.project


def load_project(path: str | Path, *, instead: Mapping[Path, str] | None = None) -> Loaded:
    """Load the project in a folder, or around one patch file in it. Never raises for what the files say.

    `instead` gives texts that stand for what some of its files say, so that a change can be tried before it is written.
    """
    errors: list[RigError] = []
    named = Path(path)
    try:
        folder, patch_path = find_patch(named)
    except RigError as error:
        if not named.name.endswith(PATCH) or not (named.parent / RIG).is_file():
            return Loaded(named, None, None, (error,))
        folder, patch_path = named.parent, named  # the patch has gone; the rest is there
    return _Loading(folder, patch_path, errors, instead or {}).run()


def find_patch(path: Path) -> tuple[Path, Path | None]:
    """Return the project folder and its patch; no patch in a folder that holds only a rig.

    Raises `FileError` when there is nothing to load, or more than one patch and none named like the folder.
    """
    named = Where(printable(str(path)))
    try:
        is_folder, is_there = path.is_dir(), path.exists()
    except (OSError, ValueError):
        is_folder, is_there = False, False
    if not is_there:
        raise FileError(named, "there is no such file or folder", nearest=nearest_file(path))
    if not is_folder:
        if path.name.endswith(PATCH):
            return path.parent, path
        raise FileError(
            named,
            "this is no patch",
            found=printable(path.name),
            expected=f"a project folder, or a file in it named NAME{PATCH}",
        )
    try:
        names = sorted(entry.name for entry in path.iterdir())
    except OSError as error:
        reason = printable(error.strerror or str(error))
        raise FileError(named, "the folder may not be read", found=reason) from None
    patches = [name for name in names if name.endswith(PATCH)]
    like_folder = f"{path.resolve().name}{PATCH}"
    if like_folder in patches:
        return path, path / like_folder
    if len(patches) == 1:
        return path, path / patches[0]
    if patches:
        raise FileError(
            named,
            "the folder holds several patches; name one of them",
            expected=f"one file, or one called {printable(like_folder)}",
            known=tuple(printable(name) for name in patches),
        )
    if RIG in names:
        return path, None
    raise FileError(
        named,
        "the folder holds no project",
        expected=f"{RIG}, and NAME{PATCH} beside it",
    )


class _Loading:
    """One load: what has been read so far, and what is wrong with it."""

    def __init__(
        self,
        folder: Path,
        patch_path: Path | None,
        errors: list[RigError],
        instead: Mapping[Path, str],
    ) -> None:
        self.folder = folder
        self.instead = instead
        self.patch_path = patch_path
        self.errors = errors
        self.sheet_paths: list[Path] = []
        self.inside_paths: list[Path] = []
        self.set_path: Path | None = None
        self.is_patch_read = True
        self.sheet_uses: dict[str, Where] = {}
        """Every sheet that the rig uses, and where it is first named."""

    def run(self) -> Loaded:
        patch = self.patch()
        rig_path = self.folder / patch.rig
        before = len(self.errors)
        rig = self.rig(rig_path)
        are_names_sure = len(self.errors) == before
        setlist = self.setlist()
        insides = tuple(i for file in patch.insides if (i := self.inside(file)) is not None)
        sheets = self.sheets()
        partial = None
        if rig is not None:
            partial = Project(rig, patch, sheets, setlist, insides, printable(str(self.folder)))
            if self.errors:
                partial = sure_part(partial, are_names_sure=are_names_sure)
        ordered = RigErrors(self.errors).errors
        return Loaded(
            self.folder,
            None if ordered else partial,
            partial,
            ordered,
            self.is_patch_read,
            self.patch_path,
            rig_path,
            self.set_path,
            tuple(self.sheet_paths),
            tuple(self.inside_paths),
        )

    def tables(self, path: Path, sort: str) -> tuple[Node, Report] | None:
        """Return what a file holds, or None when nothing can be made of it; its errors are noted."""
        try:
            text = self.instead.get(path)
            if text is None:
                text = read_text(path, self.folder)
            return self.shape(text, place(path, self.folder), sort)
        except RigError as error:
            self.errors.append(error)
            return None

    def shape(self, text: str, file: str, sort: str) -> tuple[Node, Report] | None:
        node, report = shaped(text, file, sort)
        if node is None:
            self.errors.extend(report.errors)
            return None
        return node, report

    def patch(self) -> Patch:
        if self.patch_path is None:
            return Patch(printable(self.folder.resolve().name))
        name = printable(self.patch_path.name.removesuffix(PATCH))
        found = self.tables(self.patch_path, "patch")
        if found is None:
            self.is_patch_read = False
            return Patch(name)
        node, report = found
        patch = build_patch(node, report, name)
        self.require_samples(patch, report)
        self.errors.extend(report.errors)
        return patch

    def inside(self, file: InsideFile) -> Inside | None:
        path = self.folder / file.file
        if not path.is_file():
            self.errors.append(
                FileError(
                    file.where,
                    "there is no such file",
                    found=printable(file.file),
                    expected="what runs inside the host: NAME.inside.toml in the project folder",
                    nearest=nearest_file(path),
                )
            )
            return None
        self.inside_paths.append(path)
        found = self.tables(path, "inside")
        if found is None:
            return None
        node, report = found
        inside = build_inside(node, report, file.host, printable(path.name.removesuffix(INSIDE)))
        self.require_samples(inside.patch, report)
        self.errors.extend(report.errors)
        for program in node["program"]:
            where = report.lines.where((*program.path, "sheet"))
            self.sheet_uses.setdefault(program["sheet"], where)
        return replace(inside, where=file.where)

    def require_samples(self, patch: Patch, report: Report) -> None:
        """Note an error for every sample of a patch that is not there."""
        for samples in patch.samples:
            for i, file in enumerate(samples.values["files"]):  # type: ignore[arg-type]
                where = report.lines.where(("samples", samples.slot, i))
                self.require_sample(str(file), where, report)

    def require_sample(self, file: str, where: Where, report: Report) -> None:
        """Note an error when a sample is missing, not inside the folder, or begins like no audio file."""
        path = self.folder / file
        try:
            real = require_inside(path, self.folder, where)
            if not real.is_file():
                raise FileError(
                    where,
                    "there is no such sample",
                    found=f"'{file}'",
                    expected="an audio file in the project folder",
                    nearest=nearest_file(path),
                )
            require_beginning(real, where)
        except RigError as error:
            report.note(error)
        except OSError as error:
            reason = printable(error.strerror or str(error))
            report.note(FileError(where, "the sample cannot be reached", found=reason))

    def rig(self, path: Path) -> Rig | None:
        found = self.tables(path, "rig")
        if found is None:
            return None
        node, report = found
        rig = build_rig(node, report)
        self.errors.extend(report.errors)
        for sort in ("module", "controller", "interface"):
            for thing in node[sort]:
                where = report.lines.where((*thing.path, "sheet"))
                self.sheet_uses.setdefault(thing["sheet"], where)
        return rig

    def setlist(self) -> Setlist | None:
        if self.patch_path is None:
            return None
        stem = self.patch_path.name.removesuffix(PATCH)
        found = self.find_set(stem)
        if found is None:
            return None
        path, (node, report) = found
        self.set_path = path
        name = printable(path.name.removesuffix(SET))
        setlist = build_setlist(node, report, name, self.patch_path.name)
        self.errors.extend(report.errors)
        return setlist

    def find_set(self, stem: str) -> tuple[Path, tuple[Node, Report]] | None:
        """Return the set of the patch: the one with its name, else the only one that says it plays it."""
        try:
            names = sorted(p.name for p in self.folder.iterdir() if p.name.endswith(SET))
        except OSError:
            return None
        own = f"{stem}{SET}"
        if own in names:
            found = self.tables(self.folder / own, "set")
            if found is None:
                return None
            if found[0]["patch"] in (None, f"{stem}{PATCH}"):
                return self.folder / own, found
        playing = [name for name in names if name != own and self.plays(name, f"{stem}{PATCH}")]
        if len(playing) > 1:
            self.errors.append(
                FileError(
                    Where(place(self.patch_path or self.folder, self.folder)),
                    "several sets play this patch",
                    expected=f"one, or one called {printable(own)}",
                    known=tuple(printable(name) for name in playing),
                )
            )
        if len(playing) != 1:
            return None
        found = self.tables(self.folder / playing[0], "set")
        return (self.folder / playing[0], found) if found is not None else None

    def plays(self, name: str, patch: str) -> bool:
        """Return whether a set says that it plays the patch. One that cannot be read belongs to another patch."""
        try:
            raw, _ = parse_toml(read_text(self.folder / name, self.folder), name)
        except RigError:
            return False
        return raw.get("patch") == patch

    def sheets(self) -> dict[str, Sheet]:
        """Return the sheets that the rig uses, each read once."""
        files = SheetFiles(self.folder)
        sheets: dict[str, Sheet] = {}
        for name, where in self.sheet_uses.items():
            path = files.path(name)
            if path is None:
                self.errors.append(UnknownName(where, "sheet", name, files.names))
                continue
            self.sheet_paths.append(path)
            try:
                sheet, errors = read_sheet(files.text(name), files.file(name), name)
            except RigError as error:
                self.errors.append(error)
                continue
            self.errors.extend(errors)
            if sheet is not None:
                sheets[name] = sheet
        return sheets


def shaped(text: str, file: str, sort: str) -> tuple[Node | None, Report]:
    """Return what a text holds, None when nothing can be made of it, and what is wrong with it.

    Raises `RigError` when it is not TOML, or of a format that is none of ours.
    """
    raw, lines = parse_toml(text, file)
    raw = require_format(raw, sort, lines)
    report = Report(lines)
    node = read_table(FILES[sort], raw, report)
    if node is BROKEN:
        node = without_needed_keys(sort, raw, lines)
    return node, report


def without_needed_keys(sort: str, raw: dict[str, Any], lines: Lines) -> Node | None:
    """Return the file again with its missing or wrong name put right, so that the rest of it can be checked."""
    names = {"rig": "name", "sheet": "title"}
    if sort not in names:
        return None
    again = read_table(FILES[sort], {**raw, names[sort]: "nameless"}, Report(lines))
    return again if again is not BROKEN else None


@lru_cache(maxsize=SHEETS_KEPT)
def read_sheet(text: str, file: str, name: str) -> tuple[Sheet | None, tuple[RigError, ...]]:
    """Return the sheet of a text, None where anything is wrong with it, and all that is. The same text is read once.

    Raises `RigError` when it is not TOML, or of a format that is none of ours.
    """
    node, report = shaped(text, file, "sheet")
    if node is None:
        return None, tuple(report.errors)
    sheet = build_sheet(node, report, name)
    return (None if report.count else sheet), tuple(report.errors)


def things_of(rig: Rig) -> tuple[Mounted | Outside, ...]:
    """Return everything in the rig that has a sheet."""
    return (*rig.modules, *rig.outside)


def sure_part(project: Project, *, are_names_sure: bool) -> Project:
    """Return the project without the modules whose sheets failed, and without all that refers to them.

    Where a module itself may have been lost to an error, whatever refers to an unknown module goes too.
    """
    rig = project.rig
    known = {thing.id for thing in things_of(rig) if thing.sheet in project.sheets}
    lost = set(rig.sheet_names) - known

    def is_sure(*names: str) -> bool:
        modules = {name.partition(".")[0] for name in names}
        return not modules & lost and (are_names_sure or modules <= known)

    patch, setlist = project.patch, project.setlist
    return replace(
        project,
        rig=replace(
            rig,
            modules=tuple(m for m in rig.modules if m.id in known),
            outside=tuple(o for o in rig.outside if o.id in known),
        ),
        patch=replace(
            patch,
            cables=tuple(c for c in patch.cables if is_sure(c.source, c.target)),
            settings=tuple(s for s in patch.settings if is_sure(s.control)),
            rhythms=tuple(r for r in patch.rhythms if is_sure(r.slot)),
            samples=tuple(s for s in patch.samples if is_sure(s.slot)),
            maps=tuple(m for m in patch.maps if is_sure(m.control, *m.to)),
        ),
        setlist=setlist
        and replace(
            setlist,
            sections=tuple(
                replace(
                    passage,
                    settings=tuple(s for s in passage.settings if is_sure(s.control)),
                    moves=tuple(m for m in passage.moves if is_sure(m.control)),
                )
                for passage in setlist.sections
            ),
        ),
    )
