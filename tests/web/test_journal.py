"""A crash between two files of one change leaves both or neither."""

import json
from pathlib import Path
from typing import Any

import pytest

from rigproof.files.load import load_project
from rigproof.web.api.commands import read_command
from rigproof.web.api.journal import NOTE, finish
from rigproof.web.api.session import Session

BOTH = [
    read_command({"do": "set-control", "control": "voice.tune", "value": "500 Hz"}),
    read_command({"do": "set-rail", "rail": "+12V", "ma": 900}),
]


class Crash(BaseException):
    """The power goes."""


def texts(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.toml")}


@pytest.fixture
def halfway(bench: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which the first of two files has been written."""
    session, put = Session(bench), Session._put
    count = 0

    def crash(self: Session, name: str, data: Any) -> None:
        nonlocal count
        count += 1
        if count == 2:
            raise Crash
        put(self, name, data)

    monkeypatch.setattr(Session, "_put", crash)
    with pytest.raises(Crash):
        session.edit(BOTH, by="a", revision=0)
    monkeypatch.undo()
    return bench


def test_the_next_to_open_the_folder_finishes_the_change(halfway: Path) -> None:
    project = load_project(halfway).require_project()
    assert project.rig.supply is not None
    half = (project.rig.supply.rails_ma["+12V"], project.patch.settings[0].value)
    assert half in [(900.0, "1 kHz"), (500.0, "500 Hz")]
    session = Session(halfway)
    project = session.state.loaded.require_project()
    assert project.rig.supply is not None
    assert (project.rig.supply.rails_ma["+12V"], project.patch.settings[0].value) == (900, "500 Hz")
    assert not (halfway / NOTE).exists()


def test_what_somebody_wrote_meanwhile_stays(halfway: Path) -> None:
    for path in halfway.glob("*.toml"):
        path.write_text(path.read_text("utf-8") + "# theirs\n", "utf-8")
    before = texts(halfway)
    assert finish(halfway) == []
    assert texts(halfway) == before
    assert not (halfway / NOTE).exists()


def test_a_change_that_went_well_leaves_no_note(bench: Path) -> None:
    Session(bench).edit(BOTH, by="a", revision=0)
    assert not (bench / NOTE).exists()
    assert not [path for path in bench.rglob("*") if path.name.startswith(".")]


@pytest.mark.parametrize(
    "note",
    [
        "{", "[]", "3", '{"rig.toml": 3}', '{"rig.toml": {}}',
        json.dumps({"../away.toml": {"before": None, "after": "eA=="}}),
        json.dumps({"modules/../../away.toml": {"before": None, "after": "eA=="}}),
        json.dumps({"/away.toml": {"before": None, "after": "eA=="}}),
        json.dumps({"run.sh": {"before": None, "after": "eA=="}}),
        json.dumps({"new.toml": {"before": None, "after": "!"}}),
    ],
)  # fmt: skip
def test_a_note_that_is_none_of_ours_writes_nothing(bench: Path, note: str) -> None:
    (bench / NOTE).write_text(note, "utf-8")
    before = {p: p.read_bytes() for p in bench.parent.rglob("*.*") if p.name != NOTE}
    assert finish(bench) == []
    after = {p: p.read_bytes() for p in bench.parent.rglob("*.*")}
    assert after == before
