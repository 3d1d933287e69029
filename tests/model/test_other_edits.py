"""Edits of rig, patch and set that name what is not there, or would leave something hanging, are refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigproof.errors import RigError
from rigproof.model import patch_edits, rig_edits, set_edits
from rigproof.model.edits import Decline, Edit
from rigproof.model.patch import Cable, Declined, InsideFile, Map, Patch, Settings
from rigproof.model.project import Inside, Project
from rigproof.model.rig import Board, Mounted, Outside, Rig, Row, Supply
from rigproof.model.setlist import Passage, Setlist

PROJECT = Project(
    Rig(
        "r",
        rows=(Row(84, 50.0), Row(84, 50.0), Row(84, 50.0)),
        supply=Supply({"+12V": 1000.0}, boards=(Board("left", ("osc",)),)),
        modules=(Mounted("osc", "box", 1, 0), Mounted("osc-2", "box", 3, 0)),
        outside=(Outside("faders", "box"),),
    ),
    Patch(
        "p",
        cables=(Cable("osc.out", "osc-2.in"),),
        settings=(Settings("osc.gain", 1), Settings("osc/echo.mix", 0.5)),
        maps=(Map("faders.f1", 20, 1, ("osc.cc", "osc-2.cc")),),
        declined=(Declined("loud", "osc.out to osc-2.in", "so"), Declined("deep", "osc", "so")),
        insides=(InsideFile("osc", "osc.inside.toml"),),
    ),
    setlist=Setlist("s", sections=(Passage("a"), Passage("b"))),
    insides=(Inside("osc", (), Patch("i", maps=(Map("faders.f2", 30, 1, ("echo.cc",)),))),),
)


@pytest.mark.parametrize(
    "edit",
    [
        patch_edits.SetCableColour("osc.out", "osc-2.in", "red", nth=1),
        patch_edits.RemoveRhythm("osc.track"),
        patch_edits.SetMapTargets("faders.f9", ()),
        patch_edits.Undecline("loud", "elsewhere"),
        rig_edits.SetRow(4, 84, 50.0),
        rig_edits.SetRow(0, 84, 50.0),
        rig_edits.RemoveRow(1),
        rig_edits.RemoveRow(9),
        rig_edits.RemoveRail("-12V"),
        rig_edits.AddBoard("left"),
        rig_edits.RemoveBoard("right"),
        rig_edits.AddOutside("controller", "osc", "box"),
        rig_edits.AddOutside("module", "new", "box"),
        rig_edits.RemoveOutside("faders"),
        rig_edits.RemoveOutside("desk"),
        rig_edits.SetSheet("desk", "box"),
        rig_edits.SetStock("mono-3.5", 30, 0),
        rig_edits.RenameModule("osc", "osc-2"),
        rig_edits.RenameModule("desk", "way"),
        set_edits.AddPassage("a", 4),
        set_edits.AddPassage("c", 4, index=3),
        set_edits.SetPassage("c", 4),
        set_edits.RemovePassage("c"),
        set_edits.MovePassage("a", 2),
        set_edits.ForgetPassageControl("a", "osc.gain"),
        set_edits.SetMove("a", 0, "osc.gain", 1),
        set_edits.RemoveMove("a", 0),
    ],
    ids=lambda edit: edit.words,
)
def test_what_cannot_be_is_refused(edit: Edit) -> None:
    with pytest.raises(RigError):
        edit.apply(PROJECT)


@pytest.mark.parametrize(
    "edit",
    [set_edits.SetSetTempo(90.0), set_edits.SetBeatsPerBar(3), set_edits.AddPassage("c", 4)],
    ids=lambda edit: edit.words,
)
def test_there_is_no_set_to_change(edit: Edit) -> None:
    with pytest.raises(RigError):
        edit.apply(replace(PROJECT, setlist=None))


def test_a_new_name_is_followed_everywhere_and_by_nothing_else() -> None:
    """After it, the old name stands nowhere, and what merely begins like it is as it was."""
    after = rig_edits.RenameModule("osc", "low").apply(PROJECT)
    assert [m.id for m in after.rig.modules] == ["low", "osc-2"]
    assert after.rig.supply is not None
    assert after.rig.supply.boards[0].modules == ("low",)
    assert after.patch.cables[0] == Cable("low.out", "osc-2.in")
    assert [s.control for s in after.patch.settings] == ["low.gain", "low/echo.mix"]
    assert after.patch.maps[0].to == ("low.cc", "osc-2.cc")
    assert [d.at for d in after.patch.declined] == ["low.out to osc-2.in", "low"]
    assert (after.patch.insides[0].host, after.insides[0].host) == ("low", "low")
    assert rig_edits.RenameModule("low", "osc").apply(after) == PROJECT
    hands = rig_edits.RenameModule("faders", "palm").apply(PROJECT)
    assert hands.insides[0].patch.maps[0].control == "palm.f2"
    assert hands.patch.maps[0].control == "palm.f1"


def test_a_finding_declined_again_has_the_new_reason_and_no_second_entry() -> None:
    """What a finding stands for is said once: who declines it again says something else about the same."""
    again = Decline("deep", "osc", "it fits with the lid off").apply(PROJECT)
    assert [(d.finding, d.reason) for d in again.patch.declined] == [
        ("loud", "so"),
        ("deep", "it fits with the lid off"),
    ]


def test_rows_below_move_up() -> None:
    after = rig_edits.RemoveRow(2).apply(PROJECT)
    assert len(after.rig.rows) == 2
    assert [(m.id, m.row) for m in after.rig.modules] == [("osc", 1), ("osc-2", 2)]
