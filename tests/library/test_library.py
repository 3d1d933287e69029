"""Every generic sheet is whole: it loads, its kinds know its ports, its panel has room for its jacks and knobs."""

import math
from collections.abc import Mapping
from itertools import combinations

import pytest

from rigproof.model.rig import HP_MM, RAILS
from rigproof.model.sheet import ControlShape, Housing, Plug, Sheet, Way
from rigproof.net.sheets import plan_sheet
from rigproof.net.values import control_value
from tests.library.all_sheets import NAMES, folder_of_all

PANEL_MM = 128.5
"""Height of a 3U panel. IEC 60297-3-101: 128.5 mm. [mm]"""
GAP_MM = 0.3
"""A panel is narrower than its HP by about this. [mm]"""
JACK_APART_MM = 10.0
"""Two 3.5 mm plugs side by side need this from centre to centre. Common practice, no source. [mm]"""


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Sheet]:
    """All sheets of the library."""
    return folder_of_all(tmp_path_factory.mktemp("all"))


def test_there_is_one_sheet_of_everything_a_first_rig_needs() -> None:
    assert len(NAMES) >= 45


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_fits_its_kinds(name: str, sheets: Mapping[str, Sheet]) -> None:
    assert plan_sheet(sheets[name]).errors == []


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_says_what_it_is_and_that_it_is_typical(
    name: str, sheets: Mapping[str, Sheet]
) -> None:
    sheet = sheets[name]
    assert sheet.is_typical
    assert sheet.title
    assert len(sheet.summary) > 20
    if sheet.housing is Housing.MODULE:
        assert sheet.hp > 0
        assert 10.0 <= sheet.depth_mm <= 60.0
        assert set(sheet.draw_ma) <= set(RAILS)


@pytest.mark.parametrize("name", NAMES)
def test_a_controls_default_lies_in_its_range(name: str, sheets: Mapping[str, Sheet]) -> None:
    for control in sheets[name].controls.values():
        assert control_value(control.default, control, control.where) == control.default
        assert control.sets


@pytest.mark.parametrize("name", NAMES)
def test_a_panel_has_room_for_its_jacks_and_knobs(name: str, sheets: Mapping[str, Sheet]) -> None:
    sheet = sheets[name]
    if sheet.housing is Housing.PROGRAM:
        pytest.skip("a program has no panel")
    jacks = {
        j.id: j.at_mm for j in sheet.jacks.values() if j.plug is not Plug.RIBBON and not j.is_inside
    }
    knobs = {c.id: c.at_mm for c in sheet.controls.values() if c.shape is not ControlShape.MENU}
    assert None not in (*jacks.values(), *knobs.values())
    places = {k: v for k, v in {**jacks, **knobs}.items() if v is not None}
    for (a, at_a), (b, at_b) in combinations(places.items(), 2):
        assert math.dist(at_a, at_b) >= JACK_APART_MM, (a, b)
    if sheet.housing is Housing.MODULE:
        for x, y in places.values():
            assert 4.0 <= x <= sheet.hp * HP_MM - GAP_MM - 4.0
            assert 4.0 <= y <= PANEL_MM - 7.0


@pytest.mark.parametrize("name", NAMES)
def test_a_jack_says_enough_to_be_proved(name: str, sheets: Mapping[str, Sheet]) -> None:
    for jack in sheets[name].jacks.values():
        if jack.way is not Way.BARE:
            assert jack.lanes
        if jack.signal.is_pulses and jack.way is Way.IN:
            assert jack.threshold_v is not None
            assert jack.min_pulse_s is not None
        if jack.signal.is_volts:
            assert jack.range_v[0] < jack.range_v[1]


@pytest.mark.parametrize("name", NAMES)
def test_a_screen_lies_on_its_panel_clear_of_jacks_and_knobs(
    name: str, sheets: Mapping[str, Sheet]
) -> None:
    sheet = sheets[name]
    if sheet.screen_mm is None:
        return
    left, top, width, height = sheet.screen_mm
    assert 0.0 < left < left + width < sheet.hp * HP_MM - GAP_MM
    assert 0.0 < top < top + height < PANEL_MM
    places = [(j.at_mm, JACK_APART_MM) for j in sheet.jacks.values()]
    places += [(c.at_mm, c.size_mm or JACK_APART_MM) for c in sheet.controls.values()]
    for at, size_mm in places:
        if at is not None:
            beside = max(left - at[0], at[0] - left - width, top - at[1], at[1] - top - height)
            assert beside >= 0.5 * size_mm, at


def test_currents_beyond_the_draw_are_stated_where_they_matter(
    sheets: Mapping[str, Sheet],
) -> None:
    """USB 2.0, 7.2.1: a device may take 500 mA of a port, and a port gives that (from memory)."""
    usb = {
        f"{name}.{jack.id}": jack
        for name in NAMES
        for jack in sheets[name].jacks.values()
        if jack.plug in (Plug.USB_DEVICE, Plug.USB_HOST)
    }
    assert usb
    for jack in usb.values():
        assert jack.usb_ma is not None
        assert 0.0 < jack.usb_ma <= 500.0
    surging = [sheets[name] for name in NAMES if sheets[name].surge_ma]
    assert surging
    for sheet in surging:
        for rail, surge_ma in sheet.surge_ma.items():
            assert surge_ma > sheet.draw_ma[rail]
