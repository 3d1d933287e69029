"""Edits: pure, exact about what they name, and said in words."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.errors import RigError, UnknownName
from rigproof.model.edits import (
    AddCable,
    Decline,
    Edit,
    FreeMoveStart,
    GlideSetting,
    MoveModule,
    RemoveCable,
    RemoveMap,
    RemoveModule,
    Replug,
    SetCableLead,
    SetCableLength,
    SetControl,
    SetMap,
    SetMoveHand,
    SetMoveLength,
    SetRail,
    SetRhythm,
    apply_edits,
    used_modules,
)
from rigproof.model.patch import Cable, Declined, Filling, Map, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig, Supply
from rigproof.model.setlist import Move, Passage, Setlist

PROJECT = Project(
    Rig(
        "r",
        supply=Supply({"+12V": 1000.0}),
        modules=(Mounted("a", "box", 1, 0), Mounted("b", "box", 1, 8), Mounted("c", "box", 1, 16)),
    ),
    Patch(
        "p",
        cables=(
            Cable("a.out", "b.in", colour="teal", cm=30),
            Cable("a.out", "b.in", colour="sand", cm=45),
            Cable("b.out", "a.in"),
        ),
        settings=(Settings("a.gain", 0.5),),
        rhythms=(Filling("b.track", {"steps": "x..."}),),
        maps=(Map("a.knob", 20, 1, ("b.cc",)), Map("a.knob", 21, 1)),
    ),
    setlist=Setlist(
        "s",
        sections=(
            Passage(
                "low",
                settings=(Settings("b.tone", 0.3),),
                moves=(Move("a.gain", 1.0, beats=4.0, start=0.2),),
            ),
        ),
    ),
)
EACH: list[tuple[Edit, Callable[[Project], object], object]] = [
    (AddCable(Cable("b.out", "c.in")), lambda p: p.patch.cables[-1].target, "c.in"),
    (RemoveCable("a.out", "b.in"), lambda p: [c.colour for c in p.patch.cables], ["sand", ""]),
    (RemoveCable("a.out", "b.in", 1), lambda p: [c.colour for c in p.patch.cables], ["teal", ""]),
    (
        Replug("a.out", "b.in", "a.out", "c.in", 1),
        lambda p: p.patch.cables[1],
        Cable("a.out", "c.in", colour="sand", cm=45),
    ),
    (
        SetCableLength("a.out", "b.in", 60, 1),
        lambda p: [c.cm for c in p.patch.cables],
        [30, 60, None],
    ),
    (SetCableLead("b.out", "a.in", "stereo-3.5"), lambda p: p.patch.cables[2].lead, "stereo-3.5"),
    (SetCableLength("a.out", "b.in", None), lambda p: p.patch.cables[0].cm, None),
    (SetCableLead("b.out", "a.in", None), lambda p: p.patch.cables[2].lead, None),
    (SetControl("a.gain", "50 %"), lambda p: p.patch.settings, (Settings("a.gain", "50 %"),)),
    (SetControl("b.tone", 0.1), lambda p: p.patch.settings[1:], (Settings("b.tone", 0.1),)),
    (
        SetRhythm("b.track", "rotate", 2),
        lambda p: p.patch.rhythms[0].values,
        {"steps": "x...", "rotate": 2},
    ),
    (SetRhythm("c.track", "steps", "x"), lambda p: p.patch.rhythms[1].slot, "c.track"),
    (SetMap("a.knob", 30, 2, 1), lambda p: [m.cc for m in p.patch.maps], [20, 30]),
    (SetMap("a.knob", 30), lambda p: p.patch.maps[0], Map("a.knob", 30, 1, ("b.cc",))),
    (RemoveMap("a.knob"), lambda p: [m.cc for m in p.patch.maps], [21]),
    (
        Decline("cable-taut", "here", "meant so"),
        lambda p: p.patch.declined,
        (Declined("cable-taut", "here", "meant so"),),
    ),
    (MoveModule("b", 2, 4), lambda p: p.rig.modules[1], Mounted("b", "box", 2, 4)),
    (RemoveModule("c"), lambda p: [m.id for m in p.rig.modules], ["a", "b"]),
    (
        SetRail("-12V", 500.0),
        lambda p: p.rig.supply,
        Supply({"+12V": 1000.0, "-12V": 500.0}),
    ),
    (
        SetMoveLength("low", 0, 8.0),
        lambda p: p.setlist and p.setlist.sections[0].moves[0].beats,
        8.0,
    ),
]
EACH += [
    (
        SetMoveHand("low", 0, "left"),
        lambda p: p.setlist and p.setlist.sections[0].moves[0].hand,
        "left",
    ),
    (
        FreeMoveStart("low", 0),
        lambda p: p.setlist and p.setlist.sections[0].moves[0].start,
        None,
    ),
    (
        GlideSetting("low", "b.tone", 2.0, "left"),
        lambda p: p.setlist and (p.setlist.sections[0].settings, p.setlist.sections[0].moves[-1]),
        ((), Move("b.tone", 0.3, beats=2.0, hand="left")),
    ),
]
NOWHERE: list[Edit] = [
    SetMoveHand("high", 0, "left"),
    FreeMoveStart("low", 1),
    GlideSetting("low", "a.gain", 1.0),
    RemoveCable("a.out", "c.in"),
    RemoveCable("a.out", "b.in", 2),
    SetCableLength("b.in", "a.out", 30),
    SetMap("b.knob", 3),
    RemoveMap("a.knob", 2),
    MoveModule("d", 1, 0),
    RemoveModule("d"),
    SetMoveLength("high", 0, 1.0),
    SetMoveLength("low", 1, 1.0),
]


@pytest.mark.parametrize(("edit", "look", "expected"), EACH, ids=lambda x: type(x).__name__)
def test_it_changes_what_it_names(
    edit: Edit, look: Callable[[Project], object], expected: object
) -> None:
    before = repr(PROJECT)
    assert look(apply_edits(PROJECT, [edit])) == expected
    assert repr(PROJECT) == before


@pytest.mark.parametrize("edit", [edit for edit, _, _ in EACH], ids=lambda e: type(e).__name__)
def test_it_says_what_a_hand_would_do(edit: Edit) -> None:
    assert edit.words[0].islower()
    assert not edit.words.endswith(".")


@pytest.mark.parametrize("edit", NOWHERE, ids=lambda e: type(e).__name__)
def test_it_refuses_what_is_not_there(edit: Edit) -> None:
    with pytest.raises(UnknownName):
        apply_edits(PROJECT, [edit])


def test_a_module_in_use_stays() -> None:
    assert used_modules(PROJECT) == {"a", "b"}
    with pytest.raises(RigError, match="still use 'b'"):
        apply_edits(PROJECT, [RemoveModule("b")])


def test_edits_follow_one_another() -> None:
    both = [RemoveCable("a.out", "b.in", 1), RemoveCable("a.out", "b.in")]
    assert [c.source for c in apply_edits(PROJECT, both).patch.cables] == ["b.out"]


def test_a_rig_without_supply_gets_one() -> None:
    bare = Project(Rig("r"), Patch("p"))
    assert apply_edits(bare, [SetRail("+5V", 500.0)]).rig.supply == Supply({"+5V": 500.0})
