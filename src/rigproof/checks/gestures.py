"""Gestures: what the set asks of two hands and of the lines between them and the sound.

A hand is at one control at a time, or at two faders that stand side by side. Where the sheets say where controls sit,
the way from one to the next is timed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.checks.fixes import controls_for, rounded
from rigproof.checks.midi import (
    FULL_BYTES,
    LINE_BYTES_S,
    RUNNING_BYTES,
    SERIAL,
    renumbered,
)
from rigproof.kinds.base import Level
from rigproof.kinds.vca import DB_PER_V, EXPONENTIAL
from rigproof.model.edits import FreeMoveStart, GlideSetting, SetControl, SetMoveHand, SetMoveLength
from rigproof.model.panel import face_mm, mounted
from rigproof.model.setlist import Move, Passage
from rigproof.model.sheet import Control, ControlShape, Housing
from rigproof.net.graph import NetSection
from rigproof.net.timeline import Event
from rigproof.readings.messages import (
    HEARD,
    SCAN,
    SENT,
    TOP_OF_7_BITS,
    Message,
    is_sender,
    listeners_reached,
    message_of,
    senders,
)
from rigproof.readings.over_set import Leg
from rigproof.readings.reach import backward
from rigproof.units import db_from_ratio, plural, quarter_s, ratio_from_db

HANDS = ("left", "right")
SIDE_BY_SIDE_MM = 40.0
"""Two faders no further apart can be moved by two fingers of one hand. Our choice. [mm]"""
JUMP_RATIO = 0.05
"""A jump of less than this share of the travel is no jump. Our choice."""
FADER_CAP_MM = 10.0
"""Width of a fader's cap, the target of a reach. Common practice, no source. [mm]"""
KNOB_MM = 10.0
"""Width of a knob whose sheet does not say. Common practice, no source. [mm]"""
REACH_S, REACH_S_PER_BIT = 0.027689, 0.111537
"""Fitts's law in the form of C. Shannon, fitted to the sixteen cells of P. M. Fitts's stylus experiment (J. Exp.
Psychology 47, 1954; the table from memory). [s, s/bit]"""
SAME_S = 1e-6
LATE_S = 0.010
"""From action to sound at most 10 ms (D. Wessel and M. Wright, Problems and Prospects for Intimate Musical Control of
Computers, NIME 2001). [s]"""
HEARD_CENTS = 5.0
"""The smallest change of pitch that a good listener hears in sequence: about 5 cents, often quoted."""
HEARD_DB = 1.0
"""The smallest change of level that is heard: about 1 dB."""
PLAYED_DB = -20.0
"""So far down from its top an amplifier is played; further down steps are larger and softer. Our choice."""
SCAN_HZ = 1000.0
"""How often a controller looks at its faders where its sheet is silent. Common practice, no source. [Hz]"""
FASTEST_S = 0.010
"""No hand moves a fader faster than this. Our choice. [s]"""
USUAL_SWEEP_S = 2.0
"""How long a sweep from end to end takes where the set has none. Our choice. [s]"""


@dataclass(frozen=True, slots=True)
class Gesture:
    """One move of the set on the clock."""

    passage: str
    index: int
    move: Move
    begin_s: float
    end_s: float
    quarter_s: float

    @property
    def control(self) -> str:
        """What is moved."""
        return self.move.control

    @property
    def place(self) -> str:
        """Where it stands in the set."""
        return f"{self.passage} bar {self.move.bar} beat {self.move.beat:g}: {self.control}"

    def meets(self, begin_s: float, end_s: float) -> bool:
        """Whether it is under way at any time between."""
        return self.begin_s < end_s - SAME_S and begin_s < self.end_s - SAME_S


