"""Power findings against sums made by hand, and the 20 % that the trade keeps free (common practice, no source)."""

from __future__ import annotations

import pytest

from rigproof.model.edits import RemoveModule, SetRail
from rigproof.model.rig import Supply
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import drawing, without_supply


def test_overload_is_the_sum_less_the_rail() -> None:
    found = only("rail-overloaded", drawing(600.0, 401.0))
    assert found.at == "+12V"
    assert found.evidence == {"draw_ma": 1001.0, "rail_ma": 1000.0, "over_ma": 1.0}


def test_the_unused_module_that_frees_just_enough_goes() -> None:
    """Excess over 800 mA is 350 mA: 300 does not free it, 400 does, 450 frees more than it must."""
    found = only("rail-overloaded", drawing(300.0, 400.0, 450.0))
    assert found.fix is not None
    assert found.fix.edits == (RemoveModule("eater-2"),)
    assert not found.fix.is_safe


def test_modules_in_use_stay_and_the_supply_grows() -> None:
    """1001 mA with 20 % free takes 1001 / 0.8 = 1251.25 mA, so 1300 in steps of 100."""
    sheets = {
        "voice": rigs.voice(draw_ma={"+12V": 600.0}),
        "other": rigs.voice("other", draw_ma={"+12V": 401.0}),
    }
    found = only("rail-overloaded", rigs.project(sheets, [("voice.sine", "other.pitch")]))
    assert found.fix is not None
    assert found.fix.edits == (SetRail("+12V", 1300.0),)


def test_headroom_of_1200_ma_is_960_ma() -> None:
    """Common practice, no source: 1200 mA, plan 840 to 960 mA."""
    found = only("rail-headroom-short", drawing(500.0, 461.0, rail_ma=1200.0))
    assert found.evidence["planned_ma"] == pytest.approx(960.0)
    assert found.evidence["free_ratio"] == pytest.approx(239.0 / 1200.0)
    assert not findings("rail-headroom-short", drawing(500.0, 460.0, rail_ma=1200.0))


def test_an_overloaded_rail_is_said_once() -> None:
    assert not findings("rail-headroom-short", drawing(600.0, 401.0))
    assert not findings("rail-missing", drawing(600.0, 401.0))


def test_sums_of_tenths_do_not_trip_by_rounding() -> None:
    assert not findings("rail-headroom-short", drawing(*[0.1] * 8, rail_ma=1.0))


def test_a_missing_rail_takes_draw_and_headroom() -> None:
    """450 mA / 0.8 = 562.5 mA, so 600."""
    project = rigs.project(
        {"eater": rigs.sheet("eater", draw_ma={"+5V": 450.0})}, supply=Supply({"+12V": 1000.0})
    )
    found = only("rail-missing", project)
    assert found.evidence == {"draw_ma": 450.0, "rail_ma": 0.0}
    assert found.fix is not None
    assert found.fix.edits == (SetRail("+5V", 600.0),)


def test_an_unstated_supply_is_not_called_overloaded() -> None:
    project = without_supply(10.0)
    assert only("supply-unstated", project).evidence == {"draw_plus_12v_ma": 10.0}
    assert not findings("rail-overloaded", project)
    assert not findings("rail-missing", project)
