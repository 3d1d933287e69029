"""Clocks: whether pulses come at the rate that a jack expects, last long enough, and ever meet again."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.checks.fixes import (
    LENGTHS,
    Source,
    control_that_fits,
    controls_for,
    pulse_with,
    source_of,
    with_value,
)
from rigproof.checks.levels import inputs
from rigproof.kinds.base import Beat, Setting
from rigproof.kinds.stereo_delay import NOTE_NAMES, NOTES
from rigproof.model.edits import Replug, SetControl
from rigproof.model.sheet import Signal, Way
from rigproof.net.graph import Contact, NetSection
from rigproof.units import db_from_ratio, quarter_s

PPQN = "ppqn"
"""The parameter by which a section states how many clock pulses it takes for a quarter note."""
RATIOS = ("times", "division")
"""Parameters of whole numbers that make a clock faster or slower."""
ECHO = "stereo-delay"
"""The section kind that echoes in step with a clock."""
FADING_RATIO = 0.95
"""Feedback that a fix leaves: the echo falls by 0.45 dB each time round. Our choice."""
LONGEST_BARS = 256
"""What a patch without a set is given to meet again. Our choice. [bars]"""


def steady_inputs(bench: Bench) -> Iterator[tuple[Contact, Fraction, Fraction]]:
    """Yield the clock inputs that expect a rate and get pulses locked to the tempo: what they get and expect."""
    for contact in inputs(bench, Signal.CLOCK):
        pulse = bench.pulse(contact.row)
        expected = expected_ppqn(bench, contact)
        is_locked = pulse.beat in (Beat.STEADY, Beat.PATTERN) and pulse.chance == 1.0
        if expected is not None and is_locked and pulse.per_quarter is not None:
            yield contact, pulse.per_quarter, expected


def expected_ppqn(bench: Bench, contact: Contact) -> Fraction | None:
    """Return the pulses a quarter note that a jack expects: as its section is set, else as its sheet says."""
    for section in bench.readers(contact.row):
        told = told_ppqn(section)
        if section.module == contact.module and told is not None:
            return told
    return contact.jack.ppqn


def told_ppqn(section: NetSection) -> Fraction | None:
    """Return the pulses a quarter note that a section is set to; None where it has nothing to be told by.

    A choice counts by what is written on it, not by its place in the menu.
    """
    value = section.setting.values.get(PPQN)
    choices = next((p.choices for p in section.kind.params if p.name == PPQN), ())
    if value is None:
        return None
    if choices:
        return Fraction(choices[round(value)])
    return Fraction(value).limit_denominator(96) if value > 0.0 else None


def _rate_fix(bench: Bench, contact: Contact, wanted: Fraction) -> Fix | None:
    """Take another output of the same module that has the rate, else set receiver or sender."""
    source = source_of(bench, contact)
    return (
        _other_output(bench, contact, source, wanted)
        or _receiver_set(bench, contact, bench.pulse(contact.row).per_quarter)
        or _sender_set(bench, source, wanted)
    )


def _other_output(
    bench: Bench, contact: Contact, source: Source | None, wanted: Fraction
) -> Fix | None:
    """Move the plug to an output of the same module that gives the rate."""
    target = f"{contact.module}.{contact.jack.id}"
    cables = [bench.project.patch.cables[i] for i in bench.cables_at.get(target, ())]
    if source is None or len(cables) != 1:
        return None
    cable, here = cables[0], f"{source.contact.module}.{source.contact.jack.id}"
    for other in bench.net.contacts.values():
        if (
            other.module != source.contact.module
            or other.jack.way is not Way.OUT
            or not other.jack.signal.is_pulses
            or other.source_row is None
        ):
            continue
        pulse = bench.pulse(other.source_row)
        if pulse.beat is Beat.STEADY and pulse.per_quarter == wanted:
            new = f"{other.module}.{other.jack.id}"
            if cable.source == here and cable.target == target:
                return fix_of(Replug(here, target, new, target))
            if cable.target == here and cable.source == target:
                return fix_of(Replug(target, here, target, new))
    return None


def _receiver_set(bench: Bench, contact: Contact, found: Fraction | None) -> Fix | None:
    """Tell the receiver what it gets."""
    if found is None:
        return None
    for section in bench.readers(contact.row):
        for name, _, control in controls_for(bench, section, (PPQN,)):
            if str(found) in control.choices:
                return fix_of(SetControl(name, str(found)))
            if not control.choices and control.lo <= float(found) <= control.hi:
                return fix_of(SetControl(name, float(found)))
    return None


def _sender_set(bench: Bench, source: Source | None, wanted: Fraction) -> Fix | None:
    """Set the sender's ratio to the rate, where a whole number does it."""
    if source is None:
        return None
    ways = source.section.setting.ways
    params = [f"{p}-{i}" for p in RATIOS for i in range(1, ways + 1)]
    for name, param, control in controls_for(bench, source.section, (*RATIOS, *params)):
        lo, hi = sorted((control.lo, control.hi))
        for value in range(max(1, round(lo)), round(hi) + 1):
            pulse = pulse_with(bench, source, with_value(source.section, param, float(value)))
            if pulse.beat is Beat.STEADY and pulse.per_quarter == wanted:
                return fix_of(SetControl(name, value))
    return None


