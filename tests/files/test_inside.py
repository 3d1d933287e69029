"""What runs inside a host, from its own file."""

from pathlib import Path

import pytest

from rigproof.errors import FileError, RigError, ShapeError, UnknownName
from rigproof.files.load import Loaded, load_project
from rigproof.model.sheet import UNLOADED_OHM
from rigproof.net.flatten import flatten

HOST = """\
format = 1
title = "Mill"
hp = 20
jacks.in = { signal = "audio", to = "into.in-1" }
jacks.out = { signal = "audio", from = "out-of.out" }
jacks.from-in = { signal = "audio", from = "into.out", inside = true }
jacks.to-out = { signal = "audio", to = "out-of.in-1", inside = true }
sections.into = { kind = "mixer", ways = 1 }
sections.out-of = { kind = "mixer", ways = 1 }
"""
PROGRAM = """\
format = 1
title = "Half"
housing = "program"
jacks.in = { signal = "audio", to = "mix.in-1" }
jacks.out = { signal = "audio", from = "mix.out" }
sections.mix = { kind = "mixer", ways = 1 }
controls.gain = { default = 0.5, sets = "mix.gain-1" }
"""
INSIDE = """\
format = 1
cables = [
  { from = "host.from-in", to = "half.in" },
  { from = "half.out", to = "host.to-out" },
]
[settings]
half.gain = 0.25
[[program]]
id = "half"
sheet = "half"
"""
PATCH = """\
format = 1
[inside]
mill = "mill.inside.toml"
"""
RIG = """\
format = 1
name = "Host"
[[module]]
id = "mill"
sheet = "mill"
row = 1
hp = 0
"""


def loaded(folder: Path, **changed: str) -> Loaded:
    """Write the project, with some of its files changed, and load it."""
    files = {
        "rig.toml": RIG,
        "it.patch.toml": PATCH,
        "mill.inside.toml": INSIDE,
        "modules/mill.toml": HOST,
        "modules/half.toml": PROGRAM,
    }
    (folder / "modules").mkdir()
    for name, text in files.items():
        (folder / name).write_text(
            changed.get(name.split("/")[-1].split(".")[0], text), encoding="utf-8"
        )
    return load_project(folder)


def test_a_host_and_its_inside_load(tmp_path: Path) -> None:
    found = loaded(tmp_path)
    assert found.errors == ()
    net = flatten(found.require_project())
    assert net.section("mill/half.mix").setting["gain-1"] == 0.25
    assert net.contact("mill/half.in").jack.resistance_ohm == UNLOADED_OHM
    assert net.contact("mill/half.out").jack.resistance_ohm == 0.0
    assert [p.name for p in found.paths if p.name.endswith(".inside.toml")] == ["mill.inside.toml"]


def error_in(found: Loaded) -> RigError:
    assert len(found.errors) == 1, [str(e) for e in found.errors]
    return found.errors[0]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    error = error_in(loaded(tmp_path, it=PATCH.replace("mill.inside", "mil.inside")))
    assert isinstance(error, FileError)
    assert (error.where.file, error.where.line, error.nearest) == (
        "it.patch.toml",
        3,
        "mill.inside.toml",
    )


@pytest.mark.parametrize(
    "path", ["../mill.inside.toml", "/etc/mill.inside.toml", "a/b.inside.toml"]
)
def test_a_file_elsewhere(tmp_path: Path, path: str) -> None:
    error = error_in(loaded(tmp_path, it=PATCH.replace("mill.inside.toml", path)))
    assert isinstance(error, ShapeError)
    assert error.where.line == 3


def test_an_id_twice_and_the_hosts_own(tmp_path: Path) -> None:
    more = (
        INSIDE
        + '[[program]]\nid = "half"\nsheet = "half"\n[[program]]\nid = "host"\nsheet = "half"\n'
    )
    found = loaded(tmp_path, mill_inside=more)
    (tmp_path / "mill.inside.toml").write_text(more, encoding="utf-8")
    found = load_project(tmp_path)
    assert [e.where.line for e in found.errors] == [12, 15]


def test_a_sheet_that_no_one_has(tmp_path: Path) -> None:
    loaded(tmp_path)
    (tmp_path / "mill.inside.toml").write_text(
        INSIDE.replace('sheet = "half"', 'sheet = "hafl"'), encoding="utf-8"
    )
    error = error_in(load_project(tmp_path))
    assert isinstance(error, UnknownName)
    assert (error.where.file, error.nearest) == ("mill.inside.toml", "half")


def test_a_connection_has_no_length(tmp_path: Path) -> None:
    loaded(tmp_path)
    longer = INSIDE.replace('to = "half.in"', 'to = "half.in", cm = 30')
    (tmp_path / "mill.inside.toml").write_text(longer, encoding="utf-8")
    error = error_in(load_project(tmp_path))
    assert (error.where.file, error.where.line) == ("mill.inside.toml", 3)
