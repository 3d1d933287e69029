"""Step sequencer: notes as 1 V/octave, one after the other at each clock, with gates, glides and four ways to run.

Notes are written as names (C4 is 0 V) or semitones above 0 V, `volts` as voltages; each step's knob adds to what is
written and is read when the step begins. `length` 0 takes as many steps as are written, or as there are knobs when
nothing is. `gates` says in letters which steps sound (x or X) and which rest (.); a rest keeps the pitch of before.
Without it all sound. A gate lasts a share of the step as last measured, at 1 until the next; before two clocks have
come it lasts 5 ms. `glide` is the time in which the pitch moves in a straight line to its new place: on every step, or
only into those marked x in `slides`. A step takes `division` clocks; `reset` makes the next clock play the first step,
and a reset on the same sample as a clock comes first. `cycle` gives a trigger whenever the first step comes round.

Each step can have a chance (`chances`), repeat its gate evenly inside the step (`ratchets`, once the step's length is
known) and play in some turns only (`conditions`); see `step_rules`. A step that does not come is a rest. A repeated
gate lasts nine tenths of its part at most. A reset begins with the first turn.

Left out: errors of the converter, which are about a cent in good ones.

Source: 1 V/octave by definition; note names and numbers, middle C (C4) being 60: MIDI 1.0; the rest is common practice,
no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RAIL_V,
    RATE_HZ,
    Beat,
    Kind,
    Level,
    Option,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
from rigproof.kinds.gate_sequencer import LONGEST_REPEAT_RATIO, pulse_samples
from rigproof.kinds.randomness import TWO_32, first_seed, next_random
from rigproof.kinds.rhythms import (
    Played,
    check_letters,
    cut_by_reset,
    letters_of,
    nearest,
    part_s,
    played_steps,
    pulses_of_played,
    pulses_of_steps,
    tied,
)
from rigproof.kinds.step_rules import (
    OPTIONS,
    chance_at,
    has_rules,
    next_turn,
    ratchet_at,
    restart_turns,
    take_condition,
    written_rules,
)
from rigproof.model.sheet import RawValue

LENGTH, DIRECTION, DIVISION, TRANSPOSE, GLIDE_S, GATE_RATIO, LEVEL_V, KNOBS = 1, 2, 3, 4, 5, 6, 7, 8
CLOCK_IN, RESET_IN, TRANSPOSE_IN = 0, 1, 2
PITCH_OUT, GATE_OUT, CYCLE_OUT = 0, 1, 2

MOST_NOTES = 64
CLOCK_HIGH, RESET_HIGH, CLOCKS, PLACE, SINCE_CLOCK, PERIOD, HAS_CLOCK, HAS_PLAYED = range(8)
GATE_LEFT, CYCLE_LEFT, SEED, NOW_V, TARGET_V, GLIDE_LEFT, WRITTEN_LENGTH, GATES_LENGTH = range(
    8, 16
)
SLIDES_LENGTH, WAYS, NOTES = 16, 17, 18
GATES = NOTES + MOST_NOTES
SLIDES = GATES + MOST_NOTES
SINCE_STEP, DONE, TO_DO, PART, RULES = range(SLIDES + MOST_NOTES, SLIDES + MOST_NOTES + 5)

THRESHOLD_V = 1.0
"""Clock and reset are high from here up. Common practice, no source. [V]"""
TRIGGER_S = 0.005
"""Length of a cycle trigger, and of a gate while the step's length is not known. Common practice, no source. [s]"""
FORWARD, BACKWARD, THERE_AND_BACK, RANDOM = 0, 1, 2, 3
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
MIDDLE_OCTAVE = 4
"""C of this octave is 0 V."""
_NAME = re.compile(r"([A-Ga-g])([#b]?)(-?\d)")


