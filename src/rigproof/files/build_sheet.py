"""A module sheet that has been read, made into the model: what follows from what, and the rules between its keys."""

from __future__ import annotations

from rigproof.files.printable import shown
from rigproof.files.reading import Node, Report
from rigproof.model.sheet import (
    INPUT_OHM,
    OUTPUT_OHM,
    UNLOADED_OHM,
    Control,
    ControlShape,
    Housing,
    Jack,
    Plug,
    RawValue,
    Section,
    Sheet,
    Signal,
    Slot,
    SlotTakes,
    Taper,
    Way,
    Wire,
)
from rigproof.units import parse_quantity

RESISTANCE_OHM = {Way.IN: INPUT_OHM, Way.OUT: OUTPUT_OHM, Way.BARE: INPUT_OHM}
"""Where a sheet is silent; of a bare contact nobody reads it. [ohm]"""
PROGRAM_OHM = {Way.IN: UNLOADED_OHM, Way.OUT: 0.0, Way.BARE: UNLOADED_OHM}
"""The same inside a host, where numbers are passed on and nothing loads anything. [ohm]"""


def build_sheet(node: Node, report: Report, name: str) -> Sheet:
    """Return the sheet `name`; what breaks a rule between keys is reported and put right for the time being."""
    where = report.lines.where
    return Sheet(
        id=name,
        title=node["title"],
        summary=node["summary"],
        housing=Housing(node["housing"]),
        is_typical=node["typical"],
        hp=node["hp"],
        depth_mm=node["depth_mm"],
        draw_ma=dict(node["draw_ma"]),
        jacks={
            id_: _jack(id_, jack, report, is_program=node["housing"] == Housing.PROGRAM.value)
            for id_, jack in node["jacks"].items()
        },
        controls={id_: _control(id_, control, report) for id_, control in node["controls"].items()},
        sections={
            id_: Section(
                id_,
                section["kind"],
                {key: value for key, value in section.items() if key != "kind"},
                where(section.path),
            )
            for id_, section in node["sections"].items()
        },
        wires=tuple(
            Wire(source, target, where(("wires", i)))
            for i, (source, target) in enumerate(node["wires"])
        ),
        slots={
            id_: Slot(id_, SlotTakes(slot["takes"]), slot["sections"], where(slot.path))
            for id_, slot in node["slots"].items()
        },
        where=where(node.path),
        surge_ma=dict(node["surge_ma"]),
        screen_mm=node["screen_mm"],
    )


def _jack(id_: str, node: Node, report: Report, *, is_program: bool) -> Jack:
    way = _way(node, report)
    signal = Signal(node["signal"])
    resistance_ohm = node["resistance_ohm"]
    if resistance_ohm is None:
        resistance_ohm = (PROGRAM_OHM if is_program or node["inside"] else RESISTANCE_OHM)[way]
    elif resistance_ohm == 0.0 and way is Way.IN:
        report.add(
            (*node.path, "resistance_ohm"),
            "an input of no resistance is a short circuit",
            expected=f"more than 0; {INPUT_OHM:g} is usual",
        )
        resistance_ohm = INPUT_OHM
    min_pulse_ms = node["min_pulse_ms"]
    return Jack(
        id=id_,
        way=way,
        signal=signal,
        plug=Plug(node["plug"]),
        lanes=node["to"] or node["from"] or {},
        range_v=node["range_v"],
        resistance_ohm=resistance_ohm,
        clamp_v=node["clamp_v"],
        normal=node["normal"],
        normal_v=node["normal_v"],
        joins=node["joins"],
        needed=node["needed"],
        threshold_v=node["threshold_v"],
        min_pulse_s=None if min_pulse_ms is None else min_pulse_ms / 1000.0,
        ppqn=node["ppqn"],
        is_ac_coupled=node["ac_coupled"],
        usb_ma=node["usb_ma"],
        is_inside=node["inside"],
        at_mm=node["at_mm"],
        label=node["label"],
        where=report.lines.where(node.path),
    )


def _way(node: Node, report: Report) -> Way:
    """Return the way a jack goes: `to` makes an input, `from` an output, neither a bare contact."""
    has_to, has_from = node["to"] is not None, node["from"] is not None
    follows = Way.IN if has_to else Way.OUT if has_from else Way.BARE if node["joins"] else None
    written = Way(node["way"]) if node["way"] is not None else None
    if has_to and has_from:
        report.add(
            (*node.path, "from"),
            "a jack goes one way",
            found="both 'to' and 'from'",
            expected="'to' for an input, 'from' for an output",
        )
    elif written is not None and follows is not None and written is not follows:
        key = "to" if has_to else "from" if has_from else "joins"
        report.add(
            (*node.path, key),
            f"'{key}' does not go with way = '{written}'",
            expected="'to' for an input, 'from' for an output, 'joins' for a bare contact",
        )
    elif written is None and follows is None and not node.broken:
        report.add(
            node.path,
            "nothing says which way this jack goes",
            expected="'to' (input), 'from' (output) or 'joins' (bare contact)",
        )
    return written or follows or Way.BARE


def _control(id_: str, node: Node, report: Report) -> Control:
    unit, choices = node["unit"], node["choices"]
    lo, hi = 0.0, float(len(choices) - 1) if choices else 1.0
    if node["range"] is not None and not node.broken:
        ends = [_quantity(end, unit, (), (*node.path, "range"), report) for end in node["range"]]
        if ends[0] is not None and ends[1] is not None:
            if ends[0] == ends[1]:
                report.add((*node.path, "range"), "the control has nowhere to go")
            else:
                lo, hi = ends[0], ends[1]
    taper = Taper(node["taper"])
    if taper is Taper.LOG and min(lo, hi) <= 0.0 and not node.broken:
        report.add(
            (*node.path, "taper"),
            "a log taper cannot reach 0 or below",
            found=f"{lo:g} to {hi:g}",
            expected="a range above 0, or taper = 'linear' or 'square'",
        )
        taper = Taper.LINEAR
    bottom, top = min(lo, hi), max(lo, hi)
    default = 0.0 if bottom <= 0.0 <= top else lo
    if node["default"] is not None and not node.broken:
        path = (*node.path, "default")
        value = _quantity(node["default"], unit, choices, path, report)
        if value is not None and not bottom <= value <= top:
            report.add(
                path,
                "the default lies outside the range",
                found=f"{value:g}",
                expected=f"{bottom:g} to {top:g}",
            )
        elif value is not None:
            default = value
    return Control(
        id=id_,
        shape=ControlShape(node["shape"]),
        unit=unit,
        lo=lo,
        hi=hi,
        default=default,
        taper=taper,
        choices=choices,
        sets=node["sets"],
        at_mm=node["at_mm"],
        size_mm=node["size_mm"],
        label=node["label"],
        where=report.lines.where(node.path),
    )


def _quantity(
    raw: RawValue, unit: str, choices: tuple[str, ...], path: tuple[str | int, ...], report: Report
) -> float | None:
    """Return a number in the control's unit from a number, a quantity or a choice; None when an error was said."""
    if isinstance(raw, bool | int | float):
        return float(raw)
    if isinstance(raw, str) and choices:
        if raw in choices:
            return float(choices.index(raw))
        report.add(path, "there is no such choice", found=shown(raw), known=choices, name=raw)
        return None
    if isinstance(raw, str):
        try:
            value = parse_quantity(raw, unit)
        except (ValueError, OverflowError) as error:
            report.add(path, "not a quantity that fits", found=shown(raw), expected=str(error))
            return None
        if abs(value) <= 1e15:
            return value
    report.add(path, "not a number", found=shown(raw), expected="a finite number")
    return None
