"""Levels: whether the voltage that arrives is one that the jack understands, and how loud it is at the way out.

Two readings tell two things apart: *volts* is what no sample can leave, so what it rules out is proved; *level* is what
is typical while the patch plays. Both stand in the evidence where both matter. Where a stretch of sound was played
(`rigproof check --seconds 30`), what was seen in it counts too, and a finding says whether it was seen or is possible.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, listed
from rigproof.checks.fixes import (
    VOLUMES,
    Source,
    control_that_fits,
    fit_into_range,
    level_with,
    made_with,
    source_of,
    usual,
    usual_cv,
)
from rigproof.checks.rounds import growth, round_s
from rigproof.checks.slowness import Slowness
from rigproof.kinds.base import RAIL_V, SILENT, Level, Setting
from rigproof.model.sheet import Signal, Way
from rigproof.net.graph import Component, Contact, NetSection
from rigproof.readings.level import Headroom, full_scale_peak_v
from rigproof.readings.walk import carried_rows
from rigproof.units import db_from_ratio, plural, ratio_from_db

CLIP_SLACK_DB = 0.5
"""What nobody hears: the smallest level difference that is noticed is about 0.5 dB. Common practice, no source."""
POSSIBLE_SLACK_DB = 3.0
"""What is only possible may stand out by this: band-limited waves ring over their corners. Our choice."""
OVERDRIVE_RATIO = 0.05
"""Share of a range that a CV may stand out before it counts."""
PART_RATIO = 0.4
"""A CV that covers less than this share of a range covers a part of it."""
BIPOLAR_RATIO = 0.1
"""Share of a unipolar range that a CV may go below it."""
AUDIBLE_CENTS = 5.0
"""The smallest change of pitch that a good listener hears in sequence: about 5 cents, often quoted."""
ROUNDED_RATIO = 0.99
"""Room for rounding a control to three digits."""
QUIET_DBFS = -36.0
"""Peaks below this need so much gain that noise comes up with them. Common practice, no source."""
DC_DBFS = -40.0
"""A steady voltage above this costs headroom and thumps when muted. Common practice, no source."""
NEAR_RAIL_RATIO = 0.97
"""An output that is proved no better than this share of its rails is known by its rails only. Our choice."""
LEAST_SWING_V = 1e-3
"""A voltage that moves by less than this stands still. Our choice. [V]"""
LOOP_PROBE_V = 0.01
"""What is sent round a loop to see how it grows; small, so that no clamp takes part. [V]"""
LOOP_ROUNDS = 12
LOOP_SAFE_RATIO = 0.9
"""What a fix leaves of the gain round a loop."""


def inputs(bench: Bench, *signals: Signal) -> Iterator[Contact]:
    """Yield the plugged input contacts of these signals that an output drives."""
    for contact in bench.net.contacts.values():
        if contact.jack.way is Way.IN and contact.is_plugged and contact.jack.signal in signals:
            node = bench.node(contact)
            if node is not None and node.outputs:
                yield contact


def sounding(level: Level) -> Level:
    """Return what is typical of a sound: its usual peaks; silence where nothing sounds as the patch starts."""
    return Level.steady(level.dc_v) if level.is_silent else usual(level)


def usual_of(signal: Signal, level: Level) -> Level:
    """Return what is typical of a sound or of a control voltage, as the signal is."""
    return sounding(level) if signal is Signal.AUDIO else usual_cv(level)


def quieter(bench: Bench, source: Source | None, limit_v: tuple[float, float]) -> Fix | None:
    """Return the fix that turns the driving section down until its typical level fits the limits."""
    if source is None:
        return None

    def fits(setting: Setting) -> bool:
        level = usual(level_with(bench, source, setting))
        return limit_v[0] <= level.lo_v and level.hi_v <= limit_v[1]

    return control_that_fits(bench, source.section, VOLUMES, fits, up=False)


def softer_by(bench: Bench, source: Source | None, ratio: float) -> Fix | None:
    """Return the fix that turns the driving section down so that its level falls to a share of what it is."""
    if source is None:
        return None
    now_v = usual(level_with(bench, source, source.section.setting)).peak_v

    def fits(setting: Setting) -> bool:
        return usual(level_with(bench, source, setting)).peak_v <= ratio * now_v

    return control_that_fits(bench, source.section, VOLUMES, fits, up=False)


def told_of_seen(bench: Bench, row: int, *, is_over: bool) -> tuple[str, dict[str, float]]:
    """Return what the sound that was played says about a row, in words and numbers; nothing where none was."""
    seen = bench.seen(row)
    if seen is None or bench.heard is None:
        return "", {}
    how = "Seen" if is_over else "Possible, not seen"
    words = f" {how} in {bench.heard.stretch}: {seen.lo:.3g} to {seen.hi:.3g} V."
    return words, {"seen_low_v": seen.lo, "seen_high_v": seen.hi, "seen_for_s": bench.heard.seconds}


# --- audio -----------------------------------------------------------------------------------------------------------


@check("input-overdriven", severity=Severity.HURTS)
def input_overdriven(bench: Bench) -> Iterator[Finding]:
    """What typically arrives at an audio input is larger than the input takes.

    On stage: the sound is bent or clipped there, and no fader behind it brings it back.
    Fix: the volume of what drives it, just low enough.
    Blind to: inputs that are meant to be driven hard; decline the finding there. Sums of unlike sounds are taken at
    four times their RMS, or at the strongest hit over the others, where their peaks could add up to more; and a fader
    that is down at the start counts as down.
    Source: definition of the input's range; 0.5 dB is left alone as nobody hears it: common practice, no source.
    """
    for contact in inputs(bench, Signal.AUDIO):
        level, (lo, hi) = sounding(bench.level(contact.row)), contact.jack.range_v
        over_db, seen_db = _over_db(level.lo_v, level.hi_v, lo, hi), _seen_over_db(bench, contact)
        if max(over_db, seen_db) <= CLIP_SLACK_DB:
            continue
        words, seen = told_of_seen(bench, contact.row, is_over=seen_db > CLIP_SLACK_DB)
        source = source_of(bench, contact)
        yield Finding(
            contact.name,
            f"{contact.name} takes {lo:g} to {hi:g} V and typically gets {level.lo_v:.3g} to "
            f"{level.hi_v:.3g} V: {max(over_db, seen_db):.1f} dB too much.{words}",
            {
                "typical_v": level.peak_v,
                "possible_v": bench.volts(contact.row).peak,
                "limit_v": max(abs(lo), abs(hi)),
                "over_db": max(over_db, seen_db),
                **seen,
            },
            quieter(bench, source, (lo, hi))
            if over_db > CLIP_SLACK_DB
            else softer_by(bench, source, ratio_from_db(-seen_db)),
            contact.jack.where,
        )


def _seen_over_db(bench: Bench, contact: Contact) -> float:
    """Return by how much what was seen stands out of a jack's range; minus infinity where nothing was. [dB]"""
    seen = bench.seen(contact.row)
    return -math.inf if seen is None else _over_db(seen.lo, seen.hi, *contact.jack.range_v)


