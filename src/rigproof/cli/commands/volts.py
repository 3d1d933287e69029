"""`rigproof volts`: what is read at every jack, and on request what a simulation sees there."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson, Target
from rigproof.cli.loading import Opened, open_project
from rigproof.cli.problems import UsageError, unknown
from rigproof.cli.proof import pulse_data, pulse_text
from rigproof.cli.screen import finish, grid, heading, rule, safe_text, show_table
from rigproof.cli.volts_text import delay_text, level_data, range_text, swing_text
from rigproof.kinds.base import Beat
from rigproof.model.sheet import Way
from rigproof.net.timeline import timeline

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.kinds.base import Span
    from rigproof.net.graph import Contact
    from rigproof.readings.proof import JackReading, Readings

LONGEST_S = 3600.0
"""More is not simulated at one go. [s]"""
ARROWS = {Way.IN: "←", Way.OUT: "→", Way.BARE: "·"}


@dataclass(frozen=True, slots=True)
class Line:
    """One jack as it is shown."""

    name: str
    reading: JackReading
    heard_after_s: tuple[float, float] | None
    """When what is here is heard at the way out, first and last; None when it is not. [s]"""
    seen_v: tuple[float, float] | None = None


def volts(
    path: Target = None,
    /,
    *,
    jack: Annotated[
        list[str] | None,
        Parameter(help="only this jack, module.jack; may be repeated", negative=""),
    ] = None,
    module: Annotated[
        list[str] | None,
        Parameter(help="only the jacks of this module; may be repeated", negative=""),
    ] = None,
    all_jacks: Annotated[
        bool, Parameter("--all", negative="", show_default=False, help="open jacks too")
    ] = False,
    seconds: Annotated[
        float | None, Parameter(help="also simulate so many seconds and show what was seen")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Show the volts at every jack: the range that nothing can leave, what is usual, pulses, and when it is heard.

    The range is proved for every position of every control that the set or a map can move, not only for today's.
    """
    from rigproof.readings.proof import read

    if seconds is not None and not 0.0 < seconds <= LONGEST_S:
        raise UsageError(
            "--seconds cannot be that", found=f"{seconds:g}", expected=f"above 0 to {LONGEST_S:g}"
        )
    opened = open_project(path)
    readings = read(opened.net)
    names = chosen_names(opened, jack or [], module or [])
    if not all_jacks and not jack:
        names = [n for n in names if is_in_use(opened.net.contacts[n])]
    seen = simulate(opened, seconds) if seconds is not None else None
    lines = [_line(readings, name, seen) for name in names]
    left_out = 0 if jack or module else len(opened.net.contacts) - len(lines)
    data = {"seconds": seconds, "jacks": [_data(line) for line in lines]}
    return finish(
        "volts", data, lambda c: _show(c, opened, lines, left_out, seconds), is_json=as_json
    )


def is_in_use(contact: Contact) -> bool:
    """Whether anything is plugged into a jack, or stands there by a normal."""
    return contact.is_plugged or contact.jack.normal_v is not None


def chosen_names(opened: Opened, jacks: Iterable[str], modules: Iterable[str]) -> list[str]:
    """Return the contacts that were asked for, in the order of the net; all of them when nothing was."""
    contacts = opened.net.contacts
    known_modules = dict.fromkeys(c.module for c in contacts.values())
    known_jacks = dict.fromkeys(f"{c.module}.{c.jack.id}" for c in contacts.values())
    for name in modules:
        if name not in known_modules:
            raise unknown("module", name, known_modules)
    for name in jacks:
        if name not in known_jacks and name not in contacts:
            raise unknown("jack", name, known_jacks)
    wanted_modules, wanted_jacks = set(modules), set(jacks)
    if not wanted_modules and not wanted_jacks:
        return list(contacts)
    return [
        name
        for name, c in contacts.items()
        if c.module in wanted_modules
        or name in wanted_jacks
        or f"{c.module}.{c.jack.id}" in wanted_jacks
    ]