def gestures(bench: Bench) -> list[Gesture]:
    """Return every move of the set, in order of time."""
    setlist = bench.project.setlist
    if setlist is None:
        return []
    found = []
    for passage, span in zip(setlist.sections, bench.readings.timeline.passages, strict=True):
        quarter = quarter_s(span.tempo_bpm)
        for index, move in enumerate(passage.moves):
            beats = (move.bar - 1) * setlist.beats_per_bar + move.beat - 1.0
            begin_s = span.start_s + beats * quarter
            end_s = begin_s + move.beats * quarter
            found.append(Gesture(passage.id, index, move, begin_s, end_s, quarter))
    return sorted(found, key=lambda g: (g.begin_s, g.end_s))


def control_of(bench: Bench, name: str) -> Control | None:
    """Return a control of the rig, or None."""
    module, _, control = name.partition(".")
    if module not in bench.sheet_names:
        return None
    return bench.sheet(module).controls.get(control)


def spot_mm(bench: Bench, name: str) -> tuple[str, tuple[float, float]] | None:
    """Return on which surface a control sits, and where; None where nobody says. [mm]"""
    module = name.partition(".")[0]
    control = control_of(bench, name)
    if control is None or control.at_mm is None:
        return None
    sheet, place = bench.sheet(module), mounted(bench.project, module)
    if place is not None and sheet.housing is Housing.MODULE:
        return "case", face_mm(place, sheet, control.at_mm)
    return module, control.at_mm


def apart_mm(bench: Bench, first: str, second: str) -> float | None:
    """Return the distance between two controls, or None when they are not on one surface. [mm]"""
    here, there = spot_mm(bench, first), spot_mm(bench, second)
    if here is None or there is None or here[0] != there[0]:
        return None
    return math.dist(here[1], there[1])


def are_side_by_side(bench: Bench, first: str, second: str) -> bool:
    """Whether one hand can move both controls at once."""
    shapes = {c.shape for n in (first, second) if (c := control_of(bench, n)) is not None}
    distance = apart_mm(bench, first, second)
    return shapes == {ControlShape.FADER} and distance is not None and distance <= SIDE_BY_SIDE_MM


def hands_needed(bench: Bench, controls: Sequence[str]) -> int:
    """Return how many hands it takes to move these controls at once."""
    left = list(dict.fromkeys(controls))
    count = 0
    while left:
        one = left.pop(0)
        beside = next((c for c in left if are_side_by_side(bench, one, c)), None)
        if beside is not None:
            left.remove(beside)
        count += 1
    return count


def _together(found: Sequence[Gesture]) -> Iterator[tuple[Gesture, list[Gesture]]]:
    """Yield each gesture with those on other controls that began before and are still under way."""
    under_way: list[Gesture] = []
    for one in found:
        under_way = [g for g in under_way if g.end_s > one.begin_s + SAME_S]
        others = [
            g for g in under_way if g.control != one.control and g.meets(one.begin_s, one.end_s)
        ]
        if one.end_s > one.begin_s:
            yield one, others
            under_way.append(one)


@check("third-hand-needed", severity=Severity.HURTS)
def third_hand_needed(bench: Bench) -> Iterator[Finding]:
    """The set moves so many controls at once that it takes more than two hands.

    On stage: one of the moves does not happen, and you find out which in front of people.
    Fix: none is computed: which move waits is music.
    Blind to: two knobs under one palm, a foot, and a friend.
    Source: two hands; two faders side by side count as one: common practice, no source.
    """
    for one, others in _together(gestures(bench)):
        controls = [g.control for g in (*others, one)]
        hands = hands_needed(bench, controls) if len(controls) > 2 else 0
        if hands > len(HANDS):
            yield Finding(
                one.place,
                f"in bar {one.move.bar} of section {one.passage} {listed(controls)} move at once.",
                {"controls": len(controls), "hands": hands, "at_s": one.begin_s},
                None,
                one.move.where,
            )