@check("input-can-clip", severity=Severity.WORTH_KNOWING)
def input_can_clip(bench: Bench) -> Iterator[Finding]:
    """What typically arrives at an audio input fits, but the patch's own gains let more come.

    On stage: fine at soundcheck, rough when everything plays at once or a fader goes to its end.
    Fix: none is computed: what is typical fits, and how much room to keep is the performer's taste.
    Blind to: outputs of which nothing is known but their rails, since every such output could.
    Source: interval arithmetic (R. E. Moore, Interval Analysis, 1966): no sample leaves the interval.
    """
    for contact in inputs(bench, Signal.AUDIO):
        level, span, (lo, hi) = (
            sounding(bench.level(contact.row)),
            bench.volts(contact.row),
            contact.jack.range_v,
        )
        source = source_of(bench, contact)
        over_db = _over_db(span.lo, span.hi, lo, hi)
        if over_db <= POSSIBLE_SLACK_DB or _over_db(level.lo_v, level.hi_v, lo, hi) > CLIP_SLACK_DB:
            continue
        if source is None or not is_narrower_than_rails(bench, source):
            continue
        if _seen_over_db(bench, contact) > CLIP_SLACK_DB:
            continue  # it happens, which `input-overdriven` says
        words, seen = told_of_seen(bench, contact.row, is_over=False)
        yield Finding(
            contact.name,
            f"{contact.name} takes {lo:g} to {hi:g} V; {span.lo:.3g} to {span.hi:.3g} V are "
            f"possible, {level.lo_v:.3g} to {level.hi_v:.3g} V typical.{words}",
            {
                "typical_v": level.peak_v,
                "possible_v": span.peak,
                "limit_v": max(abs(lo), abs(hi)),
                "over_db": over_db,
                **seen,
            },
            None,
            contact.jack.where,
        )


def _over_db(low_v: float, high_v: float, lo: float, hi: float) -> float:
    """Return by how much a swing stands out of a range, on its worse side; below 0 where it fits. [dB]"""
    sides = [
        high_v / hi if hi > 0.0 else (2.0 if high_v > 0.0 else 0.0),
        low_v / lo if lo < 0.0 else (2.0 if low_v < -1e-9 else 0.0),
    ]
    return db_from_ratio(max(sides))


def is_narrower_than_rails(bench: Bench, source: Source) -> bool:
    """Whether more is known of an output than where it must stop at the latest."""
    rail_v = min(RAIL_V, max(abs(v) for v in source.contact.jack.clamp_v))
    return bench.volts(source.section.outs[source.output]).peak < NEAR_RAIL_RATIO * rail_v


def reaches_rails(contact: Contact, level: Level) -> bool:
    """Whether what a section makes goes beyond where its output stops, or to its own rails."""
    lo, hi = contact.jack.clamp_v
    is_low = level.lo_v < lo - 1e-6 or level.lo_v <= -RAIL_V + 1e-6
    return is_low or level.hi_v > hi + 1e-6 or level.hi_v >= RAIL_V - 1e-6


