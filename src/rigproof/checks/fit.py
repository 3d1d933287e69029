"""Fit: whether the modules go into the case: side by side, within the rows, within the depth."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.checks.cables import GOOD_SAG_RATIO, USUAL_CM, free_stock, lead_at, needed_cm
from rigproof.errors import Where
from rigproof.model.edits import Edit, MoveModule, SetCableLength
from rigproof.model.panel import control_mm, face_mm, hanging_mm, jack_mm, passes_mm
from rigproof.model.rig import HP_MM, Mounted, Row
from rigproof.model.sheet import Control

FINGER_MM = 13.0
"""The least room from edge to edge at a button or slide. NUREG-0700 rev. 3, table 11.5. [mm]"""
USUAL_KNOB_MM = 10.0
"""Where the sheet gives no size. Common practice, no source. [mm]"""
MOST_OVER = 6
"""So many cables a hand still parts with ease. Our choice."""


def row_of(bench: Bench, place: Mounted) -> Row | None:
    """Return the row that a module is said to be in, or None when the case has no such row."""
    rows = bench.project.rig.rows
    return rows[place.row - 1] if 1 <= place.row <= len(rows) else None


def width_hp(bench: Bench, place: Mounted) -> int:
    """Return the width of a mounted module. [HP]"""
    return bench.sheet(place.id).hp


def taken_hp(bench: Bench, row: int, *, but: str) -> list[tuple[int, int]]:
    """Return the stretches of a row that modules take, one module left out, from left to right. [HP]"""
    return sorted(
        (m.hp, m.hp + width_hp(bench, m))
        for m in bench.project.rig.modules
        if m.row == row and m.id != but
    )


def gap_for(bench: Bench, place: Mounted) -> Fix | None:
    """Return the fix that moves a module to the first gap that holds it in width and depth: its own row first."""
    need_hp, sheet = width_hp(bench, place), bench.sheet(place.id)
    rows = [
        (number, row)
        for number, row in enumerate(bench.project.rig.rows, start=1)
        if sheet.depth_mm <= row.depth_mm
    ]
    rows.sort(key=lambda item: item[0] != place.row)
    for number, row in rows:
        edge = 0
        for lo, hi in [*taken_hp(bench, number, but=place.id), (row.hp, row.hp)]:
            if lo - edge >= need_hp and edge + need_hp <= row.hp:
                return fix_of(MoveModule(place.id, number, edge, turned=place.turned))
            edge = max(edge, hi)
    return None


@check("modules-overlap", severity=Severity.STOPS_THE_SHOW)
def modules_overlap(bench: Bench) -> Iterator[Finding]:
    """Two modules are given the same place in a row.

    On stage: not even that far: one of them stays on the table.
    Fix: the first gap that holds one of the two in width and depth, in its own row if there is one.
    Blind to: knobs and plugs that reach over a panel's edge.
    Source: panels are n times 5.08 mm wide, less a clearance: IEC 60297-3-101.
    """
    for a, b in combinations(bench.project.rig.modules, 2):
        if a.row != b.row:
            continue
        lo = max(a.hp, b.hp)
        hi = min(a.hp + width_hp(bench, a), b.hp + width_hp(bench, b))
        if hi > lo:
            yield Finding(
                f"{a.id} and {b.id}",
                f"{a.id} and {b.id} share {hi - lo} HP of row {a.row}, from HP {lo} to {hi}.",
                {"overlap_hp": hi - lo, "overlap_mm": (hi - lo) * HP_MM, "from_hp": lo},
                gap_for(bench, b) or gap_for(bench, a),
                b.where,
            )


@check("module-past-row-end", severity=Severity.STOPS_THE_SHOW)
def module_past_row_end(bench: Bench) -> Iterator[Finding]:
    """A module begins before its row or ends after it.

    On stage: it does not go in.
    Fix: the first gap that holds it, in its own row if there is one.
    Blind to: rows whose usable width is less than the maker says.
    Source: widths in HP of 5.08 mm: IEC 60297-3-101.
    """
    for place in bench.project.rig.modules:
        row, end_hp = row_of(bench, place), place.hp + width_hp(bench, place)
        if row is not None and (place.hp < 0 or end_hp > row.hp):
            over_hp = end_hp - row.hp if place.hp >= 0 else -place.hp
            yield Finding(
                place.id,
                f"{place.id} goes from HP {place.hp} to {end_hp}, row {place.row} from 0 to "
                f"{row.hp}: {over_hp} HP too far.",
                {"over_hp": over_hp, "end_hp": end_hp, "row_hp": row.hp},
                gap_for(bench, place),
                place.where,
            )


@check("module-too-deep", severity=Severity.STOPS_THE_SHOW)
def module_too_deep(bench: Bench) -> Iterator[Finding]:
    """A module is deeper than the room behind its row.

    On stage: it does not go in, or its connector is pressed against the floor of the case or the supply.
    Fix: the first gap in a row that is deep enough.
    Blind to: the height of the bus connector and its ribbon, 10 mm and more, where the sheet leaves them out.
    Source: the sheet's depth and the row's; cases leave 25 to 60 mm: common practice, no source.
    """
    for place in bench.project.rig.modules:
        row, sheet = row_of(bench, place), bench.sheet(place.id)
        if row is not None and sheet.depth_mm > row.depth_mm:
            yield Finding(
                place.id,
                f"{place.id} is {sheet.depth_mm:g} mm deep, row {place.row} has "
                f"{row.depth_mm:g} mm: {sheet.depth_mm - row.depth_mm:g} mm too deep.",
                {
                    "depth_mm": sheet.depth_mm,
                    "row_depth_mm": row.depth_mm,
                    "over_mm": sheet.depth_mm - row.depth_mm,
                },
                gap_for(bench, place),
                place.where,
            )


@check("row-missing", severity=Severity.STOPS_THE_SHOW)
def row_missing(bench: Bench) -> Iterator[Finding]:
    """A module is given a row that the case does not have.

    On stage: it does not go in.
    Fix: the first gap that holds it in a row that exists.
    Blind to: cases of which the rig names no rows at all.
    Source: definition: rows count from 1 at the top.
    """
    rows = bench.project.rig.rows
    for place in bench.project.rig.modules if rows else ():
        if row_of(bench, place) is None:
            yield Finding(
                place.id,
                f"{place.id} stands in row {place.row}, the case has {len(rows)}.",
                {"row": place.row, "rows": len(rows)},
                gap_for(bench, place),
                place.where,
            )


@check("panel-upside-down", severity=Severity.WORTH_KNOWING)
def panel_upside_down(bench: Bench) -> Iterator[Finding]:
    """A module is mounted upside down.

    On stage: the hand finds every jack and knob mirrored, the words stand on their heads, and cables that hung below
    the knobs now hang across them. Turned too is the bus connector behind it: look for the stripe's side again before
    power comes on, or the module may be destroyed.
    Fix: mount it the right way up in the same place.
    Blind to: modules that are made to be turned.
    Source: common practice, no source; what hangs across what follows from the places that the sheet gives.
    """
    for place in bench.project.rig.modules:
        if not place.turned:
            continue
        sheet = bench.sheet(place.id)
        plugged = [
            jack.at_mm
            for jack in sheet.jacks.values()
            if jack.at_mm is not None and f"{place.id}.{jack.id}" in bench.cables_at
        ]
        under = [
            control.id
            for control in sheet.controls.values()
            if control.at_mm is not None and any(hangs_over(control, at) for at in plugged)
        ]
        across = f"; cables now hang across {listed(under)}" if under else ""
        yield Finding(
            place.id,
            f"{place.id} hangs upside down in row {place.row} at HP {place.hp}{across}.",
            {"row": place.row, "from_hp": place.hp, "controls": len(under)},
            fix_of(MoveModule(place.id, place.row, place.hp)),
            place.where,
        )


def hangs_over(control: Control, jack_at_mm: tuple[float, float]) -> bool:
    """Whether a cable that hangs from a jack of a turned panel hangs across a control of it."""
    if control.at_mm is None:
        return False
    is_below = control.at_mm[1] < jack_at_mm[1]  # the sheet's top is now the bottom
    return is_below and abs(control.at_mm[0] - jack_at_mm[0]) <= radius_mm(control)


@check("screen-upside-down", severity=Severity.HURTS)
def screen_upside_down(bench: Bench) -> Iterator[Finding]:
    """A module with a screen is mounted upside down, so its words and numbers stand on their heads.

    On stage: a menu is misread in the dark, and the wrong thing is loaded.
    Fix: mount it the right way up in the same place.
    Blind to: screens that can be turned in their settings; decline the finding there.
    Source: the sheet's `screen_mm`; common practice, no source.
    """
    for place in bench.project.rig.modules:
        screen = bench.sheet(place.id).screen_mm
        if place.turned and screen is not None:
            left, top, width, height = screen
            middle = face_mm(place, bench.sheet(place.id), (left + 0.5 * width, top + 0.5 * height))
            yield Finding(
                place.id,
                f"the screen of {place.id}, {width:g} by {height:g} mm, stands on its head.",
                {"row": place.row, "from_left_mm": middle[0], "from_top_mm": middle[1]},
                fix_of(MoveModule(place.id, place.row, place.hp)),
                place.where,
            )


# --- cables and hands ------------------------------------------------------------------------------------------------


def radius_mm(control: Control) -> float:
    """Return half the size of a control. [mm]"""
    return 0.5 * (control.size_mm or USUAL_KNOB_MM)


def moved_controls(bench: Bench) -> dict[str, Where]:
    """Return the controls that a hand moves in the set, and where the set first says so."""
    setlist = bench.project.setlist
    found: dict[str, Where] = {}
    for passage in setlist.sections if setlist is not None else ():
        for move in passage.moves:
            found.setdefault(move.control, move.where)
    return found


@check("control-under-cables", severity=Severity.WORTH_KNOWING)
def control_under_cables(bench: Bench) -> Iterator[Finding]:
    """A control that the set moves lies behind more than six hanging cables.

    On stage: the hand has to part a curtain to get at it, and may pull a plug or turn the neighbour.
    Fix: shorter cables of the same lead that are free, reach with 20 % to spare and no longer hang there, as many as it
    takes.
    Blind to: cables of no stated length, cases that lie flat, cable ties, plugs that stand away from the panel, and
    where on a long fader the hand is.
    Source: 13 mm from edge to edge is the least room for a finger at a button or slide (NUREG-0700 rev. 3, table 11.5);
    a slack cable hangs nearly in a parabola; how many cables are too many is our choice.
    """
    moved = moved_controls(bench)
    places = {name: at for name in moved if (at := control_mm(bench.project, name)) is not None}
    if not places:
        return
    ends = _ends(bench)
    hung: dict[int, Path] = {}
    for name, at in places.items():
        module, _, control_id = name.partition(".")
        reach_mm = radius_mm(bench.sheet(module).controls[control_id]) + FINGER_MM
        over = []
        for index, (a, b, length_mm) in ends.items():
            # No point of a cable is farther from both ends together than the cable is long.
            if math.dist(a, at) + math.dist(b, at) > max(length_mm, math.dist(a, b)) + 2 * reach_mm:
                continue
            if index not in hung:
                hung[index] = hanging_mm(a, b, length_mm)
            if passes_mm(hung[index], at) < reach_mm:
                over.append(index)
        if len(over) > MOST_OVER:
            nearest_mm = min(passes_mm(hung[i], at) for i in over)
            yield Finding(
                name,
                f"{name} lies behind {len(over)} cables; the set moves it.",
                {"cables": len(over), "reach_mm": reach_mm, "nearest_mm": nearest_mm},
                _shorter_ones(bench, over, at, reach_mm),
                moved[name],
            )


Spot = tuple[float, float]
Path = tuple[Spot, ...]


def _ends(bench: Bench) -> dict[int, tuple[Spot, Spot, float]]:
    """Return the ends and length of every cable of which all three are known, by its number in the patch. [mm]"""
    found = {}
    places = {module.id: module for module in bench.project.rig.modules}

    def spot(name: str) -> Spot | None:
        module = name.partition(".")[0]
        place, at = places.get(module), bench.jack(name).at_mm
        if place is None or at is None:
            return None
        return face_mm(place, bench.sheet(module), at)

    for index, cable in enumerate(bench.project.patch.cables):
        a, b = spot(cable.source), spot(cable.target)
        if cable.cm is not None and a is not None and b is not None:
            found[index] = (a, b, cable.cm * 10.0)
    return found


def _shorter_ones(
    bench: Bench, over: list[int], at: tuple[float, float], reach_mm: float
) -> Fix | None:
    """Return the fix that takes shorter cables until few enough hang there, or None when that cannot be done."""
    free = free_stock(bench) if bench.project.rig.cables else None
    edits: list[Edit] = []
    for index in over:
        if len(over) - len(edits) <= MOST_OVER:
            break
        cable = bench.project.patch.cables[index]
        lead, wanted = lead_at(bench, cable), needed_cm(bench, cable, GOOD_SAG_RATIO)
        a, b = jack_mm(bench.project, cable.source), jack_mm(bench.project, cable.target)
        lengths = (
            USUAL_CM
            if free is None
            else (cm for (sort, cm), n in free.items() if sort == lead and n > 0)
        )
        for cm in sorted(lengths):
            if a is None or b is None or cable.cm is None or not wanted <= cm < cable.cm:
                continue
            if passes_mm(hanging_mm(a, b, cm * 10.0), at) >= reach_mm:
                edits.append(SetCableLength(cable.source, cable.target, cm, bench.nth(index)))
                if free is not None:
                    free[lead, cm] -= 1
                break
    return fix_of(*edits) if edits and len(over) - len(edits) <= MOST_OVER else None
