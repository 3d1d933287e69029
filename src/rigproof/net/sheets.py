"""A sheet checked against the section kinds and made ready to be put into a net many times over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigproof.errors import NOWHERE, RigError, ShapeError, UnknownName, Where, WiringError
from rigproof.kinds import KINDS
from rigproof.kinds.base import Kind
from rigproof.model.sheet import RawValue, Section, Sheet, SlotTakes, Way
from rigproof.net.values import as_written, param_value

STRUCTURE_KEYS = ("ways",)
"""Keys of a section that are neither a parameter nor an option."""


@dataclass(frozen=True, slots=True)
class SectionPlan:
    """A section of a sheet, checked: its kind, how many ways, its own values, and what drives each input."""

    id: str
    kind: Kind
    ways: int
    values: Mapping[str, float]
    options: Mapping[str, RawValue]
    param_rows: Mapping[str, int]
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    where: Where = NOWHERE


@dataclass(slots=True)
class SheetPlan:
    """A sheet, checked. `drivers` says for `section.port` whether a wire or a jack lane drives it."""

    sheet: Sheet
    sections: dict[str, SectionPlan] = field(default_factory=dict)
    drivers: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """`section.port` -> ('wire', 'section.port') or ('jack', jack, lane)."""
    controls: dict[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    """control -> (section, parameter) pairs."""
    errors: list[RigError] = field(default_factory=list)


def plan_sheet(sheet: Sheet) -> SheetPlan:
    """Check a sheet against the kinds and return it ready for flattening; all that is wrong stands in `errors`."""
    plan = SheetPlan(sheet)
    for section in sheet.sections.values():
        made = _plan_section(section, plan.errors)
        if made is not None:
            plan.sections[section.id] = made
    for wire in sheet.wires:
        if _has_port(plan, wire.source, wire.where, is_input=False) and _has_port(
            plan, wire.target, wire.where, is_input=True
        ):
            _drive(plan, wire.target, ("wire", wire.source), wire.where)
    for jack in sheet.jacks.values():
        for lane, ports in jack.lanes.items():
            for port in ports:
                if not _has_port(plan, port, jack.where, is_input=jack.way is Way.IN):
                    continue
                if jack.way is Way.IN:
                    _drive(plan, port, ("jack", jack.id, lane), jack.where)
        if jack.way is Way.OUT and any(len(ports) != 1 for ports in jack.lanes.values()):
            plan.errors.append(
                WiringError(
                    jack.where, f"output jack '{jack.id}' needs exactly one section port a lane"
                )
            )
        if not jack.lanes and jack.way is not Way.BARE:
            plan.errors.append(WiringError(jack.where, f"jack '{jack.id}' is joined to no section"))
        others = [j for j in sheet.jacks if j != jack.id]
        for other in (*jack.joins, *((jack.normal,) if jack.normal is not None else ())):
            if other not in others:
                plan.errors.append(
                    UnknownName(jack.where, "jack", other, others, owner=f"sheet '{sheet.id}'")
                )
    for control in sheet.controls.values():
        pairs = []
        for target in control.sets:
            pair = _param_target(plan, target, control.unit, control.where)
            if pair is not None:
                pairs.append(pair)
        plan.controls[control.id] = tuple(pairs)
    for slot in sheet.slots.values():
        for name in slot.sections:
            if name not in sheet.sections:
                plan.errors.append(
                    UnknownName(
                        slot.where, "section", name, sheet.sections, owner=f"sheet '{sheet.id}'"
                    )
                )
            elif (
                name in plan.sections
                and slot.takes is SlotTakes.CC
                and "number" not in plan.sections[name].values
            ):
                plan.errors.append(
                    WiringError(slot.where, f"section '{name}' listens to no controller number")
                )
    return plan


def _plan_section(section: Section, errors: list[RigError]) -> SectionPlan | None:
    kind = KINDS.get(section.kind)
    if kind is None or kind.is_internal:
        usable = [name for name, known in KINDS.items() if not known.is_internal]
        errors.append(
            UnknownName(section.where.child("kind"), "section kind", section.kind, sorted(usable))
        )
        return None
    ways = kind.ways[2] if kind.ways else 1
    raw_ways = section.values.get("ways")
    if raw_ways is not None:
        lo, hi = (kind.ways[0], kind.ways[1]) if kind.ways else (1, 1)
        if not isinstance(raw_ways, int) or isinstance(raw_ways, bool) or not lo <= raw_ways <= hi:
            errors.append(
                ShapeError(
                    section.where.child("ways"),
                    f"no such number of ways for kind '{kind.name}'",
                    found=repr(raw_ways),
                    expected=f"a whole number from {lo} to {hi}",
                )
            )
            return None
        ways = raw_ways
    params = kind.expand_params(ways)
    by_name = {p.name: p for p in params}
    groups = {p.name: p for p in kind.params if p.many}
    options = {o.name: o for o in kind.options}
    values = {p.name: p.default for p in params}
    chosen: dict[str, RawValue] = {o.name: o.default for o in kind.options}
    for key, raw in section.values.items():
        where = section.where.child(key)
        if key in STRUCTURE_KEYS:
            continue
        if key in by_name:
            value = param_value(raw, by_name[key], where)
            if isinstance(value, RigError):
                errors.append(value)
            else:
                values[key] = value
        elif key in groups:
            spread = raw if isinstance(raw, tuple) else (raw,) * ways
            if len(spread) != ways:
                errors.append(
                    ShapeError(
                        where, "wrong number of values", found=str(len(spread)), expected=str(ways)
                    )
                )
            for i, one in enumerate(spread[:ways], start=1):
                value = param_value(one, groups[key], where)
                if isinstance(value, RigError):
                    errors.append(value)
                else:
                    values[f"{key}-{i}"] = value
        elif key in options:
            expected = options[key].check(raw)
            if expected is not None:
                errors.append(
                    ShapeError(where, "no such value", found=as_written(raw), expected=expected)
                )
            else:
                chosen[key] = raw
        else:
            errors.append(
                UnknownName(
                    where,
                    "parameter",
                    key,
                    (*by_name, *options, *STRUCTURE_KEYS),
                    owner=f"kind '{kind.name}'",
                )
            )
    return SectionPlan(
        section.id,
        kind,
        ways,
        values,
        chosen,
        {p.name: row for row, p in enumerate(params, start=1)},
        tuple(p.name for p in kind.expand_inputs(ways)),
        tuple(p.name for p in kind.expand_outputs(ways)),
        section.where,
    )


def _has_port(plan: SheetPlan, name: str, where: Where, *, is_input: bool) -> bool:
    section_id, _, port = name.partition(".")
    if section_id not in plan.sheet.sections:
        plan.errors.append(
            UnknownName(
                where, "section", section_id, plan.sheet.sections, owner=f"sheet '{plan.sheet.id}'"
            )
        )
        return False
    section = plan.sections.get(section_id)
    if section is None:
        return False  # its own error has been said
    ports = section.inputs if is_input else section.outputs
    if port not in ports:
        what = "input" if is_input else "output"
        plan.errors.append(
            UnknownName(
                where,
                what,
                port,
                ports,
                owner=f"section '{section_id}' (kind '{section.kind.name}')",
            )
        )
        return False
    return True


def _drive(plan: SheetPlan, port: str, driver: tuple[str, ...], where: Where) -> None:
    if port in plan.drivers:
        plan.errors.append(
            WiringError(
                where,
                f"input '{port}' is driven twice inside the sheet; join signals with a mixer section",
            )
        )
        return
    plan.drivers[port] = driver


def _param_target(plan: SheetPlan, target: str, unit: str, where: Where) -> tuple[str, str] | None:
    section_id, _, name = target.partition(".")
    if section_id not in plan.sheet.sections:
        plan.errors.append(
            UnknownName(
                where, "section", section_id, plan.sheet.sections, owner=f"sheet '{plan.sheet.id}'"
            )
        )
        return None
    section = plan.sections.get(section_id)
    if section is None:
        return None
    if name not in section.param_rows:
        plan.errors.append(
            UnknownName(
                where, "parameter", name, section.param_rows, owner=f"section '{section_id}'"
            )
        )
        return None
    expected = section.kind.expand_params(section.ways)[section.param_rows[name] - 1].unit
    if expected != unit:
        plan.errors.append(
            ShapeError(
                where,
                f"the control's unit is not that of '{target}'",
                found=repr(unit),
                expected=repr(expected),
            )
        )
        return None
    return section_id, name