@check("output-clips", severity=Severity.HURTS)
def output_clips(bench: Bench) -> Iterator[Finding]:
    """What a module typically makes reaches the rails of its output.

    On stage: the tops are cut off in the module itself; turning down behind it changes nothing.
    Fix: the volume of that module, just low enough.
    Blind to: modules that are meant to clip, faders that are down at the start, and the rare moments when more than
    four times the RMS of a sum, or more than its strongest hit over the others, comes together.
    Source: analogue outputs stop at about 10 to 11 V on 12 V rails: common practice, no source.
    """
    for contact in bench.net.contacts.values():
        jack, row = contact.jack, contact.source_row
        if jack.signal not in (Signal.AUDIO, Signal.CV) or row is None or not contact.is_plugged:
            continue
        level, span = usual_of(jack.signal, bench.level(row)), bench.seen(row)
        is_seen = span is not None and reaches_rails(contact, Level(span.lo, span.hi))
        if not reaches_rails(contact, level) and not is_seen:
            continue
        lo, hi = max(jack.clamp_v[0], -RAIL_V), min(jack.clamp_v[1], RAIL_V)
        words, seen = told_of_seen(bench, row, is_over=is_seen)
        yield Finding(
            contact.name,
            f"{contact.name} {'reaches' if is_seen else 'typically reaches'} its rails: "
            f"{level.lo_v:.3g} to {level.hi_v:.3g} V are typical, the output stops at {lo:g} and "
            f"{hi:g} V.{words}",
            {
                "low_v": level.lo_v,
                "high_v": level.hi_v,
                "low_limit_v": lo,
                "high_limit_v": hi,
                **seen,
            },
            _below_rails(bench, source_of(bench, contact), lo, hi),
            jack.where,
        )


def _below_rails(bench: Bench, source: Source | None, lo: float, hi: float) -> Fix | None:
    if source is None:
        return None
    room = ratio_from_db(-CLIP_SLACK_DB)

    def fits(setting: Setting) -> bool:
        level = usual_of(source.contact.jack.signal, made_with(bench, source, setting))
        return lo * room <= level.lo_v and level.hi_v <= hi * room

    if fits(source.section.setting):
        return None  # only seen: how far up it would go without the rails, the sound does not tell
    return control_that_fits(bench, source.section, VOLUMES, fits, up=False)


# --- the way out -----------------------------------------------------------------------------------------------------


def ear_place(bench: Bench, headroom: Headroom) -> str:
    """Return the jack that feeds an ear's input, or the section where no jack does."""
    module, _, section = headroom.section.partition(".")
    port = f"{section}.{headroom.port}"
    for contact in bench.net.contacts.values():
        if contact.module == module and port in contact.jack.lanes.get(contact.lane, ()):
            return contact.name
    return headroom.section


@dataclass(frozen=True, slots=True)
class Arriving:
    """What arrives at one line input."""

    place: str
    """The jack."""
    row: int
    level: Level
    peak_v: float
    """The usual peak. [V]"""
    full_v: float
    """Full scale. [V]"""

    @property
    def peak_dbfs(self) -> float:
        """The usual peak against full scale."""
        return db_from_ratio(self.peak_v / self.full_v)


def ears(bench: Bench, *, at_the_top: bool = False) -> Iterator[Arriving]:
    """Yield what arrives at each line input that states its full scale and gets something.

    As the patch starts, or with every played control at the top of where the set takes it.
    """
    readings = bench.readings
    for headroom in readings.headroom_at_the_top if at_the_top else readings.headroom:
        if headroom.full_scale_dbu is not None and headroom.level.peak_v > 0.0:
            yield Arriving(
                ear_place(bench, headroom),
                headroom.row,
                headroom.level,
                sounding(headroom.level).peak_v,
                full_scale_peak_v(headroom.full_scale_dbu),
            )


def ear_source(bench: Bench, place: str) -> Source | None:
    """Return what drives an ear's jack."""
    contact = bench.net.contacts.get(place)
    return None if contact is None else source_of(bench, contact)


@check("interface-overloaded", severity=Severity.STOPS_THE_SHOW)
def interface_overloaded(bench: Bench) -> Iterator[Finding]:
    """The typical peak at a line input is above its full scale.

    On stage: digital clipping, the ugliest there is, on everything. Turn monitors down before you try: sudden level
    hurts ears and loudspeakers.
    Fix: the volume of what drives it, so that the peak stands 3 dB below full scale.
    Blind to: the input's own gain knob and pad, faders that are down at the start, and peaks of a sum beyond four times
    its RMS and beyond its strongest hit over the others: several hits that meet to the sample.
    Source: full scale in dBu of a sine; +18 dBu in EBU R68, +24 dBu in SMPTE RP155; 0 dBu = sqrt(0.6) V RMS.
    """
    for ear in ears(bench):
        seen_dbfs = _seen_dbfs(bench, ear)
        if max(ear.peak_dbfs, seen_dbfs) <= 0.0:
            continue
        safe_v = ear.full_v * ratio_from_db(-3.0)
        words, seen = told_of_seen(bench, ear.row, is_over=seen_dbfs > 0.0)
        source = ear_source(bench, ear.place)
        yield Finding(
            ear.place,
            f"{ear.place} typically gets peaks of {ear.peak_v:.3g} V, {ear.peak_dbfs:+.1f} "
            f"dBFS; full scale is {ear.full_v:.3g} V.{words}",
            {
                "peak_dbfs": max(ear.peak_dbfs, seen_dbfs),
                "typical_v": ear.peak_v,
                "full_scale_v": ear.full_v,
                **seen,
            },
            quieter(bench, source, (-safe_v, safe_v))
            if ear.peak_dbfs > 0.0
            else softer_by(bench, source, ratio_from_db(-3.0 - seen_dbfs)),
            bench.where(ear.place),
        )


def _seen_dbfs(bench: Bench, ear: Arriving) -> float:
    """Return the peak that was seen at an ear; minus infinity where nothing was. [dBFS]"""
    seen = bench.seen(ear.row)
    return -math.inf if seen is None else db_from_ratio(seen.peak / ear.full_v)


