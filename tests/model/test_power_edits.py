"""Edits of supply, boards and ribbons change what they name and nothing else."""

from __future__ import annotations

import pytest

from rigproof.errors import UnknownName
from rigproof.model.edits import (
    Edit,
    HangOnBoard,
    RemoveModule,
    SetBoardLead,
    SetRibbon,
    SetSurge,
    apply_edits,
)
from rigproof.model.patch import Patch
from rigproof.model.project import Project
from rigproof.model.rig import Board, Mounted, Rig, Supply

BOARDS = (Board("upper", ("a", "b"), 40.0, 0.5), Board("lower", ("c",)))
RIG = Rig(
    "tiny",
    supply=Supply({"+12V": 1000.0}, boards=BOARDS),
    modules=tuple(Mounted(m, "sheet", 1, hp) for hp, m in enumerate("abc")),
)
PROJECT = Project(RIG, Patch("tiny"), {})


def boards(project: Project) -> dict[str, tuple[str, ...]]:
    assert project.rig.supply is not None
    return {b.id: b.modules for b in project.rig.supply.boards}


def test_a_module_hangs_on_one_board() -> None:
    after = apply_edits(PROJECT, [HangOnBoard("b", "lower")])
    assert boards(after) == {"upper": ("a",), "lower": ("c", "b")}
    assert boards(PROJECT) == {"upper": ("a", "b"), "lower": ("c",)}


def test_what_is_taken_out_leaves_its_board() -> None:
    assert boards(apply_edits(PROJECT, [RemoveModule("a")]))["upper"] == ("b",)


def test_lead_ribbon_and_surge() -> None:
    edits: list[Edit] = [
        SetBoardLead("upper", 1.5),
        SetRibbon("a", "16-way"),
        SetSurge("+12V", 4000.0),
    ]
    after = apply_edits(PROJECT, edits)
    assert after.rig.supply is not None
    assert after.rig.supply.boards[0].mm2 == 1.5
    assert after.rig.supply.boards[1] == BOARDS[1]
    assert after.rig.supply.surge_ma == {"+12V": 4000.0}
    assert [m.ribbon for m in after.rig.modules] == ["16-way", None, None]
    assert all(edit.words and not edit.words.endswith(".") for edit in edits)


@pytest.mark.parametrize(
    "edit",
    [HangOnBoard("z", "upper"), HangOnBoard("a", "z"), SetBoardLead("z", 1.0), SetRibbon("z", "")],
)
def test_what_is_not_there_is_refused(edit: HangOnBoard | SetBoardLead | SetRibbon) -> None:
    with pytest.raises(UnknownName):
        edit.apply(PROJECT)
