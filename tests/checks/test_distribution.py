"""Distribution findings against Ohm's and Kirchhoff's laws by hand, and a handbook's figures for copper."""

from __future__ import annotations

import pytest

from rigproof.checks import CHECKS
from rigproof.checks.distribution import sags_v
from rigproof.model.edits import HangOnBoard, RemoveModule, SetBoardLead, SetRibbon
from rigproof.model.rig import Board, Supply, mm2_from_awg
from tests.checks import rigs
from tests.checks.ask import bench_of, findings, only
from tests.checks.cases import boarded, led, limited, surging


def test_a_silent_sheet_surges_three_times() -> None:
    """1701 mA as stated and 3 times 100 mA are 2001 mA. Three times: our choice; several times: common practice."""
    found = only("surge-too-high", surging(1701.0))
    assert found.evidence == {"surge_ma": 2001.0, "borne_ma": 2000.0, "over_ma": 1.0}
    assert found.fix is not None
    assert found.fix.edits == (RemoveModule("other"),)


def test_where_all_are_silent_only_an_overload_is_one() -> None:
    project = rigs.project(
        {"eater": rigs.sheet("eater", draw_ma={"+12V": 1000.0})}, supply=Supply({"+12V": 1000.0})
    )
    assert not findings("surge-too-high", project)


def test_what_a_silent_supply_bears() -> None:
    sheet = rigs.sheet("eater", draw_ma={"+12V": 500.0}, surge_ma={"+12V": 3100.0})
    project = rigs.project({"eater": sheet}, supply=Supply({"+12V": 1000.0}))
    assert only("surge-too-high", project).evidence["borne_ma"] == 3000.0


def test_the_module_that_frees_enough_goes_where_there_is_room() -> None:
    """501 mA on a board for 500; 201 of them fit the other board's 300 mA, and so would 300: the smaller goes."""
    found = only("board-overloaded", limited(201.0))
    assert found.at == "upper +12V"
    assert found.evidence == {"draw_ma": 501.0, "limit_ma": 500.0, "over_ma": 1.0}
    assert found.fix is not None
    assert found.fix.edits == (HangOnBoard("eater-2", "lower"),)


def test_no_board_has_room() -> None:
    assert only("board-overloaded", limited(301.0)).fix is not None  # the 300 mA one goes
    boards = (Board("upper", ("eater-1",), limit_ma={"+12V": 500.0}), Board("lower"))
    full = boarded(*boards, draws=({"+12V": 501.0},))
    assert only("board-overloaded", full).fix is not None  # a board that states no limit
    alone = boarded(boards[0], draws=({"+12V": 501.0},))
    assert only("board-overloaded", alone).fix is None


def test_a_metre_of_28_awg_there_and_back_at_one_ampere() -> None:
    """64.9 ohm a 1000 ft in the handbook (after Floyd, Electric Circuit Fundamentals), so 2 x 212.93 mV a metre; it
    gives three digits, hence 0.05 %."""
    found = only("board-lead-sags", led(100.0))
    assert found.evidence["sag_v"] == pytest.approx(2.0 * 64.9 / 304.8, rel=5e-4)
    assert found.evidence["ground_shift_v"] == pytest.approx(64.9 / 304.8, rel=5e-4)
    assert found.evidence["limit_v"] == pytest.approx(0.36)


def test_the_next_size_that_is_sold() -> None:
    """0.080976 mm2 times 425.84/360 are 0.0958 mm2; 0.14 is the next that is sold."""
    found = only("board-lead-sags", led(100.0))
    assert found.fix is not None
    assert found.fix.edits == (SetBoardLead("far", 0.14),)


def test_what_the_rails_draw_alike_does_not_come_back_through_ground() -> None:
    """0.3 m of 18 AWG at 2 A there and back costs 25.138 mV (by hand); with 2 A on -12V too nothing returns by ground,
    and each rail costs half of that."""
    board = Board("near", ("eater-1",), 30.0, mm2_from_awg(18))
    alone = bench_of(boarded(board, draws=({"+12V": 2000.0},)))
    assert dict(sags_v(alone, board)) == pytest.approx({"+12V": 25.137883e-3}, rel=1e-6)
    both = bench_of(boarded(board, draws=({"+12V": 2000.0, "-12V": 2000.0},)))
    half = 0.5 * 25.137883e-3
    assert dict(sags_v(both, board)) == pytest.approx({"+12V": half, "-12V": half}, rel=1e-6)


def test_voltages_at_the_board_agree_with_a_node_analysis() -> None:
    """Solve the three conductors one by one: what is left between the nodes at the board is the rail less its sag."""
    draws = {"+12V": 900.0, "-12V": 400.0, "+5V": 300.0}
    board = Board("far", ("eater-1",), 150.0, 0.5)
    assert board.lead_ohm is not None
    r = board.lead_ohm
    ground = (0.9 + 0.3 - 0.4) * r
    nodes = {"+12V": 12.0 - 0.9 * r, "+5V": 5.0 - 0.3 * r, "-12V": -12.0 + 0.4 * r}
    left = {rail: abs(v - ground) for rail, v in nodes.items()}
    for rail, sag in sags_v(bench_of(boarded(board, draws=(draws,))), board):
        full = 5.0 if rail == "+5V" else 12.0
        assert full - sag == pytest.approx(left[rail], abs=1e-12)


def test_ten_wires_carry_no_five_volts() -> None:
    project = boarded(draws=({"+5V": 20.0}, {"+12V": 20.0}), ribbon="10-way")
    found = only("ribbon-lacks-five-volts", project)
    assert found.at == "eater-1"
    assert found.fix is not None
    assert found.fix.edits == (SetRibbon("eater-1", "16-way"),)


def test_a_ribbon_that_nobody_names_is_not_judged() -> None:
    assert not findings("ribbon-lacks-five-volts", boarded(draws=({"+5V": 20.0},)))


def test_whoever_opens_the_case_is_cautioned() -> None:
    for check in CHECKS.values():
        if check.family in ("power", "distribution"):
            assert "qualified person" in check.caution
            assert "wrong way can destroy" in check.caution
            assert check.caution in check.explanation
