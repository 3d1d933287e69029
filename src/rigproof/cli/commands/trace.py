"""`rigproof trace`: from a control, a jack or a section to all that it ends in."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson, PatchOption
from rigproof.cli.loading import open_project
from rigproof.cli.problems import UsageError
from rigproof.cli.proof import pulse_data, pulse_text
from rigproof.cli.screen import (
    ACCENT,
    db_text,
    finish,
    grid,
    heading,
    rule,
    safe_text,
    show_table,
)
from rigproof.cli.volts_text import delay_text, level_data, range_text, swing_text
from rigproof.readings.telling import told
from rigproof.units import db_from_ratio

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

    from rigproof.readings.trace import Hop, Trace


def trace(
    start: Annotated[
        str, Parameter(help="module.control, module.jack or module.section to start from")
    ],
    /,
    *,
    project: PatchOption = None,
    at: Annotated[
        float | None, Parameter(help="where the control stands; for a MIDI fader also 0 to 127")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Follow a fader, a jack or a section to all it ends in: at each hop the volts, the level and the delay so far."""
    from rigproof.readings.proof import read
    from rigproof.readings.trace import trace as follow

    opened = open_project(project)
    if at is not None and start not in opened.net.controls:
        raise UsageError(f"--at goes with a control, and '{start}' is none")
    try:
        found = follow(read(opened.net), start, at=at)
    except ValueError as error:
        raise UsageError("--at cannot be that", found=f"{at:g}", expected=str(error)) from None
    return finish("trace", _data(found), lambda c: _show(c, found), is_json=as_json)


def _data(found: Trace) -> dict[str, Any]:
    heard = found.heard
    return {
        "start": found.start,
        "at": found.at,
        "cc": None
        if found.message is None
        else {
            "number": found.message.number,
            "channel": found.message.channel,
            "value": found.message_value,
        },
        "heard_after_s": None if heard is None else [heard.lo_s, heard.hi_s],
        "told": told(found),
        "hops": [_hop_data(hop) for hop in found.hops],
    }


def _hop_data(hop: Hop) -> dict[str, Any]:
    return {
        "index": hop.index,
        "parent": hop.parent,
        "place": hop.place,
        "name": hop.name,
        "through": hop.through or None,
        "kind": hop.kind or None,
        "output": hop.output or None,
        "signal": hop.signal,
        "proved_v": None if hop.span is None else [hop.span.lo, hop.span.hi],
        "usual": None if hop.level is None else level_data(hop.level),
        "dbu": hop.dbu,
        "change_db": hop.change_db,
        "pulses": None if hop.pulse is None else pulse_data(hop.pulse),
        "after_s": None if hop.arrival is None else [hop.arrival.lo_s, hop.arrival.hi_s],
        "is_again": hop.is_again,
    }


def title_of(found: Trace) -> str:
    """Return what is traced in one line, as in `faders.f5 at 64: CC 5 = 64`."""
    title = found.start
    if found.at is not None:
        title += f" at {found.at:.4g}"
    if found.message is not None and found.message_value is not None:
        message = found.message
        title += f": CC {message.number} = {found.message_value:.0f}, channel {message.channel}"
    return title


def _show(console: Console, found: Trace) -> None:
    heading(console, title_of(found), "trace")
    table = grid("<", ">", "<", ">", titles=["hop", "proved V", "usual", "after"])
    depths = branch_depths(found)
    for hop, depth in zip(found.hops, depths, strict=True):
        span = "" if hop.span is None else range_text(hop.span.lo, hop.span.hi)
        if hop.place.value == "ear":
            span = ""  # what comes out there are numbers and no volts
        after = "" if hop.arrival is None else delay_text((hop.arrival.lo_s, hop.arrival.hi_s))
        table.add_row(_place(hop, depth), span, _usual(hop), after)
    show_table(console, table)
    rule(console)
    sentence = textwrap.fill(
        f"{safe_text(told(found))}.", max(20, console.width), break_on_hyphens=False
    )
    console.print(sentence, highlight=False, markup=False, soft_wrap=True)
    heard = found.heard
    if heard is None:
        console.print("not heard at the way out", style="bold")
    else:
        console.print(f"heard after {delay_text((heard.lo_s, heard.hi_s))}", style="bold")


def branch_depths(found: Trace) -> list[int]:
    """Return how often the way to each hop has branched: a chain stays where it is, only branches are indented."""
    children: dict[int | None, int] = {}
    for hop in found.hops:
        children[hop.parent] = children.get(hop.parent, 0) + 1
    depths: list[int] = []
    for hop in found.hops:
        above = 0 if hop.parent is None else depths[hop.parent]
        depths.append(above + (hop.parent is not None and children[hop.parent] > 1))
    return depths


def _place(hop: Hop, depth: int) -> Text:
    from rich.text import Text

    twig = " " * (depth - 1) + "└ " if depth else ""
    way = hop.through.partition(" ")[0] if hop.through.startswith("line ") else hop.through
    through = f" ({way})" if way else ""
    again = " again" if hop.is_again else ""
    is_end = hop.place.value == "ear"
    return Text.assemble(
        (twig, "dim"), (hop.name, ACCENT if is_end else ""), (f"{through}{again}", "dim")
    )


def _usual(hop: Hop) -> str:
    if hop.level is None:
        return ""
    if hop.pulse is not None and hop.signal is not None and hop.signal.is_pulses:
        return pulse_text(hop.pulse)
    if hop.place.value == "ear":
        return f"peak {db_text(db_from_ratio(hop.level.peak_v))} dBFS"
    if hop.dbu is None:
        return swing_text(hop.level)
    change = ""
    if hop.change_db is not None and abs(hop.change_db) >= 0.05:
        change = f", {db_text(hop.change_db)} dB"
    return f"{db_text(hop.dbu)} dBu{change}"