@check("interface-can-clip", severity=Severity.WORTH_KNOWING)
def interface_can_clip(bench: Bench) -> Iterator[Finding]:
    """The typical peak at a line input fits, but the highest possible one does not.

    On stage: fine until everything peaks at once.
    Fix: none is computed: what is typical fits, and the rest is the performer's taste.
    Blind to: how likely it is; and outputs of which nothing is known but their rails, since every such output could.
    Source: interval arithmetic (R. E. Moore, Interval Analysis, 1966); full scale in dBu as in EBU R68.
    """
    for ear in ears(bench):
        possible_v, source = bench.volts(ear.row).peak, ear_source(bench, ear.place)
        if source is None or not is_narrower_than_rails(bench, source):
            continue
        if ear.peak_v <= ear.full_v < possible_v and _seen_dbfs(bench, ear) <= 0.0:
            possible_dbfs = db_from_ratio(possible_v / ear.full_v)
            words, seen = told_of_seen(bench, ear.row, is_over=False)
            yield Finding(
                ear.place,
                f"{ear.place} can get {possible_v:.3g} V, {possible_dbfs:+.1f} dBFS; typical "
                f"peaks are {ear.peak_v:.3g} V.{words}",
                {
                    "possible_dbfs": possible_dbfs,
                    "possible_v": possible_v,
                    "typical_v": ear.peak_v,
                    "full_scale_v": ear.full_v,
                    **seen,
                },
                None,
                bench.where(ear.place),
            )


@check("interface-too-quiet", severity=Severity.HURTS)
def interface_too_quiet(bench: Bench) -> Iterator[Finding]:
    """The typical peak at a line input is more than 36 dB below its full scale, even with every played control up.

    On stage: the desk turns it up, and hum and hiss with it.
    Fix: the volume of what drives it, so that with everything up the peak stands 12 dB below full scale, or as near to
    that as nothing possible clips.
    Blind to: the input's own gain knob; and silence, which is no level.
    Source: line inputs want peaks some 6 to 18 dB below full scale: common practice, no source.
    """
    for ear in ears(bench, at_the_top=True):
        if ear.level.is_silent or ear.peak_dbfs >= QUIET_DBFS:
            continue
        yield Finding(
            ear.place,
            f"{ear.place} gets typical peaks of {1e3 * ear.peak_v:.3g} mV at most, "
            f"{ear.peak_dbfs:.1f} dBFS.",
            {"peak_dbfs": ear.peak_dbfs, "typical_v": ear.peak_v, "full_scale_v": ear.full_v},
            _louder(bench, ear_source(bench, ear.place), _gain_that_fits(bench, ear)),
            bench.where(ear.place),
        )


def _gain_that_fits(bench: Bench, ear: Arriving) -> float:
    """Return the gain that brings a peak to 12 dB below full scale, or as near as nothing possible clips."""
    wanted_ratio = ear.full_v * ratio_from_db(-12.0) / ear.peak_v
    possible_v = bench.volts(ear.row).peak
    return min(wanted_ratio, ROUNDED_RATIO * ear.full_v / possible_v)


def _louder(bench: Bench, source: Source | None, gain_ratio: float) -> Fix | None:
    """Turn up by so much: asked of where the patch begins, so that with everything up it comes to the same."""
    if source is None:
        return None
    now_v = usual(level_with(bench, source, source.section.setting)).peak_v
    if now_v <= 0.0:
        return None

    def fits(setting: Setting) -> bool:
        return usual(level_with(bench, source, setting)).peak_v >= now_v * gain_ratio

    return control_that_fits(bench, source.section, VOLUMES, fits, up=True)


@check("way-out-silent", severity=Severity.STOPS_THE_SHOW)
def way_out_silent(bench: Bench) -> Iterator[Finding]:
    """Sound is plugged, and none of it comes out at any way out: not at the start, nor at any moment of the set.

    On stage: everything is lit and nothing is heard.
    Fix: none is computed: which knob is down or which voltage is missing is the performer's to see. Sound is last there
    at the jack that is named. Keep monitors down while you look for it: it may come back at full level.
    Blind to: what hands play beyond the set and its mappings, and one of several ways out that stays silent.
    Source: definition of silence; every section's own gain law, from jack to jack.
    """
    heads = bench.readings.headroom
    if any(not h.level.is_silent for h in (*heads, *bench.readings.headroom_at_the_top)):
        return
    if any(not most.level.is_silent for h in heads if (most := bench.readings.loudest.get(h.row))):
        return
    last = _last_heard(bench)
    reached = [ear_place(bench, head) for head in heads if _is_reached(bench, head)]
    if last is None or not reached:
        return
    level = bench.readings.level_at_the_top[last.row]
    yield Finding(
        reached[0],
        f"nothing is heard at {listed(reached)}; the last sound on the way is at {last.name}.",
        {"inputs": len(reached), "last_v": level.rms_v},
        None,
        bench.where(last.name),
    )


def _is_reached(bench: Bench, headroom: Headroom) -> bool:
    """Whether anything is plugged into an ear, sounding or not."""
    return bench.net.rows[headroom.row].writer is not None


def _last_heard(bench: Bench) -> Contact | None:
    """Return the audio input, in the order in which sound runs, that is the last to get any."""
    place = {s: i for i, part in enumerate(bench.net.components) for s in part.sections}
    levels = bench.readings.level_at_the_top
    heard = [c for c in inputs(bench, Signal.AUDIO) if not levels[c.row].is_silent]
    return max(heard, key=lambda c: place.get(bench.net.rows[c.row].writer or 0, 0), default=None)


