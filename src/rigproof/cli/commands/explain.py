"""`rigproof explain`: what a finding means, in the words that its check carries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson
from rigproof.cli.screen import command_name, finish, grid, heading, rule, show_table

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.checks.base import Check


def explain(
    name: Annotated[str | None, Parameter(help="a finding; without it, all are listed")] = None,
    /,
    *,
    as_json: AsJson = False,
) -> int:
    """Say what a finding means, what it does on stage, how it is mended and where that is known from."""
    from rigproof.checks import CHECKS
    from rigproof.cli.problems import unknown

    if name is None:
        data = {"findings": [_data(c) for c in CHECKS.values()]}
        return finish("explain", data, lambda c: _list(c, list(CHECKS.values())), is_json=as_json)
    if name not in CHECKS:
        raise unknown("finding", name, CHECKS)
    found = CHECKS[name]
    return finish("explain", _data(found), lambda c: _show(c, found), is_json=as_json)


def _data(check: Check) -> dict[str, object]:
    return {
        "finding": check.name,
        "severity": check.severity,
        "family": check.family,
        "since": check.since,
        "parts": check.parts,
        "caution": check.caution,
    }


def _show(console: Console, check: Check) -> None:
    from rich.text import Text

    heading(console, check.name, f"{check.family} · {check.severity.value.replace('-', ' ')}")
    console.print(check.parts["Fault"])
    table = grid("!", "<")
    for part, text in check.parts.items():
        if part != "Fault":
            table.add_row(Text(part.lower(), style="dim"), text)
    if check.caution:
        table.add_row(Text("caution", style="dim"), check.caution)
    show_table(console, table)


def _list(console: Console, checks: list[Check]) -> None:
    from rich.text import Text

    heading(console, "Findings", f"{len(checks)}")
    table = grid("!", "<")
    family = ""
    for check in checks:
        if check.family != family:
            family = check.family
            table.add_row(Text(family, style="bold"), "")
        table.add_row(f"  {check.name}", check.parts["Fault"])
    show_table(console, table)
    rule(console)
    console.print(f"{command_name()} explain NAME says more", style="dim")