@check("hand-at-two-controls", severity=Severity.HURTS)
def hand_at_two_controls(bench: Bench) -> Iterator[Finding]:
    """One hand is asked to move two controls at the same time that are not side by side.

    On stage: the second move comes late or not at all.
    Fix: the move goes to the other hand, where that one is free.
    Blind to: hands that span further than 40 mm, and moves that may as well wait.
    Source: one hand, one place; two faders up to 40 mm apart count as one: common practice, no source.
    """
    found = gestures(bench)
    clashes = list(_clashes(bench, found))
    for one, other in clashes:
        overlap_s = min(one.end_s, other.end_s) - one.begin_s
        yield Finding(
            one.place,
            f"in bar {one.move.bar} of section {one.passage} the {one.move.hand} hand is still "
            f"at {other.control} when it has to move {one.control}.",
            {
                "overlap_s": overlap_s,
                "overlap_beats": overlap_s / one.quarter_s,
                "at_s": one.begin_s,
            },
            _shared_out(bench, found, {c[0].place for c in clashes}, one, other),
            one.move.where,
        )


def _clashes(bench: Bench, found: Sequence[Gesture]) -> Iterator[tuple[Gesture, Gesture]]:
    """Yield each gesture for which its hand is still elsewhere, and where; two hands would do."""
    for one, others in _together(found):
        if hands_needed(bench, [g.control for g in (*others, one)]) > len(HANDS):
            continue
        for other in others:
            if other.move.hand == one.move.hand and not are_side_by_side(
                bench, other.control, one.control
            ):
                yield one, other
                break


def _shared_out(
    bench: Bench, found: Sequence[Gesture], known: set[str], one: Gesture, other: Gesture
) -> Fix | None:
    """Give one of two moves to the other hand, where that ends the clash and makes no other."""
    for moved in (one, other):
        if moved.move.hand not in HANDS:
            continue
        hand = HANDS[1 - HANDS.index(moved.move.hand)]
        after = [replace(g, move=replace(g.move, hand=hand)) if g is moved else g for g in found]
        left = {clash[0].place for clash in _clashes(bench, after)}
        if one.place not in left and left <= known:
            return fix_of(SetMoveHand(moved.passage, moved.index, hand))
    return None


def _is_free(found: Sequence[Gesture], hand: str, begin_s: float, end_s: float) -> bool:
    return not any(g.move.hand == hand and g.meets(begin_s, end_s) for g in found)


def reach_s(distance_mm: float, width_mm: float) -> float:
    """Return the time that a hand takes to a target so far away and so wide. [s]

    >>> round(reach_s(100.0, 10.0), 4)
    0.4135
    """
    return REACH_S + REACH_S_PER_BIT * math.log2(distance_mm / width_mm + 1.0)


def _width_mm(control: Control) -> float:
    if control.shape is ControlShape.FADER:
        return FADER_CAP_MM
    return control.size_mm or KNOB_MM


@check("reach-too-quick", severity=Severity.WORTH_KNOWING)
def reach_too_quick(bench: Bench) -> Iterator[Finding]:
    """A hand has less time to get from one control to the next than the distance takes.

    On stage: you grab the neighbour, or come in late.
    Fix: the move before ends just early enough, in eighths of a beat.
    Blind to: hands that know the way in the dark, reaches from one surface to another, and controls of which the sheet
    does not say where they sit.
    Source: P. M. Fitts, J. Exp. Psychology 47 (1954), 381, in the form of Shannon (I. S. MacKenzie, Human-Computer
    Interaction 7, 1992, 91): 27.7 ms + 111.5 ms log2(distance / width + 1), fitted to Fitts's table, which is from
    memory.
    """
    last: dict[str, Gesture] = {}
    for one in gestures(bench):
        before = last.get(one.move.hand)
        last[one.move.hand] = one
        if before is None or before.control == one.control:
            continue
        distance = apart_mm(bench, before.control, one.control)
        target = control_of(bench, one.control)
        room_s = one.begin_s - before.end_s
        if distance is None or distance == 0.0 or target is None or room_s < -SAME_S:
            continue
        needed_s = reach_s(distance, _width_mm(target))
        if room_s >= needed_s or before.passage != one.passage:
            continue
        missing_s = needed_s - room_s
        shorter = math.floor((before.move.beats - missing_s / before.quarter_s) * 8.0) / 8.0
        fix = fix_of(SetMoveLength(before.passage, before.index, shorter)) if shorter > 0 else None
        yield Finding(
            one.place,
            f"in bar {one.move.bar} of section {one.passage} the {one.move.hand} hand has "
            f"{1e3 * max(room_s, 0.0):.0f} ms from {before.control} to {one.control}, "
            f"{distance:.0f} mm away; it takes about {1e3 * needed_s:.0f} ms.",
            {"room_s": max(room_s, 0.0), "needed_s": needed_s, "distance_mm": distance},
            fix,
            one.move.where,
        )