@check("clips-with-all-up", severity=Severity.WORTH_KNOWING)
def clips_with_all_up(bench: Bench) -> Iterator[Finding]:
    """With every played control at the top of where the set takes it, something clips that does not at the start.

    On stage: the big moment, everything up, is the one that distorts. Keep monitors down when you try it.
    Fix: none is computed: which fader gives way is the performer's taste. The place named first comes first in the
    sound.
    Blind to: controls that make things softer at their top, and how likely it is that all are up at once.
    Source: sums of unlike sounds add by power (definition of RMS); outputs stop at about 10 to 11 V: common practice,
    no source.
    """
    level, top = bench.readings.level, bench.readings.level_at_the_top
    places = [
        contact.name
        for contact in _in_running_order(bench)
        if (row := contact.source_row) is not None
        and reaches_rails(contact, sounding(top[row]))
        and not reaches_rails(contact, sounding(level[row]))
    ]
    start = {ear.place: ear.peak_dbfs for ear in ears(bench)}
    loud = [
        ear
        for ear in ears(bench, at_the_top=True)
        if ear.peak_dbfs > 0.0 and start.get(ear.place, -math.inf) <= 0.0
    ]
    if places or loud:
        evidence: dict[str, float] = {"outputs": len(places), "inputs": len(loud)}
        if loud:
            evidence["peak_dbfs"] = max(ear.peak_dbfs for ear in loud)
        yield Finding(
            "patch",
            "with everything up "
            + listed([*places, *(f"{ear.place} ({ear.peak_dbfs:+.1f} dBFS)" for ear in loud)])
            + (" clips." if len(places) + len(loud) == 1 else " clip."),
            evidence,
            None,
            bench.project.patch.where,
        )


def _in_running_order(bench: Bench) -> list[Contact]:
    """Return the plugged outputs of sound in the order in which it flows."""
    place = {s: i for i, part in enumerate(bench.net.components) for s in part.sections}
    found = [
        (place[writer], contact)
        for contact in bench.net.contacts.values()
        if contact.is_plugged
        and contact.jack.signal is Signal.AUDIO
        and contact.source_row is not None
        and (writer := bench.net.rows[contact.source_row].writer) is not None
    ]
    return [contact for _, contact in sorted(found, key=lambda item: item[0])]


@check("dc-on-audio", severity=Severity.HURTS)
def dc_on_audio(bench: Bench) -> Iterator[Finding]:
    """A steady voltage reaches a line input that passes it.

    On stage: loudspeaker cones stand off centre, mutes thump, and headroom is lost on one side.
    Fix: none is computed: an AC-coupled output or input has to be found, or the offset taken out where it arises.
    Blind to: inputs that block DC though the sheet does not say so.
    Source: audio may be AC-coupled, control must not be: common practice, no source.
    """
    for ear in ears(bench):
        dc_v = ear.level.dc_v
        dc_dbfs = db_from_ratio(abs(dc_v) / ear.full_v)
        if dc_dbfs > DC_DBFS:
            yield Finding(
                ear.place,
                f"{ear.place} gets a steady {dc_v:.3g} V, {dc_dbfs:.1f} dBFS.",
                {"dc_v": dc_v, "dc_dbfs": dc_dbfs},
                None,
                bench.where(ear.place),
            )


@check("cv-on-the-sound-path", severity=Severity.HURTS)
def cv_on_the_sound_path(bench: Bench) -> Iterator[Finding]:
    """A control or pitch voltage that is too slow to be heard goes into an audio input on the way to the room.

    On stage: nothing of it is heard but a thump or a click; it pushes the cones, takes headroom from the sound, and
    what it was meant to move stands still. Turn monitors down before you pull it out.
    Fix: none is computed: which input was meant is the performer's to say.
    Blind to: voltages of which nobody knows how fast they are, such as an envelope played by hand or a wave whose rate
    is steered; envelopes and steps that strike a filter, which may be meant as drums; clicks that are wanted: decline
    the finding there. What opens an amplifier or steers anything else by an audio input is left alone.
    Source: nothing below 20 Hz is heard as a tone: ISO 226 gives its contours of equal loudness from there up (from
    memory); a series capacitor has the gain 0 at 0 Hz (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
    """
    slowness = Slowness(bench)
    for contact in inputs(bench, Signal.AUDIO):
        node = bench.node(contact)
        outs = [bench.net.contacts[name] for name in node.outputs] if node is not None else []
        if any(out.jack.signal not in (Signal.CV, Signal.PITCH) for out in outs):
            continue
        if not slowness.is_slow(contact.row):
            continue
        ears = slowness.ears_of(contact.row)
        if not ears:
            continue
        level = bench.level(contact.row)
        is_direct = bool(slowness.ears_of(contact.row, is_direct=True))
        way = "" if is_direct else " by way of a capacitor, which leaves clicks at most"
        yield Finding(
            contact.name,
            f"{listed([out.name for out in outs])} gives {contact.name} {_slow_words(level)} as if it "
            f"was sound; it comes to "
            f"{listed([bench.net.sections[ear].name for ear in ears])}{way}.",
            {"low_v": level.lo_v, "high_v": level.hi_v, "dc_v": level.dc_v, "inputs": len(ears)},
            None,
            contact.jack.where,
        )


