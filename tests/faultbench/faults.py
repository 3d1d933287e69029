"""The faults: one mistake each, what the right finding is called, and the place at which it has to stand.

A fault changes a clean rig as a mistake would: a plug one jack too far, a knob left where it was, a module screwed in
one hole too far left, a maker's figure that was read too late. Place names are written by hand.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from rigproof.files.load_sheet import library_sheets
from rigproof.model.edits import (
    AddCable,
    AddModule,
    Edit,
    MoveModule,
    RemoveCable,
    Replug,
    SetCableLength,
    SetControl,
    SetRail,
    SetSurge,
    apply_edits,
)
from rigproof.model.panel import straight_mm
from rigproof.model.patch import Cable, Map, Settings
from rigproof.model.project import Project
from rigproof.model.rig import CableStock, Mounted, Outside
from rigproof.model.setlist import Move
from rigproof.model.sheet import RawValue

Plant = Callable[[Project], Project]


@dataclass(frozen=True)
class Fault:
    """One mistake in one rig, and what has to be said about it."""

    rig: str
    title: str
    plant: Plant
    finding: str
    at: str


# --- how mistakes are made -------------------------------------------------------------------------------------------


def edited(*edits: Edit) -> Plant:
    """A mistake that a hand makes."""
    return lambda project: apply_edits(project, edits)


def both(*plants: Plant) -> Plant:
    """A mistake that takes several steps."""

    def plant(project: Project) -> Project:
        for one in plants:
            project = one(project)
        return project

    return plant


def plugged(source: str, target: str) -> Plant:
    """One cable too many."""
    return edited(AddCable(Cable(source, target)))


def pulled(source: str, target: str) -> Plant:
    """A cable that is not there."""
    return edited(RemoveCable(source, target))


def moved(source: str, target: str, *, new_source: str = "", new_target: str = "") -> Plant:
    """A plug in the wrong jack."""
    return edited(Replug(source, target, new_source or source, new_target or target))


def turned_to(control: str, value: RawValue) -> Plant:
    """A control in the wrong place."""
    return edited(SetControl(control, value))


def sheet_says(module: str, **changes: Any) -> Plant:
    """A figure of one module that is not what was thought."""

    def plant(project: Project) -> Project:
        name = project.rig.sheet_names[module]
        own = f"{name}-of-{module}"
        sheets = {**project.sheets, own: replace(project.sheets[name], id=own, **changes)}
        modules = tuple(replace(m, sheet=own) if m.id == module else m for m in project.rig.modules)
        outside = tuple(replace(o, sheet=own) if o.id == module else o for o in project.rig.outside)
        rig = replace(project.rig, modules=modules, outside=outside)
        return replace(project, rig=rig, sheets=sheets)

    return plant


def jack_says(name: str, **changes: Any) -> Plant:
    """A figure of one jack that is not what was thought."""
    module, _, jack = name.partition(".")

    def plant(project: Project) -> Project:
        jacks = project.sheets[project.rig.sheet_names[module]].jacks
        return sheet_says(module, jacks={**jacks, jack: replace(jacks[jack], **changes)})(project)

    return plant


def supply_says(**changes: Any) -> Plant:
    """A supply that is not what was thought."""

    def plant(project: Project) -> Project:
        assert project.rig.supply is not None
        return replace(
            project, rig=replace(project.rig, supply=replace(project.rig.supply, **changes))
        )

    return plant


def mounted_as(module: str, **changes: Any) -> Plant:
    """A module mounted otherwise."""

    def plant(project: Project) -> Project:
        modules = tuple(replace(m, **changes) if m.id == module else m for m in project.rig.modules)
        return replace(project, rig=replace(project.rig, modules=modules))

    return plant


def boxed(lead: str, cm: int, count: int) -> Plant:
    """Fewer cables in the box than were thought."""

    def plant(project: Project) -> Project:
        cables = tuple(
            replace(c, count=count) if (c.lead, c.cm) == (lead, cm) else c
            for c in project.rig.cables
        )
        return replace(project, rig=replace(project.rig, cables=cables))

    return plant


def box_says(lead: str, cm: int, count: int) -> Plant:
    """One more sort of cable in the box."""

    def plant(project: Project) -> Project:
        cables = (*project.rig.cables, CableStock(lead, cm, count))
        return replace(project, rig=replace(project.rig, cables=cables))

    return plant


def fitted(module: str, sheet: str, row: int, hp: int) -> Plant:
    """One more module of the library, in a free place."""

    def plant(project: Project) -> Project:
        project = replace(project, sheets={**project.sheets, sheet: library_sheets()[sheet]})
        return AddModule(Mounted(module, sheet, row, hp)).apply(project)

    return plant


def beside(name: str, sheet: str) -> Plant:
    """One more thing of the library beside the case."""

    def plant(project: Project) -> Project:
        sheets = {**project.sheets, sheet: library_sheets()[sheet]}
        rig = replace(project.rig, outside=(*project.rig.outside, Outside(name, sheet)))
        return replace(project, rig=rig, sheets=sheets)

    return plant


def second_controller(sheet: str, source: str, target: str) -> Plant:
    """One more controller, plugged in where one is plugged in already."""

    return both(beside("second", sheet), plugged(source, target))


def section_says(name: str, param: str, value: RawValue) -> Plant:
    """A section (`module.section`) that is built otherwise than was thought."""
    module, _, local = name.partition(".")

    def plant(project: Project) -> Project:
        sections = project.sheets[project.rig.sheet_names[module]].sections
        old = sections[local]
        new = replace(old, values={**old.values, param: value})
        return sheet_says(module, sections={**sections, local: new})(project)

    return plant


def played_too(passage: str, *moves: Move) -> Plant:
    """Moves too many in a section of the set."""

    def plant(project: Project) -> Project:
        assert project.setlist is not None
        passages = tuple(
            replace(p, moves=(*p.moves, *moves)) if p.id == passage else p
            for p in project.setlist.sections
        )
        assert passages != project.setlist.sections
        return replace(project, setlist=replace(project.setlist, sections=passages))

    return plant


def begun_with(passage: str, settings: Mapping[str, RawValue]) -> Plant:
    """Controls that a section of the set begins with, elsewhere than they stand."""

    def plant(project: Project) -> Project:
        assert project.setlist is not None
        new = tuple(Settings(name, value) for name, value in settings.items())
        passages = tuple(
            replace(p, settings=(*p.settings, *new)) if p.id == passage else p
            for p in project.setlist.sections
        )
        return replace(project, setlist=replace(project.setlist, sections=passages))

    return plant


def mapped_too(control: str, cc: int, *to: str) -> Plant:
    """One mapping too many."""

    def plant(project: Project) -> Project:
        maps = (*project.patch.maps, Map(control, cc, to=to))
        return replace(project, patch=replace(project.patch, maps=maps))

    return plant


def draw_of(project: Project, rail: str) -> float:
    """What the modules draw from a rail. [mA]"""
    return sum(project.sheets[m.sheet].draw_ma.get(rail, 0.0) for m in project.rig.modules)


def rail_at(rail: str, share: float) -> Plant:
    """A supply that gives such a share of what is drawn from a rail."""
    return lambda project: SetRail(rail, share * draw_of(project, rail)).apply(project)


# --- the faults ------------------------------------------------------------------------------------------------------


def power_faults(rig: str, hungry: str) -> Iterator[Fault]:
    """Rails, surges, ribbons; `hungry` is a module of the rig."""
    for rail in ("+12V", "-12V"):
        yield Fault(rig, f"{rail} 5 % short", rail_at(rail, 0.95), "rail-overloaded", rail)
        yield Fault(rig, f"{rail} 5 % free", rail_at(rail, 1.05), "rail-headroom-short", rail)
        yield Fault(
            rig,
            f"{rail} bears no surge",
            lambda p, rail=rail: SetSurge(rail, 2.0 * draw_of(p, rail)).apply(p),  # type: ignore[misc]
            "surge-too-high",
            rail,
        )
    yield Fault(rig, "no -12V", supply_says(rails_ma={"+12V": 9000.0}), "rail-missing", "-12V")
    yield Fault(
        rig,
        "supply forgotten",
        lambda p: replace(p, rig=replace(p.rig, supply=None)),
        "supply-unstated",
        "supply",
    )
    five = both(sheet_says(hungry, draw_ma={"+5V": 60.0}), mounted_as(hungry, ribbon="10-way"))
    yield Fault(rig, "ten-way ribbon", five, "ribbon-lacks-five-volts", hungry)


def fit_faults(rig: str, pairs: tuple[tuple[str, str], ...], last: str) -> Iterator[Fault]:
    """Places in the case; `pairs` are neighbours from left to right, `last` ends near the end of its row."""
    for left, right in pairs:

        def lower(p: Project, right: str = right) -> Project:
            place = next(m for m in p.rig.modules if m.id == right)
            return MoveModule(right, place.row, place.hp - 1).apply(p)

        yield Fault(rig, f"{right} 1 HP left", lower, "modules-overlap", f"{left} and {right}")
    module = pairs[0][1]
    yield Fault(rig, f"{last} past the end", mounted_as(last, hp=160), "module-past-row-end", last)
    yield Fault(
        rig, f"{module} 60 mm deep", sheet_says(module, depth_mm=60.0), "module-too-deep", module
    )
    yield Fault(rig, f"{last} in row 9", mounted_as(last, row=9), "row-missing", last)
    yield Fault(
        rig, f"{module} turned", mounted_as(module, turned=True), "panel-upside-down", module
    )
    screen = both(sheet_says(last, screen_mm=(2.0, 5.0, 20.0, 10.0)), mounted_as(last, turned=True))
    yield Fault(rig, f"screen of {last} turned", screen, "screen-upside-down", last)


def joined(rig: str, *joins: tuple[str, str, str]) -> Iterator[Fault]:
    """A second output into a jack that one drives already: the output, the jack, the two outputs in the net's order."""
    for second, jack, at in joins:
        yield Fault(rig, f"{second} into {jack}", plugged(second, jack), "outputs-joined", at)


