"""What is to be played: the whole set, a section, from a bar on; worked out by hand at 120 beats a minute."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rigproof.errors import RigError, UnknownName
from rigproof.files.load import load_project
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.net.stretch import heard_ears, rate_of, rows_of_jacks, stretch_of
from tests.cli.rigs import write_rig

BAR_S = 2.0
"""Four beats of half a second."""


@pytest.fixture
def net(tmp_path: Path) -> Net:
    return flatten(load_project(write_rig(tmp_path / "bench")).require_project(), rate_hz=44_100.0)


@pytest.mark.parametrize(
    ("asked", "start_s", "seconds", "title"),
    [
        ({}, 0.0, 4 * BAR_S, "Two halves"),
        ({"seconds": 3.0}, 0.0, 3.0, "Two halves"),
        ({"section": "loud"}, 2 * BAR_S, 2 * BAR_S, "Two halves, The loud half"),
        ({"from_bar": 4}, 3 * BAR_S, BAR_S, "Two halves, from bar 4"),
        (
            {"section": "loud", "from_bar": 2},
            3 * BAR_S,
            BAR_S,
            "Two halves, The loud half, from bar 2",
        ),
    ],
)
def test_a_stretch(
    net: Net, asked: dict[str, object], start_s: float, seconds: float, title: str
) -> None:
    found = stretch_of(net, **asked)  # type: ignore[arg-type]
    assert (found.start_s, found.seconds, found.title) == (start_s, seconds, title)


def test_what_is_not_there(net: Net) -> None:
    with pytest.raises(UnknownName) as wrong:
        stretch_of(net, section="lowd")
    assert wrong.value.nearest == "loud"
    with pytest.raises(RigError) as bar:
        stretch_of(net, from_bar=5)
    assert (bar.value.found, bar.value.expected) == ("5", "1 to 4")


def test_without_a_set(net: Net) -> None:
    bare = flatten(replace(net.project, setlist=None))
    assert stretch_of(bare).seconds == 60.0
    assert stretch_of(bare, seconds=2.0).seconds == 2.0
    with pytest.raises(RigError):
        stretch_of(bare, section="loud")


def test_where_it_is_heard(net: Net) -> None:
    assert rate_of(net) == 44_100.0
    assert [ear.name for ear in heard_ears(net)] == ["desk.left", "desk.right"]
    rows = rows_of_jacks(net)
    assert set(rows) == {
        "time.run", "time.beat", "time.bar", "voice.pitch", "voice.sine", "voice.saw", "desk.left", "desk.right",
    }  # fmt: skip
    assert rows["voice.sine"] == (net.contact("voice.sine").row,)
