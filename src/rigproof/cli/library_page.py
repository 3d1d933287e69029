"""The page of the docs that lists the library: every sheet with its size, current, jacks, controls and slots."""

from __future__ import annotations

from rigproof.files.load_sheet import library_sheets
from rigproof.model.sheet import (
    Control,
    ControlShape,
    Housing,
    Jack,
    Sheet,
    Signal,
    Slot,
    SlotTakes,
    Way,
)
from rigproof.units import format_quantity, plural

INTRODUCTION = """\
# Library

Sheets that come along. Their figures are typical of such a module and no maker's: put your maker's into
[a sheet of your own](describe-your-module.md). `rigproof new-sheet NAME --like SHEET` begins from one of them.

A *slot* is filled by the patch: a rhythm or notes under `[rhythm]`, sound files under `[samples]`, a controller number
in a `[[map]]`, as in [files](files.md).

!!! warning
    Width, depth and current decide what fits and what a supply bears. Before you buy or mount anything, take them from
    the maker's manual. Common practice, no source.
"""
HOUSES = {
    Housing.MODULE: "Modules",
    Housing.CONTROLLER: "Controllers",
    Housing.INTERFACE: "Interfaces, desks and recorders",
    Housing.PROGRAM: "Programs that run inside a host",
}
WAYS = {Way.IN: "in", Way.OUT: "out", Way.BARE: "joined contacts"}


def library_page() -> str:
    """Return the page."""
    sheets = library_sheets()
    parts = [INTRODUCTION, f"{len(sheets)} sheets.\n"]
    for housing, title in HOUSES.items():
        there = [sheet for sheet in sheets.values() if sheet.housing is housing]
        parts.append(f"## {title}\n\n{overview(there)}\n")
        parts += [sheet_part(sheet) for sheet in there]
    return "\n".join(parts)


def overview(sheets: list[Sheet]) -> str:
    """Return a table of sheets, a line each."""
    rows = [
        f"| [{sheet.id}](#{sheet.id}) | {sheet.title} | {size_text(sheet)} | {draw_text(sheet)} |"
        for sheet in sheets
    ]
    return "\n".join(["| sheet | | size | current |", "|---|---|---|---|", *rows]) + "\n"


def sheet_part(sheet: Sheet) -> str:
    """Return what the page says of one sheet."""
    lines = [f"### {sheet.id}\n", f"{sheet.title}. {sheet.summary}\n"]
    facts = [text for text in (size_text(sheet), draw_text(sheet)) if text != "—"]
    facts.append(f"inside: {', '.join(kinds_of(sheet))}" if sheet.sections else "nothing inside")
    lines.append("; ".join(facts) + ".\n")
    for way, word in WAYS.items():
        jacks = [j for j in sheet.jacks.values() if j.way is way]
        if jacks:
            lines.append(f"{word.capitalize()}\n:   {', '.join(map(jack_text, jacks))}\n")
    panel = [c for c in sheet.controls.values() if c.shape is not ControlShape.MENU]
    menus = [c for c in sheet.controls.values() if c.shape is ControlShape.MENU]
    for title, controls in (("Controls", panel), ("Menus", menus)):
        if controls:
            lines.append(f"{title}\n:   {', '.join(map(control_text, controls))}\n")
    if sheet.slots:
        told = ", ".join(slot_text(sheet, slot) for slot in sheet.slots.values())
        lines.append(f"Slots\n:   {told}\n")
    return "\n".join(lines)


def slot_text(sheet: Sheet, slot: Slot) -> str:
    """Return a slot in a few words: what a patch puts there, and the kind that says what may be written."""
    first = sheet.sections[slot.sections[0]]
    if slot.takes is not SlotTakes.CC:
        return f"`{slot.id}` ({slot.takes.value}, [{first.kind}](kinds.md#{first.kind}))"
    number = first.values.get("number")
    return f"`{slot.id}` (CC)" if number is None else f"`{slot.id}` (CC {number} unless mapped)"


def size_text(sheet: Sheet) -> str:
    """Return the size of a module; a dash for what hangs in no case."""
    if sheet.housing is not Housing.MODULE:
        return "—"
    return f"{sheet.hp} HP, {sheet.depth_mm:g} mm deep"


def draw_text(sheet: Sheet) -> str:
    """Return the current of a module, rail by rail."""
    if sheet.housing is not Housing.MODULE:
        return "—"
    drawn = [f"{draw:g} mA from {rail}" for rail, draw in sheet.draw_ma.items() if draw]
    return ", ".join(drawn) or "no power"


def kinds_of(sheet: Sheet) -> list[str]:
    """Return the section kinds of a sheet with how many there are of each."""
    kinds = [section.kind for section in sheet.sections.values()]
    return [
        kind if kinds.count(kind) == 1 else f"{kinds.count(kind)} × {kind}"
        for kind in dict.fromkeys(kinds)
    ]


def jack_text(jack: Jack) -> str:
    """Return a jack in a few words."""
    facts: list[str] = [jack.signal.value]
    if jack.signal.is_volts and jack.way is not Way.BARE:
        facts.append(f"{jack.range_v[0]:g} to {jack.range_v[1]:g} V")
        facts.append(format_quantity(jack.resistance_ohm, "ohm"))
    if jack.signal is Signal.MIDI and not jack.is_inside:
        facts.append(jack.plug.value)
    if jack.signal is Signal.LINK:
        facts.append(plural(len(jack.lanes), "lane"))
    if jack.is_inside:
        facts.append("inside")
    return f"`{jack.id}` ({', '.join(facts)})"


def control_text(control: Control) -> str:
    """Return a control in a few words."""
    if control.choices:
        shown = ", ".join(control.choices[:4]) + (", …" if len(control.choices) > 4 else "")
        return f"`{control.id}` ({shown})"
    ends = [format_quantity(end, control.unit) for end in (control.lo, control.hi)]
    return f"`{control.id}` ({ends[0]} to {ends[1]})"