@check("control-jumps-in-set", severity=Severity.HURTS)
def control_jumps_in_set(bench: Bench) -> Iterator[Finding]:
    """A section or a move of the set begins with a control elsewhere than the bar before has left it.

    On stage: a fader cannot be in two places: either the sound jumps when you touch it, or you play from the wrong
    place all the way.
    Fix: a setting becomes a move of one beat by a free hand; a move begins where the control stands.
    Blind to: controllers with motors, and programs that wait until the fader passes the old value.
    Source: definition; 5 % of the travel is left alone, our choice.
    """
    setlist = bench.project.setlist
    if setlist is None:
        return
    spans = bench.readings.timeline.passages
    ends = _stands(bench)
    found = gestures(bench)
    for number, (passage, span) in enumerate(zip(setlist.sections, spans, strict=True)):
        settings = passage.settings if number else ()
        for setting in settings:
            leg = ends.get((setting.control, "set", span.start_s))
            if leg is None:
                continue
            jump = _jump_ratio(leg[0], leg[1])
            if jump <= JUMP_RATIO:
                continue
            quarter = quarter_s(span.tempo_bpm)
            free = [h for h in HANDS if _is_free(found, h, span.start_s, span.start_s + quarter)]
            yield Finding(
                f"{passage.id}: {setting.control}",
                f"section {passage.id} begins with {setting.control} at {leg[1].end:.3g}; it "
                f"stands at {leg[1].begin:.3g}.",
                {"jump_ratio": jump, "at_s": span.start_s},
                fix_of(GlideSetting(passage.id, setting.control, 1.0, free[0]))
                if free and not _moves_at_once(passage, setting.control)
                else None,
                setting.where,
            )
        for index, move in enumerate(passage.moves):
            if move.start is None:
                continue
            one = next(g for g in found if (g.passage, g.index) == (passage.id, index))
            moved = ends.get((move.control, "move", one.begin_s))
            if moved is None:
                continue
            jump = _jump_ratio(moved[0], moved[1])
            if jump > JUMP_RATIO:
                yield Finding(
                    one.place,
                    f"the move of {move.control} in bar {move.bar} of section {passage.id} begins "
                    f"at {moved[1].end:.3g}; the control stands at {moved[1].begin:.3g}.",
                    {"jump_ratio": jump, "at_s": one.begin_s},
                    fix_of(FreeMoveStart(passage.id, index)),
                    move.where,
                )


def _moves_at_once(passage: Passage, control: str) -> bool:
    """Whether a section also moves the control in its first beat."""
    return any(m.control == control and m.bar == 1 and m.beat < 2.0 for m in passage.moves)


def _jump_ratio(control: Control, leg: Leg) -> float:
    return abs(leg.end - leg.begin) / abs(control.hi - control.lo)


