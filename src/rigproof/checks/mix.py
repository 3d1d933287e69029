"""Mix: how the parts of the sum stand to each other, and whether the loudest bar of the set still fits.

The set is gone through moment by moment, with every control where the set puts it; see `readings.over_set`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, listed
from rigproof.checks.fixes import control_that_fits, source_of
from rigproof.checks.levels import (
    ear_place,
    ear_source,
    ears,
    inputs,
    quieter,
    reaches_rails,
    sounding,
)
from rigproof.checks.softer import Judge, softer_move
from rigproof.kinds.base import SILENT, Level, Setting
from rigproof.model.sheet import Signal
from rigproof.net.graph import Contact, NetSection
from rigproof.readings.level import full_scale_peak_v
from rigproof.readings.over_set import Moment, net_at
from rigproof.readings.proof import read
from rigproof.readings.what_if import at_the_top
from rigproof.units import db_from_ratio, ratio_from_db

LOST_DB = -40.0
"""A part that is this far below the rest of the sum is masked by it. Our choice; masking is told in `Blind to`."""
HEARD_DB = -20.0
"""Where a fix puts such a part. Our choice."""
SAFE_DBFS = -1.0
"""Where a fix puts the loudest moment. Our choice."""


# --- the parts of a sum ----------------------------------------------------------------------------------------------


@check("voice-lost-in-mix", severity=Severity.HURTS)
def voice_lost_in_mix(bench: Bench) -> Iterator[Finding]:
    """Even with every played control up, one input of a mixer is more than 40 dB below the sum of the others.

    On stage: you play it and nobody hears it; turning it up later takes a hand that is not free.
    Fix: that input's own gain, just high enough for 20 dB below the others.
    Blind to: what is loud in a part of the spectrum that the others leave free, what plays only while the others rest,
    and gains further back that are the true cause.
    Source: sums of unlike signals add by power (definition of RMS); 40 dB is our choice, common practice, no source.
    """
    levels, top = bench.readings.level_at_the_top, at_the_top(bench.net)
    for section, contacts in _mixers(bench).items():
        here = top.sections[section]
        row_levels = [levels[row] for row in here.ins]
        parts = [
            _alone(here, row_levels, i, here.setting) if row_levels[i].rms_v > 0.0 else 0.0
            for i in range(len(here.ins))
        ]
        if sum(part > 0.0 for part in parts) < 2:
            continue
        for index, contact in contacts.items():
            rest_v = sum(p * p for i, p in enumerate(parts) if i != index) ** 0.5
            if row_levels[index].rms_v == 0.0 or rest_v == 0.0:
                continue
            below_db = db_from_ratio(parts[index] / rest_v) if parts[index] > 0.0 else -200.0
            if below_db >= LOST_DB or parts[index] == 0.0:
                continue  # an input that is shut is shut on purpose
            yield Finding(
                contact.name,
                f"what comes in at {contact.name} is {-below_db:.1f} dB below the rest of the sum, "
                "with every played control up.",
                {
                    "below_db": -below_db,
                    "part_v": parts[index],
                    "rest_v": rest_v,
                },
                _raised(bench, here, row_levels, index, rest_v),
                contact.jack.where,
            )


def _mixers(bench: Bench) -> dict[int, dict[int, Contact]]:
    """Return the sections that sum audio inputs: for each, its input positions and the jacks that feed them."""
    found: dict[int, dict[int, Contact]] = {}
    for contact in inputs(bench, Signal.AUDIO):
        for index, position in bench.net.readers.get(contact.row, ()):
            section = bench.net.sections[index]
            port = section.kind.expand_inputs(section.setting.ways)[position]
            if section.kind.is_internal or section.kind.is_ear or port.is_control:
                continue
            if section.module == contact.module:
                found.setdefault(index, {})[position] = contact
    return {
        index: parts
        for index, parts in found.items()
        if len(parts) > 1 and len(bench.net.sections[index].outs) == 1
    }


def _alone(section: NetSection, levels: Sequence[Level], index: int, setting: Setting) -> float:
    """Return the RMS that one input alone makes at a section's output. [V]"""
    ports = section.kind.expand_inputs(section.setting.ways)
    ins = [
        level if i == index or port.is_control else SILENT
        for i, (level, port) in enumerate(zip(levels, ports, strict=True))
    ]
    return section.kind.level(ins, setting)[0].rms_v


def _raised(
    bench: Bench, section: NetSection, levels: Sequence[Level], index: int, rest_v: float
) -> Fix | None:
    names = [p.name for p in section.kind.expand_inputs(section.setting.ways)]
    number = names[index].rpartition("-")[2]

    def fits(setting: Setting) -> bool:
        return _alone(section, levels, index, setting) >= rest_v * ratio_from_db(HEARD_DB)

    if not number.isdigit():
        return None
    return control_that_fits(bench, section, (f"gain-{number}", f"level-{number}"), fits, up=True)


# --- the loudest bar of the set --------------------------------------------------------------------------------------


def _where(moment: Moment) -> str:
    return f"bar {moment.bar} of section {moment.passage}"


