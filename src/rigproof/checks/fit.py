"""Fit: whether the modules go into the case: side by side, within the rows, within the depth."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of
from rigproof.model.edits import MoveModule
from rigproof.model.rig import HP_MM, Mounted, Row


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

    On stage: the hand finds every jack and knob mirrored, and the words stand on their heads. Turned too is the bus
    connector behind it: look for the stripe's side again before power comes on, or the module may be destroyed.
    Fix: mount it the right way up in the same place.
    Blind to: modules that are made to be turned.
    Source: common practice, no source.
    """
    for place in bench.project.rig.modules:
        if place.turned:
            yield Finding(
                place.id,
                f"{place.id} hangs upside down in row {place.row} at HP {place.hp}.",
                {"row": place.row, "from_hp": place.hp},
                fix_of(MoveModule(place.id, place.row, place.hp)),
                place.where,
            )