def _slow_words(level: Level) -> str:
    """Return a slow voltage in words.

    >>> _slow_words(Level(-5.0, 5.0, 0.0, 3.0)), _slow_words(Level())
    ('a slow voltage of -5 to 5 V', 'a voltage that stands at 0 V as the patch starts')
    """
    if level.hi_v - level.lo_v >= LEAST_SWING_V:
        return f"a slow voltage of {level.lo_v:.3g} to {level.hi_v:.3g} V"
    return f"a voltage that stands at {level.dc_v + 0.0:.3g} V as the patch starts"


# --- control voltages ------------------------------------------------------------------------------------------------


def is_bipolar_into_unipolar(level: Level, range_v: tuple[float, float]) -> bool:
    """Whether a swing goes well below an input that begins at 0 V."""
    return range_v[0] >= 0.0 and level.lo_v < range_v[0] - BIPOLAR_RATIO * (range_v[1] - range_v[0])


def steering(bench: Bench, contact: Contact) -> Level:
    """Return what a CV usually reaches, as the patch starts and with every played control at its top together."""
    start = usual_cv(bench.level(contact.row))
    top = usual_cv(bench.readings.level_at_the_top[contact.row])
    return replace(start, lo_v=min(start.lo_v, top.lo_v), hi_v=max(start.hi_v, top.hi_v))


def _laid_over(
    bench: Bench, contact: Contact, level: Level
) -> tuple[dict[str, float], str, Fix | None]:
    """Return evidence, words and fix for laying a CV over the range of its input."""
    lo, hi = contact.jack.range_v
    evidence = {
        "low_v": level.lo_v,
        "high_v": level.hi_v,
        "range_low_v": lo,
        "range_high_v": hi,
    }
    source = source_of(bench, contact)
    is_played = level != usual_cv(bench.level(contact.row))
    if source is None or is_played or level.hi_v <= level.lo_v:
        return evidence, "", None  # what a hand moves is not set once for all
    gain, offset_v, fix = fit_into_range(bench, source, (lo, hi))
    evidence |= {"gain_ratio": gain, "offset_v": offset_v}
    return evidence, f" A gain of {gain:.3g} and an offset of {offset_v:+.3g} V would fit.", fix


def _steers(bench: Bench, contact: Contact) -> bool:
    """Whether an input steers something, instead of coming out again itself."""
    return any(
        bench.net.sections[index]
        .kind.expand_inputs(bench.net.sections[index].setting.ways)[place]
        .is_control
        for index, place in bench.net.readers.get(contact.row, ())
        if bench.net.sections[index].module == contact.module
    )


@check("cv-covers-part-of-range", severity=Severity.WORTH_KNOWING)
def cv_covers_part_of_range(bench: Bench) -> Iterator[Finding]:
    """A control voltage that moves covers less than 40 % of what its input understands.

    On stage: the knob, the envelope or the fader does too little, and everybody turns it up too late.
    Fix: gain and offset of the attenuverter that drives it; else the figures to look for.
    Blind to: a small movement that is wanted; decline the finding there. Inputs whose voltage comes out again, such as
    an attenuverter's, are left alone.
    Source: the input's range; bipolar +/- 5 V, unipolar 0 to 5, 8 or 10 V: common practice, no source.
    """
    for contact in inputs(bench, Signal.CV):
        level, (lo, hi) = steering(bench, contact), contact.jack.range_v
        covered_v = max(0.0, min(level.hi_v, hi) - max(level.lo_v, lo))
        share = covered_v / (hi - lo) if hi > lo else 1.0
        moves = level.hi_v - level.lo_v > 1e-3
        if (
            not moves
            or not _steers(bench, contact)
            or share >= PART_RATIO
            or is_bipolar_into_unipolar(level, (lo, hi))
        ):
            continue
        evidence, words, fix = _laid_over(bench, contact, level)
        is_wider = fix is not None and level.hi_v <= hi and len(fix.edits) == 2
        yield Finding(
            contact.name,
            f"{contact.name} understands {lo:g} to {hi:g} V and typically gets {level.lo_v:.3g} to "
            f"{level.hi_v:.3g} V: {100 * share:.0f} % of it.{words}",
            {"covered_ratio": share, **evidence},
            fix if is_wider else None,
            contact.jack.where,
        )


@check("cv-overdrives", severity=Severity.HURTS)
def cv_overdrives(bench: Bench) -> Iterator[Finding]:
    """A control voltage goes further than its input understands.

    On stage: a part of the fader, the envelope or the wave does nothing at all.
    Fix: gain and offset of the attenuverter that drives it, else its volume; else the figures to look for.
    Blind to: inputs that understand more than their sheet says.
    Source: the input's range; 5 % over are left alone: common practice, no source.
    """
    for contact in inputs(bench, Signal.CV):
        level, (lo, hi) = steering(bench, contact), contact.jack.range_v
        over_v = max(level.hi_v - hi, lo - level.lo_v if lo < 0.0 else 0.0)
        if over_v <= OVERDRIVE_RATIO * (hi - lo) or is_bipolar_into_unipolar(level, (lo, hi)):
            continue
        evidence, words, fix = _laid_over(bench, contact, level)
        swing_v = level.hi_v - level.lo_v
        lost = min(1.0, over_v / swing_v) if swing_v > 0.0 else 1.0
        yield Finding(
            contact.name,
            f"{contact.name} understands {lo:g} to {hi:g} V and typically gets {level.lo_v:.3g} to "
            f"{level.hi_v:.3g} V: {over_v:.3g} V too far.{words}",
            {"over_v": over_v, "lost_ratio": lost, **evidence},
            fix,
            contact.jack.where,
        )