def opened(rig: str, *cables: tuple[str, str]) -> Iterator[Fault]:
    """A needed input whose cable is missing."""
    for source, target in cables:
        yield Fault(rig, f"{target} open", pulled(source, target), "needed-input-open", target)


def lengths(
    rig: str, short: tuple[tuple[str, str], ...], box: tuple[tuple[str, int, int], ...]
) -> Iterator[Fault]:
    """Cables that do not reach, and boxes that lack some: lead, length, how many are left."""
    for source, target in short:
        yield Fault(
            rig,
            f"5 cm for {source}",
            edited(SetCableLength(source, target, 5)),
            "cable-too-short",
            f"{source} to {target}",
        )
    for lead, cm, count in box:
        yield Fault(
            rig,
            f"{count} of {cm} cm {lead}",
            boxed(lead, cm, count),
            "cable-not-in-stock",
            f"{lead} {cm} cm",
        )


def taut(rig: str, *cables: tuple[str, str]) -> Iterator[Fault]:
    """Cables that are hardly longer than the straight line."""
    for source, target in cables:

        def plant(project: Project, source: str = source, target: str = target) -> Project:
            straight = straight_mm(project, source, target)
            assert straight is not None
            return SetCableLength(source, target, math.ceil(straight / 10.0)).apply(project)

        yield Fault(rig, f"{source} taut", plant, "cable-taut", f"{source} to {target}")


def set_wrong(rig: str, *controls: tuple[str, RawValue, str, str]) -> Iterator[Fault]:
    """Controls in the wrong place: control, value, finding, place."""
    for control, value, finding, at in controls:
        yield Fault(rig, f"{control} at {value}", turned_to(control, value), finding, at)


def told_wrong(rig: str, *jacks: tuple[str, dict[str, Any], str]) -> Iterator[Fault]:
    """Jacks whose figures differ: jack, figures, finding at that jack."""
    for jack, says, finding in jacks:
        told = ", ".join(f"{k} {v}" for k, v in says.items())
        yield Fault(rig, f"{jack}: {told}", jack_says(jack, **says), finding, jack)
