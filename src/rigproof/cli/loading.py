"""From a path on the command line to a net, or to every error that stands in between, all at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from rigproof.errors import RigError, RigErrors
from rigproof.files.load import Loaded, load_project
from rigproof.model.project import Project
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net

Texts = Mapping[Path, tuple[str, str]]
"""Files that say something else: the text before and after."""
RATE_HZ = 48_000.0
"""Sample rate of a net where nobody asks for another. [Hz]"""


@dataclass(frozen=True, slots=True)
class Opened:
    """A project that loads, and its net."""

    project: Project
    net: Net
    folder: Path
    patch_path: Path | None
    loaded: Loaded
    """The files behind it."""


def open_project(
    path: Path | None, *, rate_hz: float = RATE_HZ, instead: Texts | None = None
) -> Opened:
    """Load the project folder or patch file at `path`, the current folder by default.

    `instead` are files that are taken to say something else: the text before and after.

    Raises `RigErrors` with all that is wrong with the files and with the names in them.
    """
    texts = None if instead is None else {file: after for file, (_, after) in instead.items()}
    loaded = load_project(Path() if path is None else path, instead=texts)
    errors: list[RigError] = list(loaded.errors)
    net: Net | None = None
    if loaded.partial is not None:
        try:
            net = flatten(loaded.partial, rate_hz=rate_hz)
        except RigErrors as wrong:
            said = {(e.where, e.problem) for e in errors}
            errors += [e for e in wrong.errors if (e.where, e.problem) not in said]
    if errors or loaded.project is None or net is None:
        raise RigErrors(errors)
    return Opened(loaded.project, net, loaded.folder, loaded.patch_path, loaded)