def _within(limit_v: float) -> Judge:
    return lambda level: sounding(level).peak_v <= limit_v


def bench_at(bench: Bench, moment: Moment) -> Bench:
    """Return the bench with the controls where they stand at a moment of the set."""
    net = net_at(bench.net, moment.controls)
    return Bench(bench.project, net, read(net))


@check("set-overloads-interface", severity=Severity.HURTS)
def set_overloads_interface(bench: Bench) -> Iterator[Finding]:
    """With the controls where the set puts them, the loudest bar is above the full scale of a line input.

    On stage: the soundcheck was fine and the climax clips. Keep monitors down while you try it: sudden level hurts
    ears.
    Fix: the volume of what drives the input, if no hand of the set plays it, so that this bar's peak stands 1 dB below
    full scale; else the last move up before it, which goes only so far.
    Blind to: the input's own gain knob, what hands do beyond the set, crossing moves between two ends, and the rare
    moments when more than four times the RMS of a sum, or than its strongest hit over the others, comes together.
    Source: full scale in dBu of a sine; +18 dBu in EBU R68, +24 dBu in SMPTE RP155; 0 dBu = sqrt(0.6) V RMS.
    """
    heads = [h for h in bench.readings.headroom if h.full_scale_dbu is not None]
    if bench.project.setlist is None or not heads:
        return
    start = {ear.place for ear in ears(bench) if ear.peak_dbfs > 0.0}
    found = bench.readings.loudest
    for head in heads:
        place, most = ear_place(bench, head), found.get(head.row)
        if most is None or head.full_scale_dbu is None or place in start:
            continue
        full_v, peak_v = full_scale_peak_v(head.full_scale_dbu), sounding(most.level).peak_v
        if peak_v <= full_v:
            continue
        safe_v, then = full_v * ratio_from_db(SAFE_DBFS), bench_at(bench, most.moment)
        yield Finding(
            place,
            f"in {_where(most.moment)} {place} typically gets peaks of {peak_v:.3g} V, "
            f"{db_from_ratio(peak_v / full_v):+.1f} dBFS.",
            {
                "peak_dbfs": db_from_ratio(peak_v / full_v),
                "headroom_db": -db_from_ratio(peak_v / full_v),
                "typical_v": peak_v,
                "full_scale_v": full_v,
                "at_s": most.moment.at_s,
            },
            quieter(then, ear_source(then, place), (-safe_v, safe_v))
            or softer_move(
                bench,
                head.row,
                most.moment,
                wanted=_within(safe_v),
                allowed=_within(full_v),
            ),
            bench.where(place),
        )


@check("set-drives-into-rails", severity=Severity.HURTS)
def set_drives_into_rails(bench: Bench) -> Iterator[Finding]:
    """With the controls where the set puts them, a sound output reaches its rails that does not at the start.

    On stage: the tops are cut off in the module itself, in the one bar that should be the best.
    Fix: the volume of that module, if no hand of the set plays it, just low enough for that bar; else the last move up
    before it, which goes only so far. Only the first output in a chain is named: what comes behind it may be cured with
    it.
    Blind to: what hands do beyond the set, crossing moves between two ends, and modules that are meant to clip.
    Source: analogue outputs stop at about 10 to 11 V on 12 V rails: common practice, no source.
    """
    if bench.project.setlist is None:
        return
    rows = {
        c.source_row: c
        for c in bench.net.contacts.values()
        if c.is_plugged and c.jack.signal is Signal.AUDIO and c.source_row is not None
    }
    place = {s: i for i, part in enumerate(bench.net.components) for s in part.sections}
    order = sorted(rows, key=lambda r: place.get(bench.net.rows[r].writer or 0, 0))
    most = bench.readings.loudest
    hit = [
        row
        for row in order
        if row in most
        and reaches_rails(rows[row], sounding(most[row].level))
        and not reaches_rails(rows[row], sounding(bench.level(row)))
    ]
    if not hit:
        return
    contact, worst = rows[hit[0]], most[hit[0]]
    lo, hi = contact.jack.clamp_v
    then, level = bench_at(bench, worst.moment), sounding(worst.level)
    source, limit_v = source_of(then, contact), min(hi, -lo, 11.0)
    safe_v = limit_v * ratio_from_db(-0.5)
    others = [rows[r].name for r in hit[1:]]
    more = f"; so do {listed(others)} later" if others else ""
    yield Finding(
        contact.name,
        f"in {_where(worst.moment)} {contact.name} typically reaches {level.peak_v:.3g} V and "
        f"stops at {limit_v:g} V{more}.",
        {
            "typical_v": level.peak_v,
            "limit_v": limit_v,
            "at_s": worst.moment.at_s,
            "outputs": len(hit),
        },
        quieter(then, source, (-safe_v, safe_v))
        or softer_move(
            bench,
            hit[0],
            worst.moment,
            wanted=_within(safe_v),
            allowed=lambda level: not reaches_rails(contact, sounding(level)),
        ),
        contact.jack.where,
    )