def _stands(bench: Bench) -> dict[tuple[str, str, float], tuple[Control, Leg]]:
    """Return every jump that the set writes down: from where the control stands to where it is put."""
    stands: dict[str, Leg] = {}
    found: dict[tuple[str, str, float], tuple[Control, Leg]] = {}
    for leg in bench.readings.legs:
        control = control_of(bench, leg.control)
        before = stands.get(leg.control)
        stands[leg.control] = leg
        if control is None or control.is_stepped or control.hi == control.lo:
            continue
        if leg.end_s == leg.begin_s:
            found[(leg.control, "set", leg.begin_s)] = (control, leg)
        if before is not None:
            here = before.value_at(leg.begin_s)
        else:
            refs = bench.net.controls[leg.control]
            here = bench.net.sections[refs[0].section].setting[refs[0].name]
        jumped = Leg(leg.control, leg.begin_s, leg.begin_s, here, leg.begin)
        found[(leg.control, "move", leg.begin_s)] = (control, jumped)
    return found


@check("move-unheard", severity=Severity.HURTS)
def move_unheard(bench: Bench) -> Iterator[Finding]:
    """A move of the set reaches nothing that is heard, from its section on until the control moves again.

    On stage: you play a gesture and nothing happens, and you look for the fault instead of playing on.
    Fix: none is computed: a cable, a level or the move is one too many or too few, and which is the performer's to say.
    Blind to: what else hands play, mappings whose messages nobody hears (they have a check of their own), controls of
    which the sheet does not say what they set, and what a level does not tell: a filter's cutoff counts as heard where
    the filter is. What an echo, a reverb or a loop still remembers is taken for heard.
    Source: reach in the net and every section's own level law, at each moment at which a section begins or a move ends.
    """
    by_control: dict[str, list[Event]] = {}
    for event in bench.readings.unheard:
        by_control.setdefault(event.control, []).append(event)
    for one in gestures(bench) if by_control else ():
        events = by_control.get(one.control, [])
        if not events or (events[0].passage, events[0].move) != (one.passage, one.index):
            continue
        if _is_said_to_nobody(bench, one.control):
            continue
        leads = bench.readings.heard_after[one.control] is not None
        why = "what it works on is silent until it moves again" if leads else "no way leads out"
        more = f"; so it is with {plural(len(events) - 1, 'more move')}" if len(events) > 1 else ""
        yield Finding(
            one.place,
            f"nothing is heard of the move of {one.control} in bar {one.move.bar} of section "
            f"{one.passage}: {why}{more}.",
            {"moves": len(events), "at_s": one.begin_s},
            None,
            one.move.where,
        )


def _is_said_to_nobody(bench: Bench, control: str) -> bool:
    """Whether a control sends messages and none of them gets to anybody who listens."""
    sending = senders(bench.net, control)
    message = message_of(sending[0]) if sending else None
    return message is not None and not listeners_reached(bench.net, sending, message)


# --- messages --------------------------------------------------------------------------------------------------------


@check("message-moves-a-stranger", severity=Severity.HURTS)
def message_moves_a_stranger(bench: Bench) -> Iterator[Finding]:
    """A mapped control also moves something that no mapping names, because it happens to listen to the same number.

    On stage: you bring up the bass and the echo goes mad with it.
    Fix: a free number for the control; what it is mapped to follows.
    Blind to: things outside the rig that listen, what is not heard at the way out, and doubles that are wanted: name
    both in the mapping.
    Source: MIDI 1.0: a control change is told apart by channel and number alone.
    """
    named = {name for link in bench.project.patch.maps for name in link.to}
    mapped: set[int] = set()
    for name in named:
        module, _, slot_id = name.partition(".")
        slot = bench.sheet(module).slots.get(slot_id) if module in bench.sheet_names else None
        for local in slot.sections if slot is not None else ():
            mapped.add(bench.net.by_name.get(f"{module}.{local}", -1))
    for link in bench.project.patch.maps:
        message = Message(link.cc, link.channel)
        sending = [s for s in senders(bench.net, link.control) if message_of(s) == message]
        if not sending or not link.to:
            continue
        reached = listeners_reached(bench.net, sending, message)
        heard = bench.readings.heard.sections
        strangers = [s.name for s in reached if s.index not in mapped and s.index in heard]
        if strangers and len(strangers) < len(reached):
            yield Finding(
                link.control,
                f"{link.control} also moves {listed(strangers)}, which listens to controller "
                f"{link.cc} on channel {link.channel} though no mapping says so.",
                {"cc": link.cc, "channel": link.channel, "listeners": len(reached)},
                renumbered(bench, link),
                link.where,
            )