@check("bipolar-into-unipolar", severity=Severity.HURTS)
def bipolar_into_unipolar(bench: Bench) -> Iterator[Finding]:
    """A control voltage that swings below 0 V goes into an input that begins at 0 V.

    On stage: the input waits at its bottom for a good part of each wave.
    Fix: gain and offset of the attenuverter that drives it; else the figures to look for.
    Blind to: the lower half being left out on purpose, to gate an effect; decline the finding there.
    Source: bipolar +/- 5 V, unipolar 0 to 5, 8 or 10 V: common practice, no source.
    """
    for contact in inputs(bench, Signal.CV):
        level, range_v = steering(bench, contact), contact.jack.range_v
        if not is_bipolar_into_unipolar(level, range_v):
            continue
        evidence, words, fix = _laid_over(bench, contact, level)
        lost = min(1.0, (range_v[0] - level.lo_v) / max(level.hi_v - level.lo_v, 1e-9))
        yield Finding(
            contact.name,
            f"{contact.name} begins at {range_v[0]:g} V and typically gets {level.lo_v:.3g} to "
            f"{level.hi_v:.3g} V: {100 * lost:.0f} % of the swing does nothing.{words}",
            {"lost_ratio": lost, **evidence},
            fix if fix is not None and len(fix.edits) == 2 else None,
            contact.jack.where,
        )


@check("pitch-line-droop", severity=Severity.HURTS)
def pitch_line_droop(bench: Bench) -> Iterator[Finding]:
    """The inputs on a pitch line load its output so much that octaves come out narrow.

    On stage: in tune on one note, flat above it and sharp below.
    Fix: none is computed: fewer inputs on the line, or a buffered multiple that compensates.
    Blind to: tuning by ear for one fixed load, which takes the error out until the next cable is plugged.
    Source: V = V0 R / (R + Rout), so 1200 cents times what is lost an octave (1 V/octave); a good listener hears about
    5 cents in sequence, often quoted.
    """
    for node in bench.net.nodes:
        outs = [bench.net.contacts[name] for name in node.outputs]
        if len(outs) != 1 or outs[0].jack.signal is not Signal.PITCH:
            continue
        loads = [
            c
            for name in node.contacts
            if (c := bench.net.contacts[name]).jack.way is Way.IN and c.jack.signal is Signal.PITCH
        ]
        kept = 1.0 / max(outs[0].jack.resistance_ohm, 1e-3) / node.conductance_s
        lost_cents = 1200.0 * (1.0 - kept)
        if loads and lost_cents > AUDIBLE_CENTS:
            yield Finding(
                outs[0].name,
                f"{outs[0].name} drives {plural(len(loads), 'pitch input')} through "
                f"{outs[0].jack.resistance_ohm:g} ohm: each octave is {lost_cents:.1f} cents "
                "narrow.",
                {
                    "narrow_cents": lost_cents,
                    "kept_ratio": kept,
                    "inputs": len(loads),
                    "output_ohm": outs[0].jack.resistance_ohm,
                },
                None,
                outs[0].jack.where,
            )


# --- gates -----------------------------------------------------------------------------------------------------------


def _higher(bench: Bench, source: Source | None, high_v: float) -> Fix | None:
    """Raise a pulse until its top is high enough."""
    if source is None:
        return None

    def fits(setting: Setting) -> bool:
        return level_with(bench, source, setting).hi_v >= high_v

    return control_that_fits(bench, source.section, VOLUMES, fits, up=True)


def is_too_low(bench: Bench, contact: Contact) -> bool:
    """Whether an input fires at a voltage that no sample there reaches."""
    threshold_v = contact.jack.threshold_v
    return threshold_v is not None and bench.volts(contact.row).hi < threshold_v


@check("gate-below-threshold", severity=Severity.STOPS_THE_SHOW)
def gate_below_threshold(bench: Bench) -> Iterator[Finding]:
    """No voltage that can arrive at a gate, trigger or clock input is high enough to fire it.

    On stage: the drum does not play, the sequence does not step.
    Fix: the volume of what drives it, up until the typical pulse is half as high again as the threshold.
    Blind to: pulses that only sometimes are too low.
    Source: inputs fire at 1 to 2.5 V rising; gates are 5 to 10 V high: common practice, no source. What no sample
    reaches is proved by interval arithmetic (R. E. Moore, Interval Analysis, 1966).
    """
    for contact in inputs(bench, Signal.GATE, Signal.TRIGGER, Signal.CLOCK):
        threshold_v, span = contact.jack.threshold_v, bench.volts(contact.row)
        if threshold_v is not None and is_too_low(bench, contact):
            yield Finding(
                contact.name,
                f"{contact.name} fires at {threshold_v:g} V; {span.hi:.3g} V are the most that "
                "can arrive.",
                {"possible_v": span.hi, "threshold_v": threshold_v},
                _higher(bench, source_of(bench, contact), 1.5 * threshold_v),
                contact.jack.where,
            )


