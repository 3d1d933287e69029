"""A new name follows into every file of a project, in every spelling, and every comment stays."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

import rigproof.demo
from rigproof.files.apply_edits import written
from rigproof.files.load import load_project
from rigproof.model.rig_edits import RenameModule
from rigproof.net.flatten import flatten
from tests.files.test_apply_edits import placeless, project_in
from tests.library.test_host import INSIDE, PATCH, RIG

DEMO = Path(rigproof.demo.__file__).parent / "lowtide"


def rename(folder: Path, old: str, new: str) -> None:
    """Rename on the disk, and hold what is loaded then to what the model says."""
    loaded = load_project(folder)
    edit = RenameModule(old, new)
    wanted = placeless(edit.apply(loaded.require_project()))
    for path, (_, text) in written(loaded, [edit]).items():
        path.write_text(text, "utf-8")
    assert project_in(folder) == wanted


def comments(folder: Path) -> list[str]:
    texts = [p.read_text("utf-8") for p in sorted(folder.glob("*.toml"))]
    return sorted(c for text in texts for c in re.findall(r"#.*", text))


def names_left(folder: Path, name: str) -> list[str]:
    """The lines, comments left out, in which a name still stands by itself."""
    pattern = re.compile(rf'(?<![\w./-]){re.escape(name)}(?=[./"]|$)')
    return [
        line
        for path in sorted(folder.glob("*.toml"))
        for line in path.read_text("utf-8").splitlines()
        if pattern.search(line.partition("#")[0]) and ".toml" not in line and "sheet" not in line
    ]


@pytest.mark.parametrize("module", ["clock", "mult", "bridge", "vcas", "faders", "desk"])
def test_every_module_of_the_demo_can_be_called_something_else(tmp_path: Path, module: str) -> None:
    folder = tmp_path / "lowtide"
    folder.mkdir()
    for path in DEMO.glob("*.toml"):
        shutil.copy(path, folder)
    shutil.copytree(DEMO / "samples", folder / "samples")
    before = comments(folder)
    assert names_left(folder, module)
    rename(folder, module, "other-one")
    assert names_left(folder, module) == []
    assert comments(folder) == before
    flatten(load_project(folder).require_project())
    rename(folder, "other-one", module)
    for path in DEMO.glob("*.toml"):
        assert (folder / path.name).read_text("utf-8") == path.read_text("utf-8")


@pytest.mark.parametrize("module", ["mill", "knobs", "chord"])
def test_a_host_and_what_plays_it(tmp_path: Path, module: str) -> None:
    head, brace, rest = PATCH.partition("[[map]]")
    settings = '[settings]\n"chord.tune" = "220 Hz"  # low\n"mill/dull.depth" = 0.5  # inside\n'
    inside_map = '[[map]]\ncontrol = "knobs.k2"\ncc = 41\nto = "dull.cutoff-cc"  # from outside\n'
    for name, text in {
        "rig.toml": RIG,
        "host.patch.toml": f"{head}{settings}{brace}{rest}",
        "mill.inside.toml": INSIDE + inside_map,
    }.items():
        (tmp_path / name).write_text(text, "utf-8")
    before = comments(tmp_path)
    flatten(load_project(tmp_path).require_project())
    rename(tmp_path, module, "other")
    assert names_left(tmp_path, module) == []
    assert comments(tmp_path) == before
    flatten(load_project(tmp_path).require_project())


@pytest.mark.parametrize(
    "settings",
    [
        "[settings]\nchord.tune = 1  # a\nchord.drift = 2\nmill.level-1 = 3\nchord.shape = 4  # b\n",
        '[settings]\n"chord.tune" = 1  # a\nmill.level-1 = 3\nchord.drift = 2\n"chord.shape" = 4\n',
        "[settings.chord]\ntune = 1  # a\ndrift = 2\n[settings.mill]\nlevel-1 = 3\n",
        'settings = { "chord.tune" = 1, mill.level-1 = 2, chord.drift = 3 }  # a\n',
    ],
)
def test_every_spelling_of_settings(tmp_path: Path, settings: str) -> None:
    """Names of controls that no sheet has load too: only the net asks whether they exist."""
    (tmp_path / "rig.toml").write_text(RIG, "utf-8")
    (tmp_path / "it.patch.toml").write_text(f"format = 1\n{settings}", "utf-8")
    before = comments(tmp_path)
    rename(tmp_path, "chord", "other")
    assert comments(tmp_path) == before
    assert "chord" not in (tmp_path / "it.patch.toml").read_text("utf-8")