@dataclass(frozen=True, slots=True)
class Sending:
    """One message on its way to a line."""

    at_s: float
    control: str


@dataclass(frozen=True, slots=True)
class Lateness:
    """How a line keeps up with what is sent."""

    worst_s: float
    """From when a message is sent to the end of its last byte. [s]"""
    at_s: float
    control: str
    messages: int


def sendings(sender: NetSection, leg: Leg) -> list[Sending]:
    """Return the messages that a sender makes of a leg: one at each look at the control that finds another value.

    A jump is done as fast as a hand can.
    """
    law, scan_hz = SENT[sender.kind.name], sender.setting[SCAN]
    leg = replace(leg, end_s=max(leg.end_s, leg.begin_s + FASTEST_S))
    first = law(leg.begin)
    last = law(leg.end)
    way = 1 if last > first else -1
    ticks = dict[int, None]()
    value = first
    while value != last:
        edge = (value + 0.5 * way) / TOP_OF_7_BITS  # where rounding goes over to the next value
        share = (edge - leg.begin) / (leg.end - leg.begin)
        at_s = leg.begin_s + min(max(share, 0.0), 1.0) * (leg.end_s - leg.begin_s)
        ticks[math.ceil(at_s * scan_hz - 1e-6)] = None
        value += way
    return [Sending(tick / scan_hz, leg.control) for tick in ticks]


def lateness(sent: Sequence[Sending], *, is_running: bool) -> Lateness | None:
    """Send messages one after the other down a serial line; None when there are none.

    Source: MIDI 1.0 (IEC 63035:2017, 4.1): 31,250 baud, ten bits a byte, so 960 us for a control change and 640 us
    with running status.
    """
    free_s, worst, is_first = -1.0, None, True
    for one in sorted(sent, key=lambda s: s.at_s):
        size = FULL_BYTES if is_first or not is_running else RUNNING_BYTES
        free_s = max(free_s, one.at_s) + size / LINE_BYTES_S
        is_first = False
        if worst is None or free_s - one.at_s > worst.worst_s + SAME_S:
            worst = Lateness(free_s - one.at_s, one.at_s, one.control, len(sent))
    return worst


def serial_senders(bench: Bench, line: int) -> dict[str, NetSection]:
    """Return the mapped controls whose messages go down a serial line, and what sends them."""
    feeding = backward(bench.readings.paths, bench.net.sections[line].ins).sections
    found = {}
    for control in dict.fromkeys(link.control for link in bench.project.patch.maps):
        for section in senders(bench.net, control):
            if section.index in feeding and is_sender(section) and section.kind.name in SENT:
                found[control] = section
    return found


