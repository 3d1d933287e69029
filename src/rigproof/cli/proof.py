"""The proof of a patch on paper: its survey, then its findings, worst first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigproof.checks.base import Finding, Severity
from rigproof.cli.screen import (
    ACCENT,
    FINE,
    SHOW_STOPPED,
    bar,
    command_name,
    db_text,
    grid,
    heading,
    minutes,
    rule,
    safe_text,
    show_table,
)
from rigproof.kinds.base import Beat, Pulse
from rigproof.readings.heard import Heard
from rigproof.readings.level import Headroom
from rigproof.readings.over_set import LoudestBar
from rigproof.readings.survey import LOCKED, Survey
from rigproof.units import plural, quarter_s

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

MOST_CLOCKS = 12
"""Branches of the clock tree that are shown to people; programs get all."""
WORDS = {
    Severity.STOPS_THE_SHOW: ("stops the show", "✕"),
    Severity.HURTS: ("hurts", "▲"),
    Severity.WORTH_KNOWING: ("worth knowing", "·"),
}


@dataclass(frozen=True, slots=True)
class Proof:
    """What `check` has to say about a patch."""

    survey: Survey
    findings: tuple[Finding, ...]
    heard: Heard | None = None
    """What a stretch of sound has shown, where one was played."""

    def count(self, severity: Severity) -> int:
        """Return how many findings of a severity nobody has declined."""
        return sum(f.severity is severity and f.declined is None for f in self.findings)

    @property
    def code(self) -> int:
        """The exit code: 1 when a finding would stop the show and nobody has declined it."""
        return SHOW_STOPPED if self.count(Severity.STOPS_THE_SHOW) else FINE

    @property
    def verdict(self) -> str:
        """The whole proof in one line; a declined finding is counted apart."""
        stopping, hurting, minor = (self.count(severity) for severity in Severity)
        declined = sum(f.declined is not None for f in self.findings)
        counts = [
            f"{count} {words}"
            for count, words in (
                (stopping, "would stop it" if self.code else ""),
                (hurting, "would hurt"),
                (minor, "worth knowing"),
                (declined, "declined"),
            )
            if count
        ]
        start = "This rig would stop the show" if self.code else "Nothing here would stop the show"
        return f"{start}: {', '.join(counts)}." if counts else f"{start}."


def proof_data(proof: Proof) -> dict[str, Any]:
    """Return a proof for programs."""
    s = proof.survey
    return {
        "survey": {
            "rig": s.rig,
            "patch": s.patch,
            "set": s.setlist,
            "tempo_bpm": s.tempo_bpm,
            "modules": s.modules,
            "outside": s.outside,
            "cables": s.cables,
            "maps": s.maps,
            "rows": [
                {"row": r.row, "hp": r.hp, "used_hp": r.used_hp, "free_hp": r.free_hp}
                for r in s.rows
            ],
            "rails": [
                {
                    "rail": r.rail,
                    "given_ma": r.given_ma,
                    "drawn_ma": r.drawn_ma,
                    "free_ratio": r.free_ratio,
                }
                for r in s.rails
            ],
            "way_out": [headroom_data(h) for h in s.way_out],
            "loudest": [
                {
                    "at": f"{b.section}.{b.port}",
                    "section": b.passage,
                    "bar": b.bar,
                    "at_s": b.at_s,
                    "peak_dbfs": b.peak_dbfs,
                    "headroom_db": b.headroom_db,
                }
                for b in s.loudest
            ],
            "clocks": [
                {"name": c.name, "parent": c.parent, "depth": c.depth, **pulse_data(c.pulse)}
                for c in s.clocks
            ],
            "cycle": {
                "quarters": s.cycle.quarters,
                "bars": s.cycle.bars,
                "repeats": s.cycle.repeats,
            },
            "length_s": s.timeline.length_s,
            "sections": [
                {
                    "id": p.id,
                    "title": p.title,
                    "start_s": p.start_s,
                    "length_s": p.length_s,
                    "tempo_bpm": p.tempo_bpm,
                }
                for p in s.timeline.passages
            ],
        },
        "counts": {severity.value: proof.count(severity) for severity in Severity},
        "findings": [finding_data(f) for f in proof.findings],
        "verdict": proof.verdict,
        "heard": None if proof.heard is None else heard_data(proof.heard),
    }


def heard_data(heard: Heard) -> dict[str, Any]:
    """Return the stretch that was played, for programs."""
    return {
        "title": heard.title,
        "seconds": heard.seconds,
        "integrated_lufs": heard.integrated_lufs,
        "true_peak_dbtp": heard.true_peak_dbtp,
    }


def finding_data(finding: Finding) -> dict[str, Any]:
    """Return a finding for programs."""
    fix = finding.fix
    return {
        "finding": finding.check,
        "severity": finding.severity,
        "at": finding.at,
        "message": finding.message,
        "evidence": finding.evidence,
        "fix": None if fix is None else {"words": fix.words, "is_safe": fix.is_safe},
        "declined": finding.declined,
        "file": finding.where.file or None,
        "line": finding.where.line,
        "key": finding.where.key or None,
    }


def headroom_data(headroom: Headroom) -> dict[str, Any]:
    """Return what arrives at one ear, for programs."""
    return {
        "at": f"{headroom.section}.{headroom.port}",
        "typical_dbu": headroom.typical_dbu,
        "full_scale_dbu": headroom.full_scale_dbu,
        "typical_dbfs": headroom.typical_dbfs,
        "peak_dbfs": headroom.peak_dbfs,
        "headroom_db": headroom.headroom_db,
        "proved_headroom_db": headroom.proved_headroom_db,
    }


def pulse_data(pulse: Pulse) -> dict[str, Any]:
    """Return pulses for programs; `per_quarter` and `cycle_quarters` are exact fractions as text."""
    return {
        "beat": pulse.beat,
        "per_quarter": pulse.per_quarter,
        "cycle_quarters": pulse.cycle_quarters,
        "length_s": pulse.length_s,
        "hz": pulse.hz,
        "chance": pulse.chance,
    }


def pulse_text(pulse: Pulse) -> str:
    """Return pulses in a few words.

    >>> from fractions import Fraction
    >>> pulse_text(Pulse.steady(Fraction(1, 4))), pulse_text(Pulse.steady(Fraction(24)))
    ('1 in 4 quarters', '24 a quarter')
    """
    if pulse.beat is Beat.NONE:
        return ""
    if pulse.beat is Beat.IRREGULAR:
        return "irregular"
    if pulse.beat is Beat.FREE:
        return f"{pulse.hz:.3g} Hz, free" if pulse.hz else "free"
    rate = pulse.per_quarter
    if rate is None:
        return pulse.beat.value
    if rate == 0:
        return "never"
    text = f"{rate} a quarter" if rate >= 1 else f"{rate.numerator} in {rate.denominator} quarters"
    return text + (f", {100 * pulse.chance:.0f} % of them" if pulse.chance < 1.0 else "")


def show_proof(console: Console, proof: Proof) -> None:
    """Print a proof for people."""
    show_survey(console, proof.survey, proof.heard)
    show_findings(console, proof)


def show_survey(console: Console, s: Survey, heard: Heard | None = None) -> None:
    """Print the survey: one subject a line, numbers aligned."""
    heading(console, f"{safe_text(s.rig)} · {safe_text(s.patch)}", f"{s.tempo_bpm:g} bpm")
    table = grid("!", "<")
    cells = max(6, min(24, console.width - 56))
    counts = [
        (s.modules, "module", "modules"),
        (s.outside, "thing beside the case", "things beside the case"),
        (s.cables, "cable", "cables"),
        (s.maps, "map", "maps"),
    ]
    table.add_row("rig", " · ".join(plural(*c) for c in counts if c[0]) or "empty")
    if s.setlist is not None:
        sections = plural(len(s.timeline.passages), "section")
        table.add_row(
            "set", f"{safe_text(s.setlist)} · {minutes(s.timeline.length_s)} · {sections}"
        )
    if s.rows:
        table.add_row("case", _rows(s, cells))
    if s.rails:
        table.add_row("power", _rails(s, cells))
    if s.way_out:
        table.add_row("way out", _way_out(s.way_out))
    if s.loudest:
        table.add_row("loudest", _loudest(s.loudest))
    if s.clocks:
        table.add_row("clocks", _clocks(s))
    table.add_row("repeats", cycle_text(s))
    if heard is not None:
        table.add_row("heard", heard_text(heard))
    show_table(console, table)


def heard_text(heard: Heard) -> str:
    """Return what was played for the proof, in a line."""
    parts = [f"{minutes(heard.seconds)} of {safe_text(heard.title)}"]
    if heard.integrated_lufs is not None:
        parts.append(f"{db_text(heard.integrated_lufs)} LUFS")
    if heard.true_peak_dbtp is not None:
        parts.append(f"peak {db_text(heard.true_peak_dbtp)} dBTP")
    return " · ".join(parts)


def _rows(s: Survey, cells: int) -> Table:
    table = grid("!", "<", ">", ">")
    for r in s.rows:
        free = f"{r.free_hp} free" if r.free_hp >= 0 else f"{-r.free_hp} too many"
        share = r.used_hp / r.hp if r.hp else 0.0
        table.add_row(f"row {r.row}", bar(share, cells), f"{r.used_hp} of {r.hp} HP", free)
    return table


def _rails(s: Survey, cells: int) -> Table:
    table = grid("!", "<", ">", ">")
    for r in s.rails:
        share = r.drawn_ma / r.given_ma if r.given_ma else 2.0
        free = f"{100 * r.free_ratio:.0f} % free" if r.given_ma else "no such rail"
        if r.drawn_ma > r.given_ma > 0.0:
            free = f"{r.drawn_ma - r.given_ma:g} mA too much"
        table.add_row(r.rail, bar(share, cells), f"{r.drawn_ma:g} of {r.given_ma:g} mA", free)
    return table


def _way_out(ears: Sequence[Headroom]) -> Table:
    table = grid("<", ">", ">", ">")
    for h in ears:
        if h.level.rms_v == 0.0 and h.level.peak_v == 0.0:
            continue
        peak = "" if h.peak_dbfs is None else f"peak {db_text(h.peak_dbfs)} dBFS"
        room = "" if h.headroom_db is None else f"{h.headroom_db:.1f} dB headroom"
        if h.headroom_db is not None and h.headroom_db < 0.0:
            room = f"{-h.headroom_db:.1f} dB too hot"
        table.add_row(h.section, f"usual {db_text(h.typical_dbu)} dBu", peak, room)
    if table.row_count == 0:
        table.add_row("silent: no sound comes out", "", "", "")
    return table


def _loudest(bars: Sequence[LoudestBar]) -> Table:
    table = grid("<", "<", ">", ">")
    for b in bars:
        room = f"{b.headroom_db:.1f} dB headroom"
        if b.headroom_db < 0.0:
            room = f"{-b.headroom_db:.1f} dB too hot"
        where = f"bar {b.bar} of {safe_text(b.passage)}"
        table.add_row(b.section, where, f"peak {db_text(b.peak_dbfs)} dBFS", room)
    return table


def _clocks(s: Survey) -> Table:
    table = grid("!", "<")
    for branch in s.clocks[:MOST_CLOCKS]:
        twig = "  " * (branch.depth - 1) + "└ " if branch.depth else ""
        table.add_row(f"{twig}{branch.name}", pulse_text(branch.pulse))
    more = len(s.clocks) - MOST_CLOCKS
    if more > 0:
        table.add_row(f"and {more} more", "all of them with --json")
    return table


def cycle_text(s: Survey) -> str:
    """Return how long the patch takes to repeat, in words."""
    cycle = s.cycle
    if cycle.quarters is None:
        return "nothing in it is locked to the tempo"
    length = minutes(float(cycle.quarters) * quarter_s(s.tempo_bpm))
    bars = f"{cycle.bars} bars" if cycle.bars != 1 else "1 bar"
    text = f"after {bars}, {length}"
    free = sum(c.pulse.beat not in LOCKED for c in s.clocks)
    if free:
        text += f"; {plural(free, 'clock')} not locked to it"
    if cycle.by_chance:
        text += f"; {plural(len(cycle.by_chance), 'track')} by chance"
    return text


def show_findings(console: Console, proof: Proof) -> None:
    """Print the findings, worst first, and the verdict."""
    from rich.padding import Padding
    from rich.text import Text

    rule(console)
    for severity in Severity:
        told = [f for f in proof.findings if f.severity is severity and f.declined is None]
        if not told:
            continue
        word, sign = WORDS[severity]
        strong = severity is Severity.STOPS_THE_SHOW
        console.print(Text(f"{sign} {word}", style=f"bold {ACCENT}" if strong else "bold"))
        check = ""
        for finding in told:
            if finding.check != check:
                check = finding.check
                show_table(console, Padding(Text(check, style="bold"), (0, 0, 0, 2)))
            show_finding(console, finding)
    declined = [f for f in proof.findings if f.declined is not None]
    if declined:
        console.print(Text("declined", style="bold"))
        for finding in declined:
            reason = safe_text(finding.declined or "")
            console.print(
                Text(f"  {finding.check} at {safe_text(finding.at)}: {reason}", style="dim")
            )
    for caution in cautions(proof):
        console.print(Text(f"Caution: {caution}"))
        console.print()
    console.print(Text(proof.verdict, style="bold"))
    if any(f.declined is None for f in proof.findings):
        console.print(f"{command_name()} explain NAME says more about a finding", style="dim")


def cautions(proof: Proof) -> list[str]:
    """Return what to mind before a hand mends what was found, each once: power, the bus, hearing."""
    from rigproof.checks import CHECKS

    told = [CHECKS[f.check].caution for f in proof.findings if f.check in CHECKS]
    return [caution for caution in dict.fromkeys(told) if caution]


def show_finding(console: Console, finding: Finding) -> None:
    """Print one finding: its place and line, what it says, the numbers, the fix."""
    from rich.padding import Padding
    from rich.text import Text

    where = f"  {finding.where}" if finding.where.file else ""
    title = Text.assemble((safe_text(finding.at), ACCENT), (safe_text(where), "dim"))
    lines = grid("!", "<")
    if finding.evidence:
        numbers = filled(evidence_texts(finding), console.width - 17)
        lines.add_row(Text("numbers", style="dim"), numbers)
    if finding.fix is not None:
        safe = " (safe)" if finding.fix.is_safe else ""
        lines.add_row(Text("fix", style="dim"), safe_text(finding.fix.words) + safe)
    show_table(console, Padding(title, (0, 0, 0, 4)))
    show_table(console, Padding(Text(safe_text(finding.message)), (0, 0, 0, 6)))
    show_table(console, Padding(lines, (0, 0, 1, 6)))


def filled(parts: Sequence[str], width: int) -> str:
    """Return parts in lines of at most the width, no part broken unless it alone is longer.

    >>> filled(["draw 90 mA", "rail 80 mA", "over 10 mA"], 25).splitlines()
    ['draw 90 mA · rail 80 mA', 'over 10 mA']
    """
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + 3 + len(part) <= width:
            lines[-1] += f" · {part}"
        else:
            lines.append(part)
    return "\n".join(lines)


UNIT_SUFFIXES = {
    # suffix of the key -> how the unit is written
    "ma": "mA",
    "v": "V",
    "mv": "mV",
    "db": "dB",
    "dbu": "dBu",
    "dbfs": "dBFS",
    "hz": "Hz",
    "khz": "kHz",
    "s": "s",
    "ms": "ms",
    "mm": "mm",
    "cm": "cm",
    "hp": "HP",
    "bpm": "bpm",
    "ohm": "ohm",
    "cents": "cents",
    "ratio": "",
    "percent": "%",
    "quarters": "quarters",
    "bytes": "bytes",
}


def evidence_texts(finding: Finding) -> list[str]:
    """Return the numbers of a finding with their units, in its own order.

    >>> evidence_texts(Finding("rig", "too much", {"draw_ma": 2600.0, "sent_bytes_s": 3125.0}))
    ['draw 2600 mA', 'sent 3125 bytes/s']
    """
    return [_number(key, value) for key, value in finding.evidence.items()]


def _number(key: str, value: float) -> str:
    name, _, suffix = key.rpartition("_")
    if key.endswith("_bytes_s"):
        name, unit = key.removesuffix("_bytes_s"), "bytes/s"
    elif name and suffix in UNIT_SUFFIXES:
        unit = UNIT_SUFFIXES[suffix]
    else:
        name, unit = key, ""
    number = f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"
    return f"{name.replace('_', ' ')} {number} {unit}".rstrip()