@check("clock-rate-unexpected", severity=Severity.STOPS_THE_SHOW)
def clock_rate_unexpected(bench: Bench) -> Iterator[Finding]:
    """A clock input gets another number of pulses a quarter note than it expects.

    On stage: the sequence runs at half or four times the tempo, the echo is off the grid.
    Fix: another output of the same clock that has the rate; else the receiver or the sender set to the other's.
    Blind to: clocks that run free or irregularly, and double or half tempo that is wanted; decline the finding there.
    Source: 1, 2, 4, 24 or 48 pulses a quarter note: common practice, no source; exact fractions (arithmetic).
    """
    for contact, found, expected in steady_inputs(bench):
        if found != expected:
            ratio = found / expected
            yield Finding(
                contact.name,
                f"{contact.name} expects {expected} pulses a quarter note and gets {found}: "
                f"{ratio} times the tempo.",
                {
                    "found_ppqn": float(found),
                    "expected_ppqn": float(expected),
                    "tempo_ratio": float(ratio),
                },
                _rate_fix(bench, contact, expected),
                contact.jack.where,
            )


@check("gate-too-short", severity=Severity.STOPS_THE_SHOW)
def gate_too_short(bench: Bench) -> Iterator[Finding]:
    """Pulses are shorter than the input is sure to see.

    On stage: hits go missing, never the same ones twice.
    Fix: the length of the pulse at its sender, just long enough.
    Blind to: senders whose pulse length the reading does not know, and cables so long that they round a pulse off.
    Source: 1 ms may be missed by slowly scanned inputs, 5 to 10 ms is safe: common practice, no source.
    """
    for contact in inputs(bench, Signal.GATE, Signal.TRIGGER, Signal.CLOCK):
        shortest_s, pulse = contact.jack.min_pulse_s, bench.pulse(contact.row)
        if shortest_s is None or pulse.length_s is None or pulse.length_s >= shortest_s - 1e-9:
            continue
        yield Finding(
            contact.name,
            f"{contact.name} needs pulses of {1e3 * shortest_s:g} ms and gets "
            f"{1e3 * pulse.length_s:.3g} ms.",
            {"pulse_s": pulse.length_s, "needed_s": shortest_s},
            _longer_pulse(bench, source_of(bench, contact), shortest_s),
            contact.jack.where,
        )


def _longer_pulse(bench: Bench, source: Source | None, needed_s: float) -> Fix | None:
    if source is None:
        return None

    def fits(setting: Setting) -> bool:
        length_s = pulse_with(bench, source, setting).length_s
        return length_s is not None and length_s >= needed_s

    return control_that_fits(bench, source.section, LENGTHS, fits, up=True)


# --- echoes ----------------------------------------------------------------------------------------------------------


def slowest_bpm(bench: Bench) -> float:
    """Return the slowest tempo of the set, or the patch's without one. [bpm]"""
    patch, setlist = bench.project.patch, bench.project.setlist
    if setlist is None or not setlist.sections:
        return patch.tempo_bpm
    tempo, found = setlist.tempo_bpm or patch.tempo_bpm, []
    for passage in setlist.sections:
        tempo = passage.tempo_bpm or tempo
        found.append(tempo)
    return min(found)


def echo_quarters(bench: Bench, section: NetSection, side: str) -> Fraction:
    """Return the length of an echo as it is set, by the clock that it really gets. [quarter notes]"""
    note = NOTES[NOTE_NAMES[round(section.setting.values[f"beats-{side}"])]]
    pulse = bench.pulse(section.input_row("clock"))
    if pulse.per_quarter is None or pulse.beat not in (Beat.STEADY, Beat.PATTERN):
        return note
    expects = Fraction(section.setting.values[PPQN]).limit_denominator(96)
    return note * expects / pulse.per_quarter


