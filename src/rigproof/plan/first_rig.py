"""First rig: what somebody says they own, put into the case as it fits: each module into the first free place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.model.rig import Mounted, Outside, Rig, Row, Supply
from rigproof.model.sheet import Housing, Sheet


@dataclass(frozen=True, slots=True)
class FirstRig:
    """A rig, and what has to be said of it."""

    rig: Rig
    says: tuple[str, ...] = ()


def first_rig(
    sheets: Mapping[str, Sheet],
    *,
    name: str,
    rows: Sequence[Row],
    rails_ma: Mapping[str, float],
    modules: Sequence[str] = (),
    outside: Sequence[str] = (),
) -> FirstRig:
    """Return the rig of these things, named by their sheets; what has no room stands past the end of the first row.

    First fit is no arrangement: it minds width and depth and nothing else.

    Raises `RigError` when a sheet is unknown or its thing does not live there.
    """
    ids: set[str] = set()
    ends = [0] * len(rows)
    mounted: list[Mounted] = []
    says: list[str] = []
    for sheet_name in modules:
        sheet = _sheet(sheets, sheet_name, (Housing.MODULE,))
        id_ = _free_id(sheet_name, ids)
        fitting = [
            i
            for i, row in enumerate(rows)
            if ends[i] + sheet.hp <= row.hp and sheet.depth_mm <= row.depth_mm
        ]
        if not fitting:
            says.append(f"{id_} has no room in the case: {sheet.hp} HP, {sheet.depth_mm:g} mm deep")
        place = fitting[0] if fitting else 0
        at = ends[place] if fitting else max(ends[0], rows[0].hp if rows else 0)
        mounted.append(Mounted(id_, sheet_name, place + 1, at))
        if rows:
            ends[place] = at + sheet.hp
    others = []
    for sheet_name in outside:
        _sheet(sheets, sheet_name, (Housing.CONTROLLER, Housing.INTERFACE))
        others.append(Outside(_free_id(sheet_name, ids), sheet_name))
    rig = Rig(name, tuple(rows), Supply(dict(rails_ma)), tuple(mounted), tuple(others))
    return FirstRig(rig, tuple(says))


def _sheet(sheets: Mapping[str, Sheet], name: str, houses: tuple[Housing, ...]) -> Sheet:
    if name not in sheets:
        raise UnknownName(NOWHERE, "sheet", name, sheets)
    if sheets[name].housing not in houses:
        raise RigError(
            NOWHERE,
            f"'{name}' does not belong there",
            found=sheets[name].housing.value,
            expected=" or ".join(house.value for house in houses),
        )
    return sheets[name]


def _free_id(sheet: str, ids: set[str]) -> str:
    """Return an id that nothing has yet: the sheet's name, and a number from the second on; note it."""
    number, id_ = 1, sheet
    while id_ in ids:
        number += 1
        id_ = f"{sheet}-no-{number}"
    ids.add(id_)
    return id_
