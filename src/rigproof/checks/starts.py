"""Starts: what waits for a gate that never comes."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.checks.base import Bench, Finding, Severity, check
from rigproof.checks.levels import is_too_low
from rigproof.kinds.base import ZERO, Beat
from rigproof.kinds.gate_sequencer import rhythm_of
from rigproof.model.sheet import Signal, Way
from rigproof.net.graph import Contact

STARTS = {
    "ad-envelope": ("gate",),
    "adsr-envelope": ("gate",),
    "clap": ("trigger",),
    "hi-hat": ("closed", "open"),
    "kick-drum": ("trigger",),
    "sample-voice": ("trigger",),
    "snare-drum": ("trigger",),
}
"""The inputs that start a kind which stays at 0 V until then."""
PATTERN = "gate-sequencer"


@check("trigger-never-comes", severity=Severity.HURTS)
def trigger_never_comes(bench: Bench) -> Iterator[Finding]:
    """An envelope, a drum or a sample player is plugged and has a part in what is heard, and nothing ever starts it.

    On stage: what it should open stays shut; the drum is not there.
    Fix: none is computed: what is to start it is the performer's to say.
    Blind to: what a hand starts beyond the set, such as a loop switch; what takes its way inside a module or over a
    ribbon; gates that come only sometimes, chance that is turned down, and patterns that the set changes.
    Source: an output that no sample can bring away from 0 V is proved by interval arithmetic (R. E. Moore, Interval
    Analysis, 1966); a pattern without a hit gives no pulse (definition).
    """
    waiting = [s for s in bench.net.sections if s.kind.name in STARTS]
    if not waiting:
        return
    outs = _plugged_outs(bench)
    for section in waiting:
        out = next((outs[row] for row in section.outs if row in outs), None)
        if out is None:
            continue
        gates = {
            section.input_row(port): bench.jack_into(section, port)
            for port in STARTS[section.kind.name]
        }
        if any(c is not None and _is_told_already(bench, c) for c in gates.values()):
            continue
        if all(bench.volts(row) == ZERO for row in section.outs):
            why = "gets no gate that could start it"
        elif all(_is_from_empty_pattern(bench, row) for row in gates):
            why = "gets a pattern without a hit"
        else:
            continue
        contact = next((c for c in gates.values() if c is not None), None)
        place = section.name if contact is None else contact.name
        yield Finding(
            place,
            f"{place} {why}; {out.name} is plugged and stands still.",
            {"possible_v": max(bench.volts(row).hi for row in gates), "inputs": len(gates)},
            None,
            section.where if contact is None else contact.jack.where,
        )


def _plugged_outs(bench: Bench) -> dict[int, Contact]:
    """Return the plugged outputs that have a part in what is heard, by the row that drives them; no ribbons."""
    heard = bench.readings.heard.rows
    return {
        c.source_row: c
        for c in reversed(tuple(bench.net.contacts.values()))
        if c.jack.way is Way.OUT
        and c.jack.signal is not Signal.LINK
        and c.is_plugged
        and c.source_row in heard
    }


def _is_told_already(bench: Bench, contact: Contact) -> bool:
    """Whether another check says why nothing comes: a needed input is open, or what comes is too low for it."""
    if not bench.is_driven(contact):
        return contact.jack.needed
    return contact.is_plugged and contact.jack.signal.is_pulses and is_too_low(bench, contact)


def _is_from_empty_pattern(bench: Bench, row: int) -> bool:
    """Whether a row comes straight from a pattern that is stepped by a clock and is written without a hit."""
    source = bench.driver(row)
    return (
        source is not None
        and source.kind.name == PATTERN
        and bench.pulse(source.input_row("clock")).beat is not Beat.NONE
        and source.setting.span("fill").hi < 0.0  # no knob fills it
        and all(span.is_point for span in source.setting.spans.values())
        and not any(rhythm_of(source.setting))
    )
