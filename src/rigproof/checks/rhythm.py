"""Rhythm: whether patterns begin together, stay on the grid, come at all, and let go before the next hit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of
from rigproof.checks.fixes import control_that_fits, controls_for, rounded
from rigproof.kinds.ad_envelope import DECAY_NEPER
from rigproof.kinds.base import SILENT, Beat, Level, Setting
from rigproof.kinds.gate_sequencer import rhythm_of
from rigproof.kinds.step_rules import has_rules, most_ratchets, written_rules
from rigproof.kinds.stereo_delay import NOTES
from rigproof.model.edits import AddCable, Replug, SetControl
from rigproof.model.patch import Cable
from rigproof.net.graph import Contact, NetSection
from rigproof.units import db_from_ratio, quarter_s, ratio_from_db

CLOCK, RESET = "clock", "reset"
"""Input ports of a section that steps through a pattern."""
RUN = "run"
"""Input port of a section that stands still while it is low."""
SEQUENCERS = ("gate-sequencer", "step-sequencer")
DIVIDER, SWING = "clock-divider", "swing"
STRAIGHT = 0.5
ORDER_S = 0.020
"""From this apart the order of two sounds is heard (I. J. Hirsh, J. Acoust. Soc. Am. 31, 1959, 759). [s]"""
SHORTEST_ECHO_S = 0.060
"""A shorter free echo is a colour or a doubling and has no place on the grid. Our choice. [s]"""
SILENT_RATIO = 0.2
"""A pattern that stays away from a section in more than one show of five is not counted on. Our choice."""
BACK_DB = 3.0
"""A sum that is still this far down has not come back: half its power. Definition."""
ALMOST_DB = 1.0
"""About the smallest level difference that is heard."""
HALVINGS = 40
THRESHOLD_V = 1.0
"""Where a clock or reset input fires when its sheet is silent. Common practice, no source. [V]"""
PASSES = ("slew", "attenuverter", "mixer", "buffer", "stereo-delay", "one-sample-delay", "junction")
"""Kinds through which a pulse comes as a pulse, perhaps later."""


# --- reset -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stepped:
    """A section that steps through a pattern, and the jacks of its clock and reset."""

    section: NetSection
    clock: Contact
    reset: Contact
    origin: int
    """The section that its clock pulses come from."""


def stepped(bench: Bench) -> list[Stepped]:
    """Return every section of a rig that has a clock and a reset jack and gets a clock."""
    found = []
    for section in bench.net.sections:
        names = {p.name for p in section.kind.inputs}
        if section.kind.is_internal or not {CLOCK, RESET} <= names:
            continue
        clock, reset = bench.jack_into(section, CLOCK), bench.jack_into(section, RESET)
        if clock is None or reset is None or not bench.is_driven(clock):
            continue
        driver = bench.driver(section.input_row(CLOCK))
        if driver is not None:
            found.append(Stepped(section, clock, reset, driver.index))
    return found


@check("reset-left-open", severity=Severity.WORTH_KNOWING)
def reset_left_open(bench: Bench) -> Iterator[Finding]:
    """A sequencer's reset gets nothing, while another one on the same clock is reset.

    On stage: after a stop and a start one begins anew and the other goes on from where it was: the bass is a beat off
    for the rest of the song.
    Fix: a cable from what resets the other one; it shares that output, by a mult or a stacked plug.
    Blind to: patterns that are meant to drift, and modules that reset themselves when the clock stops.
    Source: definition of a reset; a rig without any is left alone, since then all go on together.
    """
    groups: dict[int, list[Stepped]] = {}
    for one in stepped(bench):
        groups.setdefault(one.origin, []).append(one)
    for group in groups.values():
        reset = [one for one in group if bench.is_driven(one.reset)]
        said = set()
        for one in group:
            if not reset or bench.is_driven(one.reset) or one.reset.name in said:
                continue
            said.add(one.reset.name)
            node = bench.node(reset[0].reset)
            source = bench.net.contacts[node.outputs[0]] if node and node.outputs else None
            fix = None
            if source is not None:
                here = f"{source.module}.{source.jack.id}"
                there = f"{one.reset.module}.{one.reset.jack.id}"
                fix = fix_of(AddCable(Cable(here, there)))
            yield Finding(
                one.reset.name,
                f"{one.reset.name} gets no reset; {reset[0].reset.name} on the same clock does.",
                {"inputs": len({r.reset.name for r in reset})},
                fix,
                one.reset.jack.where,
            )


@check("run-left-open", severity=Severity.WORTH_KNOWING)
def run_left_open(bench: Bench) -> Iterator[Finding]:
    """A clock's run input gets nothing, while another one of the rig starts and stops by a gate.

    On stage: you press stop and half of the rig goes on; you press start and it is somewhere else in the bar.
    Fix: a cable from what runs the other one; it shares that output, by a mult or a stacked plug.
    Blind to: clocks that are meant to go on by themselves, and things that hear start and stop as messages.
    Source: definition of a run gate; a rig without any is left alone, since then all go on together.
    """
    jacks = [
        (contact, section)
        for contact in bench.net.contacts.values()
        if contact.source_row is None
        for port in contact.jack.lanes.get(contact.lane, ())
        if port.endswith(f".{RUN}")
        for section in [bench.net.section(f"{contact.module}.{port.rpartition('.')[0]}")]
    ]
    driven = [contact for contact, _ in jacks if bench.is_driven(contact)]
    if not driven:
        return
    node = bench.node(driven[0])
    source = bench.net.contacts[node.outputs[0]] if node is not None and node.outputs else None
    for contact, section in jacks:
        if bench.is_driven(contact) or not _is_used(bench, section):
            continue
        fix = None
        if source is not None:
            here = f"{source.module}.{source.jack.id}"
            fix = fix_of(AddCable(Cable(here, f"{contact.module}.{contact.jack.id}")))
        yield Finding(
            contact.name,
            f"{contact.name} gets no gate and runs on; {driven[0].name} starts and stops.",
            {"inputs": len(driven)},
            fix,
            contact.jack.where,
        )


def _chain_back(bench: Bench, row: int) -> tuple[NetSection, list[NetSection], int] | None:
    """Return what makes the pulses of a row, the sections they pass on the way, and the row they come out on."""
    passed: list[NetSection] = []
    for _ in range(64):
        writer = bench.net.rows[row].writer
        if writer is None:
            return None
        section = bench.net.sections[writer]
        if section.kind.name not in PASSES:
            return section, passed, row
        fed = [r for r in section.ins if bench.pulse(r).beat is not Beat.NONE]
        if not section.ins or (len(fed) != 1 and len(section.ins) != 1):
            return None
        passed.append(section)
        row = fed[0] if fed else section.ins[0]
    return None


def _lag_s(bench: Bench, section: NetSection, threshold_v: float) -> float:
    """Return how much later a pulse rises through a threshold behind a section. [s]"""
    if section.kind.name == "slew":
        high_v, rise_s = bench.volts(section.ins[0]).hi, section.setting["rise"]
        if high_v <= threshold_v:
            return 0.0  # it never fires, which another check says
        return -rise_s * math.log(1.0 - threshold_v / high_v)
    return max((lag.hi_s for lag in section.kind.lags(section.setting) if lag.is_signal), default=0)


@check("reset-after-clock", severity=Severity.HURTS)
def reset_after_clock(bench: Bench) -> Iterator[Finding]:
    """A reset arrives later than the clock pulse that it belongs to.

    On stage: the first step plays on the old place and then again: the pattern is one step late from the first bar.
    Fix: the reset cable straight from the output that makes it.
    Blind to: receivers that want the reset some time ahead of the clock (here both may come at once), cables so long
    that they round a pulse off, and lags inside modules that their sheets do not tell.
    Source: a capacitor reaches v of V after -RC ln(1 - v/V) (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
    """
    for one in stepped(bench):
        if not bench.is_driven(one.reset):
            continue
        ways = [_chain_back(bench, one.section.input_row(port)) for port in (CLOCK, RESET)]
        if ways[0] is None or ways[1] is None or ways[0][0].index != ways[1][0].index:
            continue
        clock_s, reset_s = (
            sum(_lag_s(bench, s, jack.jack.threshold_v or THRESHOLD_V) for s in way[1])
            for way, jack in zip(ways, (one.clock, one.reset), strict=True)
            if way is not None
        )
        late_s = reset_s - clock_s
        if late_s <= 0.5 / one.section.setting.rate_hz:
            continue
        yield Finding(
            one.reset.name,
            f"the reset at {one.reset.name} comes {1e3 * late_s:.3g} ms after its clock pulse.",
            {"late_s": late_s, "reset_s": reset_s, "clock_s": clock_s},
            _straight(bench, one.reset, ways[1][2]),
            one.reset.jack.where,
        )


def _straight(bench: Bench, reset: Contact, row: int) -> Fix | None:
    """Move the far end of the reset cable to the jack at which the pulses come out."""
    target = f"{reset.module}.{reset.jack.id}"
    cables = [bench.project.patch.cables[i] for i in bench.cables_at.get(target, ())]
    origin = next((c for c in bench.net.contacts.values() if c.source_row == row), None)
    if origin is None or len(cables) != 1:
        return None
    cable, new = cables[0], f"{origin.module}.{origin.jack.id}"
    if cable.target == target:
        return fix_of(Replug(cable.source, target, new, target))
    return fix_of(Replug(target, cable.target, target, new))


# --- the grid --------------------------------------------------------------------------------------------------------


def tempi(bench: Bench) -> list[float]:
    """Return every tempo of the set, or the patch's without one. [bpm]"""
    setlist = bench.project.setlist
    if setlist is None or not setlist.sections:
        return [bench.project.patch.tempo_bpm]
    return sorted({p.tempo_bpm for p in bench.readings.timeline.passages})


@check("echo-off-the-grid", severity=Severity.WORTH_KNOWING)
def echo_off_the_grid(bench: Bench) -> Iterator[Finding]:
    """An echo that runs free lies between the note lengths at a tempo of the set.

    On stage: the repeats rub against the beat, more with each repeat.
    Fix: the nearest note length at that tempo; with several tempi, the echo locked to its clock where one is plugged.
    Blind to: echoes shorter than 60 ms, which colour, other kinds of echo, times that a hand or a voltage moves, and
    echoes that are meant to be off.
    Source: 60 s over the tempo is a quarter note (definition); apart by 20 ms the order of two sounds is heard (I. J.
    Hirsh, J. Acoust. Soc. Am. 31, 1959, 759).
    """
    for section in bench.net.sections:
        if section.kind.name != "stereo-delay" or round(section.setting["sync"]) != 1:
            continue
        time_s, span = section.setting["time"], section.setting.span("time")
        if time_s < SHORTEST_ECHO_S or not span.is_point or _is_moved(bench, section, "time-cv"):
            continue
        off = [(_nearest(time_s, tempo), tempo) for tempo in tempi(bench)]
        (note, off_s), tempo = max(off, key=lambda item: abs(item[0][1]))
        if abs(off_s) <= ORDER_S:
            continue
        quarter = quarter_s(tempo)
        yield Finding(
            section.name,
            f"the echo of {section.name} takes {1e3 * time_s:.4g} ms; at {tempo:g} bpm the nearest "
            f"note, {note}, takes {1e3 * (time_s - off_s):.4g} ms.",
            {
                "time_s": time_s,
                "off_s": off_s,
                "off_beats": off_s / quarter,
                "tempo_bpm": tempo,
            },
            _on_grid(bench, section, [t for _, t in off], time_s),
            section.where,
        )


def _is_moved(bench: Bench, section: NetSection, port: str) -> bool:
    names = [p.name for p in section.kind.expand_inputs(section.setting.ways)]
    return port in names and not bench.volts(section.ins[names.index(port)]).is_point


def _nearest(time_s: float, tempo_bpm: float) -> tuple[str, float]:
    """Return the nearest note length and how much longer the time is. [s]"""
    away = {n: time_s - float(q) * quarter_s(tempo_bpm) for n, q in NOTES.items()}
    note = min(away, key=lambda n: abs(away[n]))
    return note, away[note]


def _on_grid(
    bench: Bench, section: NetSection, tempi_bpm: Sequence[float], time_s: float
) -> Fix | None:
    if len(tempi_bpm) > 1:
        row = section.input_row("clock")
        if bench.pulse(row).beat not in (Beat.STEADY, Beat.PATTERN):
            return None
        for name, _, control in controls_for(bench, section, ("sync",)):
            return fix_of(SetControl(name, control.choices[0] if control.choices else 0))
        return None
    wanted_s = round(time_s - _nearest(time_s, tempi_bpm[0])[1], 4)
    for name, _, control in controls_for(bench, section, ("time",)):
        if control.lo <= wanted_s <= control.hi:
            return fix_of(SetControl(name, wanted_s))
    return None


@check("division-slides-pattern", severity=Severity.WORTH_KNOWING)
def division_slides_pattern(bench: Bench) -> Iterator[Finding]:
    """A pattern or a pulse that would fit the bar is divided so that it slides against it.

    On stage: the one of the pattern comes on another beat every time, and meets the bar again much later than it sounds
    as if it should.
    Fix: the nearest division with which it fits.
    Blind to: patterns that do not fit the bar anyway, which is mostly meant, those that a reset cuts, and divisions
    that a hand moves.
    Source: exact fractions of a quarter note (arithmetic).
    """
    setlist = bench.project.setlist
    bar = setlist.beats_per_bar if setlist is not None else 4
    for one in _divided(bench):
        plain = Fraction(one.steps) / one.per_quarter
        if _bars_to_meet(plain, bar) > max(Fraction(1), plain / bar):
            continue
        slid = plain * one.division
        meets = _bars_to_meet(slid, bar)
        if meets <= max(Fraction(1), slid / bar):
            continue
        turn = "one pulse" if one.steps == 1 else f"a turn of {one.steps} steps"
        yield Finding(
            one.place,
            f"{one.place} takes {float(slid / bar):.4g} bars for {turn} at a division of "
            f"{one.division}: it meets the bar again after {meets} bars.",
            {
                "turn_bars": float(slid / bar),
                "meets_bars": meets,
                "division": one.division,
            },
            _fitting_division(bench, one, plain, bar),
            one.section.where,
        )


@dataclass(frozen=True, slots=True)
class Divided:
    """A division of a steady clock that stands still: of a sequencer's steps, or of a divider's output."""

    section: NetSection
    place: str
    param: str
    division: int
    steps: int
    per_quarter: Fraction
    """Pulses of its clock in a quarter note."""


def _divided(bench: Bench) -> Iterator[Divided]:
    """Yield every division above one that nothing resets and no hand moves."""
    for section in bench.net.sections:
        kind, setting = section.kind.name, section.setting
        if kind not in (*SEQUENCERS, DIVIDER):
            continue
        clock, reset = (bench.pulse(section.input_row(port)) for port in (CLOCK, RESET))
        if clock.beat is not Beat.STEADY or not clock.per_quarter or reset.beat is Beat.STEADY:
            continue
        if kind != DIVIDER:
            params = [("division", section.name, _turn_steps(section))]
        else:
            params = [
                (f"division-{i}", jack.name, 1)
                for i, row in enumerate(section.outs, start=1)
                for jack in bench.net.contacts.values()
                if jack.source_row == row and jack.is_plugged
            ]
        for param, place, steps in params:
            division = max(1, round(setting[param]))
            if steps and division > 1 and setting.span(param).is_point:
                yield Divided(section, place, param, division, steps, clock.per_quarter)


def _turn_steps(section: NetSection) -> int:
    if section.kind.name == "gate-sequencer":
        return len(rhythm_of(section.setting))
    written = section.setting.options.get("notes", ())
    return len(written) if isinstance(written, tuple) else 0


def _bars_to_meet(cycle: Fraction, bar: int) -> int:
    """Return after how many bars a cycle begins on a bar line again. Quarter notes in, bars out."""
    return (cycle / bar).numerator


def _fitting_division(bench: Bench, one: Divided, plain: Fraction, bar: int) -> Fix | None:
    for name, _, control in controls_for(bench, one.section, (one.param,)):
        lo, hi = max(1, round(control.lo)), round(control.hi)
        fitting = [
            d
            for d in range(lo, hi + 1)
            if _bars_to_meet(plain * d, bar) <= max(Fraction(1), plain * d / bar)
        ]
        if fitting:
            return fix_of(SetControl(name, min(fitting, key=lambda d: (abs(d - one.division), d))))
    return None


@check("swing-applied-twice", severity=Severity.HURTS)
def swing_applied_twice(bench: Bench) -> Iterator[Finding]:
    """A clock that swings already is swung once more.

    On stage: the second of every pair comes so late that it stumbles, and it is no swing that any drummer plays.
    Fix: the later of the two straight.
    Blind to: swing that is written into a rhythm or played by hand, and swing inside things that read MIDI clock.
    Source: swing as the share of a pair of pulses, 0.5 being straight: common practice, no source.
    """
    for section in bench.net.sections:
        share = section.setting.values.get("swing", STRAIGHT)
        if section.kind.name != SWING or share <= STRAIGHT:
            continue
        back = _chain_back(bench, section.input_row(CLOCK))
        if back is None:
            continue
        source, _, row = back
        before = _swing_of(source, row)
        if before <= STRAIGHT:
            continue
        fix = next(
            (
                fix_of(SetControl(name, STRAIGHT))
                for name, _, control in controls_for(bench, section, ("swing",))
                if control.lo <= STRAIGHT <= control.hi
            ),
            None,
        )
        yield Finding(
            section.name,
            f"{section.name} swings to {100 * share:.3g} % what {source.name} has swung to "
            f"{100 * before:.3g} % already.",
            {"first_swing_ratio": before, "second_swing_ratio": share},
            fix,
            section.where,
        )


def _swing_of(section: NetSection, row: int) -> float:
    """Return the share of a pair at which the second pulse of an output comes; 0.5 where it does not swing."""
    values = section.setting.values
    if section.kind.name == SWING:
        return values["swing"]
    return values.get(f"swing-{section.outs.index(row) + 1}", STRAIGHT)


# --- chance ----------------------------------------------------------------------------------------------------------


def _highest_in(bench: Bench, control: str, begin_s: float, end_s: float) -> float | None:
    """Return the highest value of a control within a stretch of the set; None when the set does not touch it."""
    found = [leg for leg in bench.readings.legs if leg.control == control]
    if not found:
        return None
    before = [leg for leg in found if leg.begin_s <= begin_s]
    values = [before[-1].value_at(begin_s)] if before else [found[0].begin]
    for leg in found:
        if begin_s <= leg.begin_s < end_s:
            values += [leg.begin, leg.value_at(end_s)]
        elif leg.begin_s < begin_s < leg.end_s:
            values.append(leg.value_at(end_s))
    return max(values)


@check("pattern-may-stay-away", severity=Severity.WORTH_KNOWING)
def pattern_may_stay_away(bench: Bench) -> Iterator[Finding]:
    """Chance may keep a pattern silent for a whole section of the set.

    On stage: you wait for the bell, and in one show of four it does not come.
    Fix: the chance at which it stays away in one show of five, where one control sets it once for all.
    Blind to: voltages that change the chance, steps with rules, and patterns whose pulses nobody can count.
    Source: n hits that come with the chance p each all stay away with (1 - p)^n, and n p come on average (binomial
    distribution).
    """
    setlist = bench.project.setlist
    if setlist is None:
        return
    passages = bench.readings.timeline.passages
    for section in bench.net.sections:
        values = section.setting
        span = values.spans.get("probability")
        if section.kind.name != "gate-sequencer" or (values["probability"] >= 1.0 and span is None):
            continue
        if values["probability"] >= 1.0 and span is not None and span.is_point:
            continue
        if _is_moved(bench, section, "probability-cv") or not _is_used(bench, section):
            continue
        if has_rules(written_rules(values.options)):
            continue
        clock = bench.pulse(section.input_row(CLOCK))
        turn = rhythm_of(values)
        hits = sum(1 for letter in turn if letter)
        if clock.beat not in (Beat.STEADY, Beat.PATTERN) or not clock.per_quarter or not hits:
            continue
        per_quarter = clock.per_quarter * hits / len(turn) / max(1, round(values["division"]))
        controls = bench.controls_of(section, "probability")
        worst: tuple[float, float, int, str] | None = None
        for passage in passages:
            chance = values["probability"]
            for control in controls:
                end_s = passage.start_s + passage.length_s
                found = _highest_in(bench, control, passage.start_s, end_s)
                chance = chance if found is None else found
            chance = min(1.0, chance) * clock.chance
            quarters = Fraction(round(passage.length_s / quarter_s(passage.tempo_bpm)))
            count = int(per_quarter * quarters)
            if not 0.0 < chance < 1.0 or count < 1:
                continue
            silent = (1.0 - chance) ** count
            if worst is None or silent > worst[0]:
                worst = (silent, chance, count, passage.id)
        if worst is None or worst[0] <= SILENT_RATIO + 1e-12:
            continue
        silent, chance, count, passage_id = worst
        bars = setlist.beats_per_bar * per_quarter
        yield Finding(
            section.name,
            f"{section.name} has {count} hits in section {passage_id} and each comes with a chance "
            f"of {chance:.2g}: in {100 * silent:.2g} % of all shows none comes there.",
            {
                "silent_ratio": silent,
                "chance_ratio": chance,
                "hits": count,
                "expected_hits": count * chance,
                "expected_hits_a_bar": float(bars) * chance,
            },
            _likelier(bench, section, count, clock.chance),
            section.where,
        )


def _is_used(bench: Bench, section: NetSection) -> bool:
    """Whether anything takes the hits."""
    outs = set(section.outs)
    return any(c.is_plugged for c in bench.net.contacts.values() if c.source_row in outs) or any(
        not bench.net.sections[reader].kind.is_internal
        for row in outs
        for reader, _ in bench.net.readers.get(row, ())
    )


def _likelier(bench: Bench, section: NetSection, count: int, clock_chance: float) -> Fix | None:
    wanted = rounded((1.0 - SILENT_RATIO ** (1.0 / count)) / clock_chance, up=True)
    for name, _, control in controls_for(bench, section, ("probability",)):
        if control.lo <= wanted <= control.hi:
            return fix_of(SetControl(name, wanted))
    return None


# --- ducking ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Duck:
    """An envelope that pushes an amplifier down: the sections between them, each with the input that it takes."""

    bench: Bench
    vca: NetSection
    envelope: NetSection
    way: tuple[tuple[NetSection, int], ...]

    def gain(self, height: float) -> float:
        """Return the amplifier's gain with the envelope at a share of its peak, by the sections' own laws."""
        level = Level.steady(height * self.envelope.setting["peak"])
        for step, taken in self.way:
            ins = [
                level if i == taken else Level.steady(self.bench.level(r).dc_v)
                for i, r in enumerate(step.ins)
            ]
            level = step.kind.level(ins, step.setting)[0]
        names = [p.name for p in self.vca.kind.inputs]
        ins = [Level.steady(1.0) if n == "in" else level if n == "cv" else SILENT for n in names]
        return abs(self.vca.kind.level(ins, self.vca.setting)[0].dc_v)

    @cached_property
    def rest(self) -> float:
        """The gain while the envelope rests."""
        return self.gain(0.0)

    @cached_property
    def depth_db(self) -> float:
        """From rest to where the envelope peaks; below 0. [dB]"""
        return db_from_ratio(max(self.gain(1.0) / self.rest, 1e-10))

    def height_after(self, time_s: float, decay_s: float) -> float:
        """Return the share of its peak at which the envelope stands so long after a hit."""
        fallen = (time_s - self.envelope.setting["attack"]) / decay_s
        if fallen <= 0.0:
            return 1.0
        if self.envelope.setting["curve"] < 0.5:
            return max(0.0, 1.0 - fallen)
        return 0.0 if fallen >= 1.0 else math.exp(-DECAY_NEPER * fallen)

    def is_back(self, time_s: float, decay_s: float, down_db: float) -> bool:
        """Whether the gain is no further below rest than this, so long after a hit."""
        height = self.height_after(time_s, decay_s)
        return self.gain(height) >= self.rest * ratio_from_db(-down_db)

    def back_s(self, down_db: float) -> float:
        """Return how long after a hit the gain is back within so much of rest. [s]"""
        decay_s, begin_s = self.envelope.setting["decay"], self.envelope.setting["attack"]
        low_s, high_s = begin_s, begin_s + decay_s
        for _ in range(HALVINGS):
            middle_s = 0.5 * (low_s + high_s)
            if self.is_back(middle_s, decay_s, down_db):
                high_s = middle_s
            else:
                low_s = middle_s
        return high_s


def _steering_chain(
    bench: Bench, row: int
) -> tuple[NetSection, list[tuple[NetSection, int]]] | None:
    """Return the envelope that moves a control row, and the sections on the way, each with the input that it takes."""
    way: list[tuple[NetSection, int]] = []
    for _ in range(64):
        writer = bench.net.rows[row].writer
        if writer is None:
            return None
        section = bench.net.sections[writer]
        if section.kind.name == "ad-envelope":
            return (section, way) if section.outs[0] == row else None
        if not section.kind.is_internal and section.kind.name not in ("attenuverter", "mixer"):
            return None
        moving = [i for i, r in enumerate(section.ins) if bench.level(r).rms_v > 0.0]
        if len(moving) != 1:
            return None
        way.append((section, moving[0]))
        row = section.ins[moving[0]]
    return None


def duck_of(bench: Bench, section: NetSection) -> Duck | None:
    """Return the envelope that pushes a VCA down; None when none does."""
    found = _steering_chain(bench, section.input_row("cv"))
    if found is None:
        return None
    duck = Duck(bench, section, found[0], tuple(reversed(found[1])))
    return duck if duck.rest > 0.0 and duck.gain(1.0) < duck.rest else None


def shortest_gap(bench: Bench, row: int) -> Fraction | None:
    """Return the least time between two pulses that can come on a row; None when nobody can say. [quarter notes]"""
    pulse, driver = bench.pulse(row), bench.driver(row)
    if pulse.beat is Beat.STEADY and pulse.per_quarter:
        return 1 / pulse.per_quarter
    if pulse.beat is not Beat.PATTERN or driver is None or driver.kind.name != "gate-sequencer":
        return None
    clock = bench.pulse(driver.input_row(CLOCK))
    most = round(driver.setting["repeats"]) * most_ratchets(driver.setting.options)
    if not clock.per_quarter or most > 1:
        return None
    turn = rhythm_of(driver.setting)
    places = [i for i, letter in enumerate(turn) if letter]
    if not places:
        return None
    gaps = [b - a for a, b in zip(places, [*places[1:], places[0] + len(turn)], strict=True)]
    return min(gaps) * max(1, round(driver.setting["division"])) / clock.per_quarter


@check("duck-stays-down", severity=Severity.HURTS)
def duck_stays_down(bench: Bench) -> Iterator[Finding]:
    """A duck is still 3 dB or more down when the next hit pushes it down again, at the fastest tempo of the set.

    On stage: it does not pump, it is just quiet; and it jumps up when the kick pauses.
    Fix: the decay of the envelope, just short enough to be back within 3 dB.
    Blind to: ducks by a follower or a compressor, envelopes that several triggers share, swing, and hits that come by
    chance or by hand.
    Source: a capacitor's discharge, -60 dB after 6.907755 time constants (Horowitz & Hill, The Art of Electronics, 3rd
    ed., ch. 1), put through the laws of attenuverter and VCA; 3 dB is half the power (definition).
    """
    for section in bench.net.sections:
        if section.kind.name != "vca":
            continue
        duck = duck_of(bench, section)
        gap = None if duck is None else shortest_gap(bench, duck.envelope.input_row("gate"))
        if duck is None or gap is None:
            continue
        quarter = quarter_s(max(tempi(bench)))
        gap_s, decay_s = float(gap) * quarter, duck.envelope.setting["decay"]
        if duck.is_back(gap_s, decay_s, BACK_DB):
            continue

        def fits(setting: Setting, one: Duck = duck, room_s: float = gap_s) -> bool:
            return one.is_back(room_s, setting["decay"], BACK_DB)

        half_s = duck.back_s(BACK_DB)
        yield Finding(
            section.name,
            f"{duck.envelope.name} pushes {section.name} down by {-duck.depth_db:.1f} dB; it is "
            f"back within 3 dB after {1e3 * half_s:.4g} ms, and the next hit comes after "
            f"{1e3 * gap_s:.4g} ms.",
            {
                "depth_db": duck.depth_db,
                "within_3_db_after_s": half_s,
                "within_3_db_after_beats": half_s / quarter,
                "within_1_db_after_s": duck.back_s(ALMOST_DB),
                "next_hit_s": gap_s,
                "next_hit_beats": float(gap),
            },
            control_that_fits(bench, duck.envelope, ("decay",), fits, up=False),
            section.where,
        )
