"""`rigproof kinds`: what module sheets are built from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson
from rigproof.cli.screen import command_name, finish, grid, heading, rule, show_table

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.kinds.base import Kind


def kinds(
    name: Annotated[
        str | None, Parameter(help="a section kind; without it, all are listed")
    ] = None,
    /,
    *,
    as_json: AsJson = False,
) -> int:
    """List the section kinds, or show one: its ports, parameters, options and source."""
    from rigproof.cli.problems import unknown
    from rigproof.kinds import KINDS
    from rigproof.net.kind_facts import kind_data, usable_kinds

    usable = {name: KINDS[name] for name in usable_kinds()}
    if name is None:
        data = {"kinds": [kind_data(k) for k in usable.values()]}
        return finish("kinds", data, lambda c: _list(c, list(usable.values())), is_json=as_json)
    if name not in usable:
        raise unknown("section kind", name, usable)
    kind = usable[name]
    return finish("kinds", kind_data(kind), lambda c: _show(c, kind), is_json=as_json)


def _list(console: Console, all_kinds: list[Kind]) -> None:
    from rigproof.net.kind_facts import first_sentence

    heading(console, "Section kinds", f"{len(all_kinds)}")
    table = grid("!", "<")
    for kind in all_kinds:
        table.add_row(kind.name, first_sentence(kind.doc))
    show_table(console, table)
    rule(console)
    console.print(f"{command_name()} kinds NAME shows ports and parameters", style="dim")


def _show(console: Console, kind: Kind) -> None:
    from rich.text import Text

    from rigproof.units import format_quantity

    heading(console, kind.name, "section kind")
    for paragraph in kind.doc.strip().split("\n\n"):
        console.print(paragraph.replace("\n", " "))
        console.print()
    if kind.ways is not None:
        least, most, usual = kind.ways
        console.print(f"ways: {least} to {most}, {usual} where a sheet is silent")
        console.print()
    for title, ports in (("input", kind.inputs), ("output", kind.outputs)):
        if ports:
            table = grid("!", "<", titles=(title, ""))
            for port in ports:
                many = "-1 ... -N" if port.many else ""
                midi = " (MIDI)" if port.is_midi else ""
                table.add_row(f"{port.name}{many}", f"{port.doc}{midi}")
            show_table(console, table)
            console.print()
    if kind.params:
        table = grid("<", ">", "<", "<", titles=("parameter", "usual", "range", ""))
        for p in kind.params:
            if p.choices:
                usual_text, span = p.choices[round(p.default)], " | ".join(p.choices)
            else:
                usual_text = format_quantity(p.default, p.unit)
                span = f"{format_quantity(p.lo, p.unit)} to {format_quantity(p.hi, p.unit)}"
            table.add_row(f"{p.name}{'-1 ... -N' if p.many else ''}", usual_text, span, p.doc)
        show_table(console, table)
        console.print()
    if kind.options:
        table = grid("!", "<", "<", titles=("option", "usual", ""))
        for o in kind.options:
            table.add_row(o.name, Text(str(o.default)), o.doc)
        show_table(console, table)