def note_v(raw: RawValue) -> float | None:
    """Return the voltage of a note name or a number of semitones; None when it is neither.

    >>> note_v("C4"), note_v("A3"), note_v(7)
    (0.0, -0.25, 0.5833333333333334)
    """
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        return raw / 12.0
    match = _NAME.fullmatch(raw) if isinstance(raw, str) else None
    if match is None:
        return None
    letter, sign, octave = match.groups()
    semitone = SEMITONES[letter.upper()] + {"": 0, "#": 1, "b": -1}[sign]
    return int(octave) - MIDDLE_OCTAVE + semitone / 12.0


def _check_notes(raw: RawValue) -> str | None:
    expected = f"at most {MOST_NOTES} notes such as ['D2', 'F#2', 'Bb1'], or semitones above 0 V"
    if not isinstance(raw, tuple) or len(raw) > MOST_NOTES:
        return expected
    for place, part in enumerate(raw, start=1):
        volts = note_v(part)
        if volts is None or abs(volts) > RAIL_V:
            return f"{expected}; number {place}, {part!r}, is none"
    return None


def _check_volts(raw: RawValue) -> str | None:
    if isinstance(raw, tuple) and len(raw) <= MOST_NOTES:
        numbers = [v for v in raw if isinstance(v, int | float) and not isinstance(v, bool)]
        if len(numbers) == len(raw) and all(abs(v) <= RAIL_V for v in numbers):
            return None
    return f"at most {MOST_NOTES} voltages such as [0, 0.25, 1], none beyond {RAIL_V:g} V"


def turn_length(steps: int, direction: int) -> int:
    """Return after how many steps a turn begins again."""
    if direction == THERE_AND_BACK and steps > 1:
        return 2 * steps - 2
    return steps


def step_at(place: int, steps: int, direction: int) -> int:
    """Return the step that stands at a place of a turn; chance is not asked here."""
    if direction == BACKWARD:
        return steps - 1 - place
    if direction == THERE_AND_BACK and place >= steps:
        return 2 * steps - 2 - place
    return place


def steps_of(state: Any, length: float) -> int:
    """Return how many steps there are."""
    wanted = int(length + 0.5)
    return min(wanted, MOST_NOTES) if wanted >= 1 else int(state[WRITTEN_LENGTH])


def is_marked(state: Any, marks: int, length: float, step: int) -> bool:
    """Return whether a step is marked in letters that stand at `marks`; all are when nothing is written."""
    return length <= 0.0 or state[marks + step % max(1, int(length))] > 0.0


