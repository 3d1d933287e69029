"""Every name in a project that must exist elsewhere in it: checked all at once, each error with its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rigproof.errors import RigError, ShapeError, UnknownName, Where, WiringError
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Outside
from rigproof.model.sheet import Control, Housing, Jack, Sheet, Signal, Slot, SlotTakes
from rigproof.net.insides import crosses_the_wall
from rigproof.net.sheets import SheetPlan, plan_sheet
from rigproof.net.values import control_value


class Names:
    """The names of one project, looked up once. `plans` holds the checked sheets by sheet name."""

    def __init__(self, project: Project) -> None:
        self.project = project
        self.sheet_of = project.rig.sheet_names
        used = dict.fromkeys(self.sheet_of.values())
        self.plans: dict[str, SheetPlan] = {
            name: plan_sheet(project.sheets[name]) for name in used if name in project.sheets
        }

    def sheet(self, module: str) -> Sheet | None:
        """Return the sheet of a module, or None when the module or its sheet is unknown."""
        return self.project.sheets.get(self.sheet_of.get(module, ""))

    def split(
        self, name: str, where: Where, errors: list[RigError]
    ) -> tuple[str, str, Sheet] | None:
        """Return module, thing and sheet of `module.thing`; None when the module is unknown, said once in `errors`."""
        module, dot, thing = name.partition(".")
        if not dot:
            errors.append(
                ShapeError(
                    where,
                    "not a name of the form 'module.thing'",
                    found=repr(name),
                    expected="'module.thing'",
                )
            )
            return None
        if module not in self.sheet_of:
            errors.append(UnknownName(where, "module", module, self.sheet_of))
            return None
        sheet = self.sheet(module)
        return (module, thing, sheet) if sheet is not None else None

    def jack(self, name: str, where: Where, errors: list[RigError]) -> Jack | None:
        """Return the jack that `module.jack` names."""
        found = self.split(name, where, errors)
        if found is None:
            return None
        module, thing, sheet = found
        if thing not in sheet.jacks:
            errors.append(
                UnknownName(where, "jack", thing, sheet.jacks, owner=f"module '{module}'")
            )
            return None
        return sheet.jacks[thing]

    def is_inside(self, name: str, jack: Jack) -> bool:
        """Whether a jack belongs to the inside of a host: one of its inner jacks, or any of a program's."""
        sheet = self.sheet(name.partition(".")[0])
        return jack.is_inside or (sheet is not None and sheet.housing is Housing.PROGRAM)

    def control(self, name: str, where: Where, errors: list[RigError]) -> Control | None:
        """Return the control that `module.control` names."""
        found = self.split(name, where, errors)
        if found is None:
            return None
        module, thing, sheet = found
        if thing not in sheet.controls:
            errors.append(
                UnknownName(where, "control", thing, sheet.controls, owner=f"module '{module}'")
            )
            return None
        return sheet.controls[thing]

    def slot(
        self, name: str, where: Where, takes: SlotTakes, errors: list[RigError]
    ) -> Slot | None:
        """Return the slot that `module.slot` names, if it takes what is to be put there."""
        found = self.split(name, where, errors)
        if found is None:
            return None
        module, thing, sheet = found
        fitting = {s.id: s for s in sheet.slots.values() if s.takes is takes}
        if thing not in fitting:
            errors.append(
                UnknownName(
                    where, f"{takes.value} slot", thing, fitting, owner=f"module '{module}'"
                )
            )
            return None
        return fitting[thing]


def check_references(names: Names) -> list[RigError]:
    """Return everything in the project that points at nothing, in no particular order."""
    errors: list[RigError] = []
    project = names.project
    seen: dict[str, Where] = {}
    things: tuple[Mounted | Outside, ...] = (
        *project.rig.modules,
        *project.rig.outside,
        *project.rig.programs,
    )
    for thing in things:
        if thing.sheet not in project.sheets:
            errors.append(
                UnknownName(
                    thing.where.child("sheet"), "sheet", thing.sheet, sorted(project.sheets)
                )
            )
        if thing.id in seen:
            errors.append(
                ShapeError(
                    thing.where.child("id"),
                    f"the id '{thing.id}' stands twice",
                    found=f"also {seen[thing.id]}",
                )
            )
        seen.setdefault(thing.id, thing.where)
    for plan in names.plans.values():
        errors.extend(plan.errors)
    for cable in project.patch.cables:
        ends = [
            names.jack(cable.source, cable.where.child("from"), errors),
            names.jack(cable.target, cable.where.child("to"), errors),
        ]
        if ends[0] is not None and ends[1] is not None:
            errors.extend(_unlike(ends[0], ends[1], cable.where))
            inside = (
                names.is_inside(cable.source, ends[0]),
                names.is_inside(cable.target, ends[1]),
            )
            astray = crosses_the_wall(cable, is_inside=inside)
            if astray is not None:
                errors.append(
                    WiringError(
                        cable.where,
                        "a connection may not pass the wall of a host",
                        found=f"'{astray}' on the other side",
                        expected="both ends inside, or both outside",
                    )
                )
    for place in project.patch.settings:
        control = names.control(place.control, place.where, errors)
        if control is not None:
            _collect(control_value(place.value, control, place.where), errors)
    for takes, fillings in (
        (SlotTakes.RHYTHM, project.patch.rhythms),
        (SlotTakes.SAMPLES, project.patch.samples),
    ):
        for filling in fillings:
            names.slot(filling.slot, filling.where, takes, errors)
    for link in project.patch.maps:
        names.control(link.control, link.where.child("control"), errors)
        for target in link.to:
            names.slot(target, link.where.child("to"), SlotTakes.CC, errors)
    if project.setlist is not None:
        for passage in project.setlist.sections:
            for place in passage.settings:
                control = names.control(place.control, place.where, errors)
                if control is not None:
                    _collect(control_value(place.value, control, place.where), errors)
            for move in passage.moves:
                control = names.control(move.control, move.where.child("control"), errors)
                if control is None:
                    continue
                if move.bar > passage.bars:
                    errors.append(
                        ShapeError(
                            move.where.child("bar"),
                            f"the move lies behind the end of section '{passage.id}'",
                            found=f"bar {move.bar}",
                            expected=f"a bar from 1 to {passage.bars}",
                        )
                    )
                _collect(control_value(move.to, control, move.where.child("to")), errors)
                if move.start is not None:
                    _collect(control_value(move.start, control, move.where.child("start")), errors)
    return errors


def _unlike(a: Jack, b: Jack, where: Where) -> Iterator[RigError]:
    """A cable between unlike worlds: volts, MIDI bytes and digital links never understand one another."""
    worlds: Mapping[Signal, str] = {Signal.MIDI: "MIDI", Signal.LINK: "a digital link"}
    first, second = (worlds.get(j.signal, "volts") for j in (a, b))
    if first != second:
        yield WiringError(
            where,
            "the two jacks do not carry the same thing",
            found=f"{first} into {second}",
            expected="two jacks that carry the same",
        )


def _collect(value: float | RigError, errors: list[RigError]) -> None:
    if isinstance(value, RigError):
        errors.append(value)
