"""Fit findings against HP of 5.08 mm (IEC 60297-3-101) and counting by hand."""

from __future__ import annotations

import pytest

from rigproof.model.edits import MoveModule
from rigproof.model.rig import Row
from tests.checks.ask import findings, only
from tests.checks.cases import hanging, placed


def test_overlap_in_hp_and_mm() -> None:
    found = only("modules-overlap", placed((1, 0), (1, 7)))
    assert found.at == "box-1 and box-2"
    assert found.evidence == {"overlap_hp": 1, "overlap_mm": pytest.approx(5.08), "from_hp": 7}


def test_the_gap_is_in_the_own_row_first() -> None:
    found = only("modules-overlap", placed((1, 0), (1, 7)))
    assert found.fix is not None
    assert found.fix.edits == (MoveModule("box-2", 1, 8),)


def test_the_gap_is_in_the_other_row_when_the_own_is_full() -> None:
    found = only("modules-overlap", placed((1, 0), (1, 8), (1, 12)))
    assert found.fix is not None
    assert found.fix.edits == (MoveModule("box-3", 2, 0),)


def test_a_gap_of_seven_hp_holds_no_module_of_eight() -> None:
    """Left of HP 7 and right of 15 there are 7 and 5 HP; the row below is too shallow."""
    found = only(
        "modules-overlap",
        placed((1, 7), (1, 7), depth_mm=28.0, rows=(Row(20, 30.0), Row(20, 27.0))),
    )
    assert found.fix is None


def test_same_hp_in_unlike_rows_is_no_overlap() -> None:
    assert not findings("modules-overlap", placed((1, 0), (2, 0)))


@pytest.mark.parametrize(("hp", "over"), [(13, 1), (20, 8), (-1, 1)])
def test_how_far_past_the_end(hp: int, over: int) -> None:
    found = only("module-past-row-end", placed((1, hp)))
    assert found.at == "box-1"
    assert found.evidence["over_hp"] == over


def test_too_deep_by_half_a_millimetre() -> None:
    found = only("module-too-deep", placed((1, 0), depth_mm=30.5))
    assert found.evidence == {"depth_mm": 30.5, "row_depth_mm": 30.0, "over_mm": 0.5}
    assert found.fix is not None
    assert found.fix.edits == (MoveModule("box-1", 2, 0),)


def test_no_row_is_deep_enough() -> None:
    assert only("module-too-deep", placed((1, 0), depth_mm=51.0)).fix is None


@pytest.mark.parametrize("row", [0, 3])
def test_rows_count_from_one(row: int) -> None:
    found = only("row-missing", placed((row, 0)))
    assert found.evidence == {"row": row, "rows": 2}


def test_a_case_without_rows_is_not_judged() -> None:
    assert not findings("row-missing", placed((3, 0), rows=()))


def test_upside_down_keeps_its_place_when_put_right() -> None:
    found = only("panel-upside-down", hanging(True))
    assert found.fix is not None
    assert found.fix.edits == (MoveModule("box", 1, 0),)