@check("echo-longer-than-memory", severity=Severity.HURTS)
def echo_longer_than_memory(bench: Bench) -> Iterator[Finding]:
    """An echo in step with the clock takes more memory than it has, at the slowest tempo of the set.

    On stage: from that tempo down the echo no longer follows and stumbles against the beat.
    Fix: the longest note that fits, where a control chooses it.
    Blind to: echoes of other kinds, a free-running clock, and notes that a hand chooses during the set.
    Source: 60 s over the tempo is a quarter note (definition).
    """
    quarter = quarter_s(slowest_bpm(bench))
    for section in bench.net.sections:
        if section.kind.name != ECHO or round(section.setting.values["sync"]) != 0:
            continue
        for side in ("left", "right"):
            quarters = echo_quarters(bench, section, side)
            needed_s, memory_s = float(quarters) * quarter, section.setting.values["longest"]
            if needed_s <= memory_s + 1e-9:
                continue
            yield Finding(
                f"{section.name}.{side}",
                f"the {side} echo of {section.name} takes {needed_s:.4g} s at "
                f"{slowest_bpm(bench):g} bpm; its memory holds {memory_s:.4g} s.",
                {
                    "needed_s": needed_s,
                    "memory_s": memory_s,
                    "slowest_bpm": slowest_bpm(bench),
                },
                _shorter_note(bench, section, side, memory_s / needed_s),
                section.where,
            )


def _shorter_note(bench: Bench, section: NetSection, side: str, ratio: float) -> Fix | None:
    """Choose the longest note that is at most so many times as long as the one that is set."""
    param = f"beats-{side}"
    now = NOTES[NOTE_NAMES[round(section.setting.values[param])]]
    fitting = [
        (quarters, index)
        for index, quarters in enumerate(NOTES.values())
        if float(quarters) <= float(now) * ratio + 1e-9
    ]
    for name, _, control in controls_for(bench, section, (param,)):
        possible = [f for f in fitting if control.lo <= f[1] <= control.hi or control.choices]
        if possible:
            index = max(possible)[1]
            is_named = index < len(control.choices)
            return fix_of(SetControl(name, control.choices[index] if is_named else index))
    return None


@check("echo-never-fades", severity=Severity.HURTS)
def echo_never_fades(bench: Bench) -> Iterator[Finding]:
    """An echo gives back all or more of what comes round, from the moment that the patch starts.

    On stage: it fills up with noise and the first notes, and stays full. Keep monitors down: it can be loud.
    Fix: feedback just below one, so that it fades.
    Blind to: feedback that a hand or a control voltage brings, which is an effect.
    Source: a loop whose gain reaches one does not die away (H. Barkhausen's criterion for oscillation).
    """
    for section in bench.net.sections:
        feedback = section.setting.values.get("feedback")
        if section.kind.name != ECHO or feedback is None or feedback < 1.0:
            continue

        def fits(setting: Setting) -> bool:
            return setting.values["feedback"] <= FADING_RATIO

        yield Finding(
            section.name,
            f"the feedback of {section.name} stands at {feedback:.3g}.",
            {"feedback_ratio": feedback, "feedback_db": db_from_ratio(feedback)},
            control_that_fits(bench, section, ("feedback",), fits, up=False),
            section.where,
        )


@check("pattern-never-meets", severity=Severity.WORTH_KNOWING)
def pattern_never_meets(bench: Bench) -> Iterator[Finding]:
    """The patterns of the patch do not all start together again within the set.

    On stage: no bar is ever the same; fine if it is wanted, baffling where a drop should land on everybody's one.
    Fix: none is computed: which pattern gives way is music.
    Blind to: resets by hand, free-running and irregular clocks, and what chance leaves out.
    Source: the least common multiple of the cycles as exact fractions of a quarter note (arithmetic).
    """
    cycle, setlist = bench.readings.cycle, bench.project.setlist
    limit = sum(p.bars for p in setlist.sections) if setlist is not None else LONGEST_BARS
    if cycle.bars is None or cycle.bars <= limit or limit <= 0:
        return
    lengths: dict[Fraction, str] = {}
    for track in cycle.locked:
        if track.pulse.cycle_quarters is not None:
            lengths.setdefault(track.pulse.cycle_quarters, track.name)
    longest = sorted(lengths, reverse=True)
    yield Finding(
        "patch",
        f"all patterns meet again after {float(cycle.bars):g} bars, the set lasts {limit}: "
        + listed([f"{lengths[q]} every {q} quarters" for q in longest])
        + ".",
        {
            "cycle_bars": float(cycle.bars),
            "limit_bars": limit,
            "tracks": len(lengths),
        },
        None,
        bench.project.patch.where,
    )