@check("messages-bunch-up", severity=Severity.WORTH_KNOWING)
def messages_bunch_up(bench: Bench) -> Iterator[Finding]:
    """At some moment of the set so many messages meet on a serial MIDI line that the last comes 10 ms late or more.

    On stage: the change smears; a clock on the same line stumbles by as much.
    Fix: none is computed: settings that may come a beat later, or a line of its own, are the performer's to choose.
    Blind to: what hands do beyond the set, notes on the same line, receivers that are slow themselves, and the moment
    at which everything is switched on. A jump counts as a hand's fastest move, 10 ms.
    Source: MIDI 1.0 (IEC 63035:2017, 4.1): 320 us a byte; at most 10 ms from action to sound: D. Wessel and M. Wright,
    NIME 2001.
    """
    legs = [leg for leg in bench.readings.legs if leg.begin_s > 0.0]
    for index, cable in bench.net.links.items():
        line = bench.net.sections[index]
        if line.kind.name != SERIAL or not legs:
            continue
        by_control = serial_senders(bench, index)
        is_running = line.setting.values.get("running", 0.0) >= 0.5
        size = RUNNING_BYTES if is_running else FULL_BYTES
        on_line = [leg for leg in legs if leg.control in by_control]
        worst: Lateness | None = None
        for group in _crowds(on_line, size):
            sent = [s for leg in group for s in sendings(by_control[leg.control], leg)]
            found = lateness(sent, is_running=is_running)
            if found is not None and (worst is None or found.worst_s > worst.worst_s):
                worst = found
        if worst is not None and worst.worst_s >= LATE_S:
            yield Finding(
                f"{cable.source} to {cable.target}",
                f"{1e3 * worst.worst_s:.2f} ms after it is sent, the message of {worst.control} "
                f"comes out of {cable.source} to {cable.target}, {worst.at_s:.1f} s into the set.",
                {
                    "late_s": worst.worst_s,
                    "clock_jitter_s": worst.worst_s,
                    "at_s": worst.at_s,
                    "messages": worst.messages,
                },
                None,
                cable.where,
            )


def _crowds(legs: Sequence[Leg], size: int) -> Iterator[list[Leg]]:
    """Yield the legs that are under way together wherever they could make a message late at all, but do not overrun.

    A glide has one message at a time on the line as long as the line keeps up (where it does not, another check says
    so); a jump has as many as a hand's fastest move makes.
    """
    few = math.ceil(LATE_S * LINE_BYTES_S / size)
    at_once = math.ceil(FASTEST_S * SCAN_HZ)
    under_way: list[Leg] = []
    for place, leg in enumerate(legs):
        under_way = [o for o in under_way if o.end_s >= leg.begin_s - SAME_S]
        under_way.append(leg)
        follows = legs[place + 1] if place + 1 < len(legs) else None
        if follows is not None and follows.begin_s <= leg.begin_s + SAME_S:
            continue
        waiting = sum(at_once if o.end_s <= o.begin_s else 1 for o in under_way)
        if waiting >= few and _demand_bytes_s(under_way, size) <= LINE_BYTES_S:
            yield list(under_way)


def _demand_bytes_s(legs: Sequence[Leg], size: int) -> float:
    return size * sum(
        abs(leg.end - leg.begin) * TOP_OF_7_BITS / (leg.end_s - leg.begin_s)
        for leg in legs
        if leg.end_s > leg.begin_s
    )


# --- steps -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stepping:
    """What one step of a controller does at one place."""

    place: str
    cents: float
    db: float