@check("gate-never-falls", severity=Severity.STOPS_THE_SHOW)
def gate_never_falls(bench: Bench) -> Iterator[Finding]:
    """What arrives at a gate, trigger or clock input never goes below its threshold, so it fires once at most.

    On stage: one hit at the start, and then silence.
    Fix: none is computed: take out the offset, or set the threshold higher where the module can.
    Blind to: the input's hysteresis: how far below the threshold it lets go.
    Source: an input fires when it rises through its threshold: common practice, no source; what no sample reaches is
    proved by interval arithmetic (R. E. Moore, Interval Analysis, 1966).
    """
    for contact in inputs(bench, Signal.GATE, Signal.TRIGGER, Signal.CLOCK):
        threshold_v, span = contact.jack.threshold_v, bench.volts(contact.row)
        if threshold_v is not None and span.lo >= threshold_v:
            yield Finding(
                contact.name,
                f"{contact.name} fires when it rises through {threshold_v:g} V; it never gets less "
                f"than {span.lo:.3g} V.",
                {"possible_low_v": span.lo, "threshold_v": threshold_v},
                None,
                contact.jack.where,
            )


# --- loops -----------------------------------------------------------------------------------------------------------


def gain_round(bench: Bench, part: Component, settings: Mapping[int, Setting]) -> float:
    """Return by how much a small signal grows each time round a loop, from the level laws of its sections.

    `settings` replaces the settings of some sections. Power iteration, so that several ways round count together.
    """
    net = bench.net
    rows = [r for r in carried_rows(net, part) if not net.rows[r].is_midi]
    if not rows:
        return 0.0
    idle = _once_round(bench, part, dict.fromkeys(rows, SILENT), settings)
    share = dict.fromkeys(rows, 1.0)
    growth = 0.0
    for _ in range(LOOP_ROUNDS):
        sent = {r: Level.swing(LOOP_PROBE_V * share[r], crest_ratio=1.0) for r in rows}
        back = _once_round(bench, part, sent, settings)
        grown = {
            r: max(0.0, back[r].rms_v ** 2 - idle[r].rms_v ** 2) ** 0.5 / LOOP_PROBE_V for r in rows
        }
        before, growth = growth, max(grown.values())
        if growth < 1e-9:
            return 0.0
        if math.isclose(growth, before, rel_tol=1e-6):
            break
        share = {r: grown[r] / growth for r in rows}
    return growth


def _once_round(
    bench: Bench, part: Component, sent: Mapping[int, Level], settings: Mapping[int, Setting]
) -> dict[int, Level]:
    """Carry levels once through the sections of a loop."""
    here: dict[int, Level] = dict(sent)
    for index in part.sections:
        section = bench.net.sections[index]
        ins = [here[r] if r in here else _from_outside(bench, part, r) for r in section.ins]
        found = section.kind.level(ins, settings.get(index, section.setting))
        here.update(zip(section.outs, found, strict=True))
    return {r: here[r] for r in sent}


def _from_outside(bench: Bench, part: Component, row: int) -> Level:
    writer = bench.net.rows[row].writer
    return SILENT if writer in part.sections else bench.level(row)


@check("loop-gain-over-one", severity=Severity.HURTS)
def loop_gain_over_one(bench: Bench) -> Iterator[Finding]:
    """A feedback loop through cables gives back more than it gets.

    On stage: it builds up by itself until the rails stop it, and stays there. Keep monitors down: it can be loud.
    Fix: one volume in the loop, so that nine tenths come back.
    Blind to: gains that depend on frequency, and loops that the performer closes and opens by hand. Of several ways
    round the shortest tells how fast, so it may be slower.
    Source: a loop whose gain exceeds one grows (H. Barkhausen's criterion for oscillation); g each time round is
    20 log10(g) dB over the time that it takes (definition of dB).
    """
    for part in bench.net.components:
        if not part.is_loop:
            continue
        gain = gain_round(bench, part, {})
        if gain <= 1.0:
            continue
        sections = [bench.net.sections[i] for i in part.sections]
        real = [s for s in sections if not s.kind.is_internal]
        place = " to ".join(_loop_jacks(bench, real)) or real[0].name
        words, speed = growth(gain, round_s(bench, part))
        yield Finding(
            place,
            f"what goes round through {place} comes back {gain:.3g} times as large, "
            f"{db_from_ratio(gain):+.1f} dB{words}.",
            {"loop_gain_ratio": gain, "loop_gain_db": db_from_ratio(gain), **speed},
            _tamed(bench, part, real),
            real[0].where,
        )


def _loop_jacks(bench: Bench, sections: Sequence[NetSection]) -> list[str]:
    """Return the plugged outputs of a loop's sections."""
    inside = {s.index for s in sections}
    rows = {row for s in sections for row in s.outs}
    return [
        c.name
        for c in bench.net.contacts.values()
        if c.source_row in rows
        and c.is_plugged
        and any(s.index in inside for s in bench.readers(c.row))
    ]


def _tamed(bench: Bench, part: Component, sections: Sequence[NetSection]) -> Fix | None:
    """Turn down the first volume in the loop that can hold it."""
    for section in sections:
        params = [p.name for p in section.kind.expand_params(section.setting.ways)]
        turned = [p for p in params if p.startswith(("gain", "feedback", "level", "master"))]

        def fits(setting: Setting, index: int = section.index) -> bool:
            return gain_round(bench, part, {index: setting}) <= LOOP_SAFE_RATIO

        # The input that closes the loop is tried before what turns everything down.
        turned.sort(key=lambda name: name in ("master", "level"))
        fix = control_that_fits(bench, section, turned, fits, up=False)
        if fix is not None:
            return fix
    return None
