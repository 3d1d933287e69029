"""Fit findings against HP of 5.08 mm (IEC 60297-3-101) and counting by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rigproof.model.edits import MoveModule, SetCableLength, apply_edits
from rigproof.model.panel import hanging_mm, path_mm
from rigproof.model.rig import CableStock, Row
from rigproof.model.sheet import Control
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import curtained, hanging, placed, screened


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


def test_what_hangs_across_what_when_turned() -> None:
    """Jack at the bottom, one knob above it, one beside: turned, the cable hangs down across the first only."""
    turned = rigs.sheet(
        "turned",
        [rigs.jack_out("out", "mix.out", at_mm=(10.0, 110.0))],
        {"mix": ("mixer", {"ways": 1})},
        controls=[
            Control("above", sets=("mix.gain-1",), at_mm=(12.0, 30.0), size_mm=10.0),
            Control("beside", sets=("mix.master",), at_mm=(30.0, 30.0), size_mm=10.0),
        ],
    )
    sheets = {"turned": turned, "mix": rigs.mixer()}
    project = rigs.project(sheets, [("turned.out", "mix.in-1")], turned=["turned"])
    found = only("panel-upside-down", project)
    assert found.evidence["controls"] == 1
    assert "hang across above." in found.message


def test_the_middle_of_a_turned_screen() -> None:
    """Its middle is 20 mm from the left and 17.5 mm from the top; turned on 8 HP of 5.08 mm and 128.5 mm of height it
    is 40.64 - 20 and 128.5 - 17.5 mm."""
    found = only("screen-upside-down", screened(True))
    assert found.evidence["from_left_mm"] == pytest.approx(20.64)
    assert found.evidence["from_top_mm"] == pytest.approx(111.0)


@pytest.mark.parametrize(("span_mm", "length_mm"), [(160.0, 165.0), (160.0, 300.0), (40.0, 600.0)])
def test_a_hanging_cable_is_as_long_as_its_parabola(span_mm: float, length_mm: float) -> None:
    """Closed form for a parabola of sag h over a level span d: sqrt(d2 + 16 h2)/2 + d2/(8h) asinh(4h/d). Twelve
    straight pieces are a little shorter, hence 1 %."""
    points = hanging_mm((0.0, 0.0), (span_mm, 0.0), length_mm)
    h = points[6][1]
    closed = 0.5 * math.hypot(span_mm, 4 * h) + span_mm**2 / (8 * h) * math.asinh(4 * h / span_mm)
    assert closed == pytest.approx(length_mm, rel=0.01)
    assert path_mm(points) == pytest.approx(length_mm, rel=1e-4)


def test_a_short_cable_is_straight() -> None:
    points = hanging_mm((0.0, 0.0), (120.0, 0.0), 100.0)
    assert [y for _, y in points] == pytest.approx([0.0] * 13, abs=1e-3)


def test_a_curtain_is_measured_and_shortened() -> None:
    """Over 162.56 mm a cable of 30 cm sags 118.5 mm, to 128.5 mm; the knob at 115 mm is 13.5 mm from it. With 20 % to
    spare 19.5 cm are needed, and no usual length lies between 19.5 and 30 cm; 45 cm hang clear, but farther down."""
    found = only("control-under-cables", curtained(7))
    assert found.at == "middle.knob"
    assert found.evidence["reach_mm"] == 18.0
    assert found.evidence["nearest_mm"] == pytest.approx(13.5, abs=0.5)
    assert found.fix is None


def test_one_shorter_cable_opens_the_curtain() -> None:
    """Of 20 and 30 cm in the box one 20 cm cable is free: it sags far less, and six are no curtain."""
    stock = (CableStock("mono-3.5", 30, 7), CableStock("mono-3.5", 20, 1))
    project = curtained(7, stock=stock)
    found = only("control-under-cables", project)
    assert found.fix is not None
    assert found.fix.edits == (SetCableLength("left.out-1", "right.in-1", 20),)
    assert not findings("control-under-cables", apply_edits(project, found.fix.edits))


def test_what_no_hand_moves_is_not_judged() -> None:
    assert not findings("control-under-cables", replace(curtained(7), setlist=None))