@check("steps-will-be-heard", severity=Severity.WORTH_KNOWING)
def steps_will_be_heard(bench: Bench) -> Iterator[Finding]:
    """One step of a seven-bit controller changes a pitch or a loudness by more than what is just heard.

    On stage: a slow sweep comes as a staircase, and on a held note everybody hears it.
    Fix: the slew of the converter, as long as the steps of the slowest such sweep of the set are apart.
    Blind to: filters and other timbres, for which no such figure is published, quantisers behind, and amplifiers that
    are played further down than 20 dB below their top, where every linear one steps.
    Source: 128 values, MIDI 1.0; 5 cents and 1 dB: the smallest changes of pitch and level that are heard, as often
    quoted (1 dB falls to 0.5 dB at high levels: W. Jesteadt, C. Wier, D. Green, 1977, from memory).
    """
    heard_by = {link.control: Message(link.cc, link.channel) for link in bench.project.patch.maps}
    sweeps: dict[str, float] = {}
    for leg in bench.readings.legs:
        count = abs(leg.end - leg.begin) * TOP_OF_7_BITS
        if leg.control in heard_by and leg.end_s > leg.begin_s and count >= 1.0:
            apart_s = (leg.end_s - leg.begin_s) / count
            sweeps[leg.control] = max(sweeps.get(leg.control, 0.0), apart_s)
    for control, message in heard_by.items():
        sending = [s for s in senders(bench.net, control) if message_of(s) == message]
        apart_s = sweeps.get(control, USUAL_SWEEP_S / TOP_OF_7_BITS)
        for section in listeners_reached(bench.net, sending, message):
            if section.kind.name not in HEARD or section.setting["slew"] >= apart_s - SAME_S:
                continue
            step_v = abs(section.setting["hi"] - section.setting["lo"]) / TOP_OF_7_BITS
            worst = max(
                _steps_behind(bench, section, step_v),
                key=lambda s: max(s.cents / HEARD_CENTS, s.db / HEARD_DB),
                default=None,
            )
            if worst is None or (worst.cents <= HEARD_CENTS and worst.db <= HEARD_DB):
                continue
            evidence: dict[str, float] = {"step_v": step_v, "slew_s": apart_s}
            if worst.cents > HEARD_CENTS:
                evidence |= {"step_cents": worst.cents, "pair_step_cents": worst.cents / 129.0}
                what = f"{worst.cents:.3g} cents"
            else:
                evidence |= {"step_db": worst.db, "pair_step_db": worst.db / 129.0}
                what = f"{worst.db:.2g} dB"
            yield Finding(
                section.name,
                f"each step of {control} changes {worst.place} by {what}; a slew of "
                f"{1e3 * apart_s:.3g} ms would hide it, or a 14-bit pair of numbers.",
                evidence,
                _slewed(bench, section, apart_s),
                section.where,
            )


def _slewed(bench: Bench, section: NetSection, slew_s: float) -> Fix | None:
    for name, _, control in controls_for(bench, section, ("slew",)):
        value = rounded(slew_s, up=True)
        if control.lo <= value <= control.hi:
            return fix_of(SetControl(name, value))
    return None


def _steps_behind(bench: Bench, section: NetSection, step_v: float) -> list[Stepping]:
    """Return what a step does at every pitch and amplifier that the voltage reaches through gains alone."""
    found = []
    todo, seen = [(section.outs[0], step_v)], {section.outs[0]}
    while todo:
        row, here_v = todo.pop()
        for index, position in bench.net.readers.get(row, ()):
            reader = bench.net.sections[index]
            port = reader.kind.expand_inputs(reader.setting.ways)[position].name
            if reader.kind.is_internal or reader.kind.name in ("attenuverter", "mixer", "buffer"):
                gain = _slope(bench, reader, position)
                for out in reader.outs:
                    if out not in seen:
                        seen.add(out)
                        todo.append((out, here_v * gain))
            elif port == "pitch":
                found.append(Stepping(reader.name, 1200.0 * here_v, 0.0))
            elif reader.kind.name == "vca" and port == "cv":
                found.append(Stepping(reader.name, 0.0, _vca_step_db(reader, here_v)))
    return found


def _slope(bench: Bench, section: NetSection, position: int) -> float:
    """Return how much an output of a section changes with one of its inputs. [V/V]"""
    ins = [Level.steady(bench.level(row).dc_v) for row in section.ins]
    outs = []
    for nudge_v in (0.0, 1e-3):
        ins[position] = Level.steady(bench.level(section.ins[position]).dc_v + nudge_v)
        outs.append(section.kind.level(ins, section.setting)[0].dc_v)
    return abs(outs[1] - outs[0]) / 1e-3


def _vca_step_db(section: NetSection, step_v: float) -> float:
    """Return by how much a step changes the loudness where the amplifier is 20 dB below its top. [dB]"""
    if round(section.setting["response"]) == EXPONENTIAL:
        return DB_PER_V * step_v
    here_v = section.setting["full-scale"] * ratio_from_db(PLAYED_DB)
    return db_from_ratio((here_v + step_v) / here_v)