def simulate(opened: Opened, seconds: float) -> Mapping[int, tuple[float, float]]:
    """Return the lowest and highest voltage of every row over the first so many seconds of the set."""
    from rigproof.cli.progress import progress
    from rigproof.cli.rendering import player_for

    player = player_for(opened, timeline(opened.net).events, seconds, watch=True)
    with progress("simulating") as work:
        done_s = 0.0
        for chunk in player.chunks(seconds):
            done_s += chunk.shape[1] / player.plan.rate_hz
            work.tell(done_s, seconds)
    return {
        row.index: (float(player.lows_v[row.index]), float(player.highs_v[row.index]))
        for row in opened.net.rows
    }


def _line(readings: Readings, name: str, seen: Mapping[int, tuple[float, float]] | None) -> Line:
    from rigproof.readings.delay import arrivals

    reading = readings.at(name)
    row = reading.contact.row
    paths = readings.paths
    ears = [a for r, a in arrivals(paths, [row]).items() if r in set(paths.ear_rows())]
    heard = (min(a.lo_s for a in ears), max(a.hi_s for a in ears)) if ears and row else None
    return Line(name, reading, heard, None if seen is None else seen[row])


def _data(line: Line) -> dict[str, Any]:
    r = line.reading
    jack = r.contact.jack
    is_volts = jack.signal.is_volts
    return {
        "jack": line.name,
        "way": jack.way,
        "signal": jack.signal,
        "is_plugged": r.contact.is_plugged,
        "proved_v": [r.span.lo, r.span.hi] if is_volts else None,
        "usual": level_data(r.level) if is_volts else None,
        "pulses": pulse_data(r.pulse),
        "heard_after_s": line.heard_after_s,
        "seen_v": line.seen_v if is_volts else None,
        "is_inside": _is_inside(r.span, line.seen_v) if is_volts and line.seen_v else None,
    }


def _is_inside(span: Span, seen_v: tuple[float, float]) -> bool:
    slack = 1e-9 * max(1.0, span.peak)
    return span.lo - slack <= seen_v[0] and seen_v[1] <= span.hi + slack


def usual_text(reading: JackReading) -> str:
    """Return what is typical: pulses by their rate, all else by its level."""
    jack = reading.contact.jack
    signal = jack.signal
    if signal.is_pulses or (jack.way is Way.BARE and reading.pulse.beat is not Beat.NONE):
        return pulse_text(reading.pulse)
    return swing_text(reading.level) if signal.is_volts else ""


def _show(
    console: Console, opened: Opened, lines: Sequence[Line], left_out: int, seconds: float | None
) -> None:
    project = opened.project
    heading(console, f"Volts · {safe_text(project.patch.name)}", f"{len(lines)} jacks")
    outside = 0
    if seconds is None:
        table = grid(
            "!", "!", ">", "<", ">", titles=["jack", "", "proved V", "usual", "heard after"]
        )
    else:
        table = grid("!", ">", ">", "<", titles=["jack", "proved V", "seen V", "usual"])
    for line in lines:
        r = line.reading
        jack = r.contact.jack
        span = range_text(r.span.lo, r.span.hi) if jack.signal.is_volts else ""
        if seconds is None:
            heard = delay_text(line.heard_after_s)
            table.add_row(line.name, ARROWS[jack.way], span, usual_text(r), heard)
            continue
        seen = ""
        if jack.signal.is_volts and line.seen_v is not None and math.isfinite(line.seen_v[0]):
            seen = range_text(*line.seen_v)
            outside += not _is_inside(r.span, line.seen_v)
        table.add_row(line.name, span, seen, usual_text(r))
    show_table(console, table)
    rule(console)
    notes = []
    if left_out:
        notes.append(f"{left_out} open jacks left out; --all shows them")
    if seconds is not None:
        notes.append(
            f"{seconds:g} s simulated; "
            + ("all inside what is proved" if not outside else f"{outside} OUTSIDE what is proved")
        )
    if notes:
        console.print("; ".join(notes), style="dim")