def step_sequencer(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Take the next step on every so many clocks; glide, hold the gate, add the transposition."""
    rate_hz = params[RATE_HZ, 0]
    trigger = max(1.0, float(math.floor(TRIGGER_S * rate_hz + 0.5)))
    direction = int(params[DIRECTION, 0] + 0.5)
    ways = int(state[WAYS])
    for n in range(start, stop):
        clock = schmitt(bus_v[ins[CLOCK_IN], n], state[CLOCK_HIGH], THRESHOLD_V)
        reset = schmitt(bus_v[ins[RESET_IN], n], state[RESET_HIGH], THRESHOLD_V)
        is_clock = clock > state[CLOCK_HIGH]
        if reset > state[RESET_HIGH]:
            state[CLOCKS] = 0.0
            state[PLACE] = 0.0
            state[HAS_PLAYED] = 0.0
            restart_turns(state, RULES)
            state[HAS_CLOCK] = 0.0  # the time across a reset is no clock period
        state[CLOCK_HIGH] = clock
        state[RESET_HIGH] = reset
        state[SINCE_CLOCK] += 1.0
        state[SINCE_STEP] += 1.0
        if is_clock:
            if state[HAS_CLOCK] > 0.0:
                state[PERIOD] = state[SINCE_CLOCK]
            state[HAS_CLOCK] = 1.0
            state[SINCE_CLOCK] = 0.0
            division = max(1.0, float(math.floor(params[DIVISION, 0] + 0.5)))
            if state[CLOCKS] <= 0.0:
                steps = steps_of(state, params[LENGTH, 0])
                turn = turn_length(steps, direction)
                place = int(state[PLACE])
                if place >= turn:
                    place = 0
                if place == 0 and state[HAS_PLAYED] > 0.0:
                    state[CYCLE_LEFT] = trigger
                    next_turn(state, RULES)
                state[HAS_PLAYED] = 1.0
                state[PLACE] = float((place + 1) % turn)
                step = step_at(place, steps, direction)
                if direction == RANDOM:
                    state[SEED] = next_random(state[SEED])
                    step = min(int(state[SEED] / TWO_32 * steps), steps - 1)
                if state[GATE_LEFT] < 0.0:  # held until now
                    state[GATE_LEFT] = 0.0
                state[SINCE_STEP] = 0.0
                state[TO_DO] = 0.0
                plays = take_condition(state, RULES, step)
                plays = is_marked(state, GATES, state[GATES_LENGTH], step) and plays
                chance = chance_at(state, RULES, step)
                if plays and chance < 1.0:
                    state[SEED] = next_random(state[SEED])
                    plays = state[SEED] < chance * TWO_32
                if plays:
                    knob = KNOBS + step % ways
                    written = state[NOTES + step % int(state[WRITTEN_LENGTH])]
                    state[TARGET_V] = clamp(
                        written + params[knob, 0] + n * params[knob, 1], -RAIL_V, RAIL_V
                    )
                    glide = max(0.0, params[GLIDE_S, 0] + n * params[GLIDE_S, 1]) * rate_hz
                    is_slide = is_marked(state, SLIDES, state[SLIDES_LENGTH], step)
                    state[GLIDE_LEFT] = max(1.0, math.floor(glide + 0.5)) if is_slide else 1.0
                    whole = state[PERIOD] * division
                    state[TO_DO] = ratchet_at(state, RULES, step) if whole > 0.0 else 1.0
                    state[DONE] = 0.0
                    state[PART] = whole / state[TO_DO]
            state[CLOCKS] += 1.0
            if state[CLOCKS] >= division:
                state[CLOCKS] = 0.0
        if state[DONE] < state[TO_DO] and state[SINCE_STEP] >= state[DONE] * state[PART]:
            state[DONE] += 1.0
            ratio = params[GATE_RATIO, 0] + n * params[GATE_RATIO, 1]
            is_split = state[TO_DO] > 1.5
            state[GATE_LEFT] = pulse_samples(1.0, ratio, trigger, state[PART], is_split)
        if state[GLIDE_LEFT] > 1.0:
            state[NOW_V] += (state[TARGET_V] - state[NOW_V]) / state[GLIDE_LEFT]
            state[GLIDE_LEFT] -= 1.0
        elif state[GLIDE_LEFT] > 0.0:
            state[NOW_V] = state[TARGET_V]
            state[GLIDE_LEFT] = 0.0
        high = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        up = (params[TRANSPOSE, 0] + n * params[TRANSPOSE, 1]) / 12.0
        up += clamp(bus_v[ins[TRANSPOSE_IN], n], -RAIL_V, RAIL_V)
        bus_v[outs[PITCH_OUT], n] = clamp(state[NOW_V] + up, -RAIL_V, RAIL_V)
        bus_v[outs[GATE_OUT], n] = high if state[GATE_LEFT] != 0.0 else 0.0
        bus_v[outs[CYCLE_OUT], n] = high if state[CYCLE_LEFT] > 0.0 else 0.0
        if state[GATE_LEFT] > 0.0:
            state[GATE_LEFT] -= 1.0
        if state[CYCLE_LEFT] > 0.0:
            state[CYCLE_LEFT] -= 1.0


def _written(setting: Setting) -> list[float]:
    """Return the written notes, else the written volts, else 0 V for every knob. [V]"""
    notes, volts = setting.options["notes"], setting.options["volts"]
    assert isinstance(notes, tuple)
    assert isinstance(volts, tuple)
    found = [note_v(raw) or 0.0 for raw in notes] or [float(str(raw)) for raw in volts]
    return found or [0.0] * setting.ways


def prepare(setting: Setting) -> list[float]:
    """Stand on the first note, waiting for the first clock."""
    state = [0.0] * RULES + written_rules(setting.options)
    state[SEED] = first_seed(setting.seed, setting.name)
    state[WAYS] = float(setting.ways)
    written = _written(setting)
    state[WRITTEN_LENGTH] = float(len(written))
    state[NOTES : NOTES + len(written)] = written
    state[NOW_V] = clamp(written[0] + setting["step-1"], -RAIL_V, RAIL_V)
    for option, at, length in (("gates", GATES, GATES_LENGTH), ("slides", SLIDES, SLIDES_LENGTH)):
        letters = letters_of(str(setting.options[option]))
        state[length] = float(len(letters))
        state[at : at + len(letters)] = [float(letter) for letter in letters]
    return state


def _order(setting: Setting) -> list[int]:
    """Return the steps of one turn, in order."""
    state = prepare(setting)
    steps = steps_of(state, setting["length"])
    direction = nearest(setting["direction"])
    return [step_at(place, steps, direction) for place in range(turn_length(steps, direction))]


def _gates(setting: Setting) -> list[int]:
    """Return for each place of one turn whether it sounds, conditions and chances aside."""
    state = prepare(setting)
    return [
        1 if is_marked(state, GATES, state[GATES_LENGTH], step) else 0 for step in _order(setting)
    ]


def _played(setting: Setting, clock: Pulse, reset: Pulse) -> list[Played] | None:
    """Return the steps that are heard over and over; None when nobody can say."""
    return played_steps(
        _order(setting),
        _gates(setting),
        prepare(setting)[RULES:],
        clock,
        reset,
        division=max(1, nearest(setting["division"])),
    )


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """A glide stays between two notes; transposition adds."""
    written = _written(setting)
    most = nearest(setting.span("length").hi)
    steps = range(max(most, len(written)) if setting.span("length").lo < 1.0 else most)
    knobs = setting.all_spans("step")
    notes = [Span.point(written[0]) + knobs[0]]
    notes += [Span.point(written[step % len(written)]) + knobs[step % len(knobs)] for step in steps]
    whole = notes[0]
    for span in notes:
        whole = whole.hull(span)
    pitch = whole.clipped(-RAIL_V, RAIL_V) + setting.span("transpose").scaled(1.0 / 12.0)
    pitch = pitch + ins[TRANSPOSE_IN].clipped(-RAIL_V, RAIL_V)
    high = setting.span("level").including(0.0)
    return [pitch.clipped(-RAIL_V, RAIL_V), high, high]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Every step as long as the next; gates high for their share of the time, and never without a clock."""
    order = _order(setting)
    written, knobs = _written(setting), setting.all_values("step")
    sounding = [s for s, gate in zip(order, _gates(setting), strict=True) if gate] or [0]
    notes = [written[s % len(written)] + knobs[s % len(knobs)] for s in sounding]
    mean = sum(notes) / len(notes)
    rms = math.sqrt(sum((note - mean) ** 2 for note in notes) / len(notes))
    up = setting["transpose"] / 12.0
    moved = ins[TRANSPOSE_IN]
    pitch = Level(
        min(notes) + up + moved.lo_v,
        max(notes) + up + moved.hi_v,
        mean + up + moved.dc_v,
        math.hypot(rms, moved.rms_v),
    ).clipped(-RAIL_V, RAIL_V)
    if ins[CLOCK_IN].hi_v < THRESHOLD_V:
        return [pitch, Level(), Level()]
    high = setting["level"]
    # Conditions that take too long to come round are read as always met.
    played = _played(setting, NO_PULSE, NO_PULSE) or [Played(gate) for gate in _gates(setting)]
    ratios = {1: setting["gate"]}
    split_ratio = min(setting["gate"], LONGEST_REPEAT_RATIO)
    share = sum(ratios.get(x.count, split_ratio) * x.chance for x in played if x.count) / len(
        played
    )
    share = min(1.0, share)
    gate = Level(0.0, high, high * share, high * math.sqrt(share * (1.0 - share)))
    return [pitch, gate, Level(0.0, high, 0.0, 0.0)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The gates laid over the clock, cut where resets begin them anew."""
    clock, reset = ins[CLOCK_IN], ins[RESET_IN]
    division = max(1, nearest(setting["division"]))
    whole = _gates(setting)
    cut = cut_by_reset(whole, clock, reset, division)
    if cut is None:
        return [NO_PULSE, IRREGULAR, IRREGULAR]
    turns = [1 if i % len(whole) == 0 else 0 for i in range(len(cut))]
    if reset.beat is not Beat.NONE:
        turns[0] = 0  # a turn that a reset begins gives no trigger
    cycle = pulses_of_steps(turns, clock, division=division, length_s=TRIGGER_S)
    rules = prepare(setting)[RULES:]
    if nearest(setting["direction"]) == RANDOM and (not all(whole) or has_rules(rules)):
        is_silent = not any(whole) or clock.beat is Beat.NONE
        return [NO_PULSE, NO_PULSE if is_silent else IRREGULAR, cycle]
    played = _played(setting, clock, reset)
    if played is None:
        return [NO_PULSE, IRREGULAR, cycle]
    rises = tied(played) if setting["gate"] >= 1.0 else played
    shortest = TRIGGER_S
    for count in {step.count for step in played if step.count}:
        part = part_s(clock, setting.tempo_bpm, division=division, repeats=count)
        if part is not None:
            most = LONGEST_REPEAT_RATIO if count > 1 else 1.0
            shortest = min(shortest, min(setting["gate"], most) * part)
    gate = pulses_of_played(rises, clock, division=division, length_s=shortest)
    return [NO_PULSE, gate, cycle]


KIND = Kind(
    name="step-sequencer",
    doc=__doc__,
    inputs=(
        Port("clock", "a rise plays the next step", is_control=True),
        Port("reset", "after a rise the next clock plays the first step", is_control=True),
        Port("transpose", "added to the pitch, 1 V/octave", is_control=True),
    ),
    outputs=(
        Port("pitch", "the note, 1 V/octave"),
        Port("gate", "high while a note sounds"),
        Port("cycle", "a trigger each time the first step comes round"),
    ),
    params=(
        Param("length", "steps", 0.0, float(MOST_NOTES), 0.0, "steps of a turn; 0 is as written"),
        Param(
            "direction",
            "ratio",
            0.0,
            3.0,
            0.0,
            "which step comes next",
            choices=("forward", "backward", "there-and-back", "random"),
        ),
        Param("division", "steps", 1.0, 96.0, 1.0, "clocks a step"),
        Param("transpose", "semitones", -60.0, 60.0, 0.0, "added to every note"),
        Param("glide", "s", 0.0, 10.0, 0.0, "time of the way to the next note"),
        Param("gate", "ratio", 0.01, 1.0, 0.5, "share of the step that a gate lasts"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a gate"),
        Param("step", "V", -5.0, 5.0, 0.0, "the step's knob", many=True),
    ),
    options=(
        Option("notes", (), "note names, or semitones above 0 V", check=_check_notes),
        Option("volts", (), "voltages, used when no notes are written", check=_check_volts),
        Option("gates", "", "which steps sound, in letters", check=check_letters),
        Option("slides", "", "the steps to glide into, in letters", check=check_letters),
        *OPTIONS,
    ),
    kernel=step_sequencer,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 32, 16),
)
