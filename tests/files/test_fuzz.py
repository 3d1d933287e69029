"""Any spoilt copy of a good project is loaded or refused in words; nothing else ever comes out."""

import random
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigproof.errors import RigError, RigErrors
from rigproof.files.load import load_project
from rigproof.net.flatten import flatten
from tests.files.projects import PATCH, SET, TIDEPOOL, copy_tidepool

FILES = ("rig.toml", PATCH, SET, "modules/drift.toml", "modules/quiet-mixer.toml")
ODD: list[Any] = [
    0,
    -1,
    2**62,
    1e308,
    float("nan"),
    float("inf"),
    "",
    "x",
    "\x1b[2J",
    "drift.in",
    "1e400 s",
    "..",
    True,
    [],
    [[]],
    {},
    {"a": {"b": [1]}},
    [{"from": 1}],
    "é" * 3000,
    "\u202e",
]
PIECES = [
    b"",
    b"[",
    b"]",
    b"=",
    b'"',
    b"'",
    b"\n",
    b"\xff",
    b"\0",
    b"#",
    b"{}",
    b"[[x]]\n",
    b"1e999",
]


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_tidepool(tmp_path_factory.mktemp("fuzz"))


def restore(project: Path) -> None:
    for name in FILES:
        (project / name).write_bytes((TIDEPOOL / name).read_bytes())


def require_words(project: Path) -> bool:
    """Load, and check that what comes out is a project or errors; say whether it was a project."""
    loaded = load_project(project)
    assert (loaded.project is None) == bool(loaded.errors)
    for error in loaded.errors:
        assert isinstance(error, RigError)
        assert error.where.file
        assert str(error).isprintable() or "\n" in str(error)
        assert "\x1b" not in str(error)
        assert "\u202e" not in str(error)
    told = ""
    if loaded.partial is not None:
        try:
            flatten(loaded.partial)
        except RigErrors as errors:
            told = str(errors)
    assert "\x1b" not in told
    return loaded.project is not None


FEW = settings(max_examples=50, suppress_health_check=[HealthCheck.too_slow])
MANY = settings(FEW, max_examples=600)
SPOILINGS = {
    "file": st.sampled_from(FILES),
    "seed": st.integers(0, 2**32),
    "count": st.integers(1, 4),
}


def meet_spoilt_bytes(project: Path, file: str, seed: int, count: int) -> None:
    restore(project)
    dice = random.Random(seed)
    data = bytearray((project / file).read_bytes())
    for _ in range(count):
        at = dice.randrange(len(data) + 1)
        data[at : at + dice.choice((0, 1, 1, 5, 40))] = dice.choice(PIECES)
    (project / file).write_bytes(data)
    require_words(project)


def spoil_value(thing: Any, dice: random.Random) -> None:
    """Replace, drop, double or rename something at some depth."""
    while True:
        keys = list(range(len(thing))) if isinstance(thing, list) else list(thing)
        if not keys:
            return
        key = dice.choice(keys)
        if isinstance(thing[key], dict | list) and dice.random() < 0.7:
            thing = thing[key]
            continue
        match dice.randrange(4):
            case 0:
                del thing[key]
            case 1 if isinstance(thing, dict):
                thing[f"{key}x"] = thing.pop(key)
            case 2 if isinstance(thing, list):
                thing.append(thing[key])
            case _:
                thing[key] = dice.choice(ODD)
        return


def meet_spoilt_values(project: Path, file: str, seed: int, count: int) -> None:
    restore(project)
    dice = random.Random(seed)
    data = tomlkit.parse((project / file).read_text("utf-8")).unwrap()
    for _ in range(count):
        spoil_value(data, dice)
    (project / file).write_text(tomlkit.dumps(data), "utf-8")
    require_words(project)


@FEW
@given(**SPOILINGS)
def test_spoilt_bytes_are_met_with_words(project: Path, file: str, seed: int, count: int) -> None:
    meet_spoilt_bytes(project, file, seed, count)


@FEW
@given(**SPOILINGS)
def test_spoilt_values_are_met_with_words(project: Path, file: str, seed: int, count: int) -> None:
    meet_spoilt_values(project, file, seed, count)


@pytest.mark.slow
@MANY
@given(**SPOILINGS)
def test_many_spoilt_files_are_met_with_words(
    project: Path, file: str, seed: int, count: int
) -> None:
    meet_spoilt_bytes(project, file, seed, count)
    meet_spoilt_values(project, file, seed + 1, count)


def test_the_unspoilt_project_is_good(project: Path) -> None:
    """So that the tests above start from something that loads."""
    restore(project)
    assert require_words(project)
