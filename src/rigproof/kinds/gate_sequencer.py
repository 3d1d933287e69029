"""Gate sequencer: one track of hits, written in letters or spread evenly, stepped by a clock.

A rhythm is written as letters (`steps`: x a hit, X an accent, . a rest) or as hits, steps and rotation (`euclid`), used
when no letters are written. A step takes `division` clocks; `reset` makes the next clock play the first step, and a
reset on the same sample as a clock comes first. `length`, `fill` and `rotate` change what is written while it plays:
length 0 and fill -1 leave it as written, a fill of 0 or more spreads so many hits evenly instead, and `rotate` moves
the start to the right of the rhythm, that is, the rhythm to the left. Each volt at `fill-cv` asks for hits on another
fifth of the steps: added to the even hits, or put among the written ones.

Each hit comes with a chance of `probability` plus a fifth a volt of its CV, and `repeats` times inside its step,
evenly spaced over the clock period as last measured; 5 V at the repeats' CV add 7, and 8 is the most. A gate lasts a
share of the step, or of its repeat, and at 1 until the next step (two hits in a row are then one long gate); a
trigger has its own length, at most half a step. Until two clocks have come, the step's length is not known: gates
last as long as triggers and nothing repeats. `cycle` gives a trigger whenever the rhythm has come round to its first
step.

Each step can have a chance of its own (`chances`, times the common one), repeat by itself (`ratchets`, times the common
repeats) and play in some turns only (`conditions`); see `step_rules`. They belong to what is written and rotate with
it. A reset begins with the first turn.

Left out: a reset that comes just after its clock is not forgiven: the first step then plays twice, as in life.

Source: even hits: G. Toussaint, Proc. BRIDGES 2005 (see `euclid`); the rest is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RATE_HZ,
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
from rigproof.kinds.edges import hold_gate, is_steady, schmitt
from rigproof.kinds.euclid import MOST_STEPS, is_euclidean_hit
from rigproof.kinds.randomness import TWO_32, first_seed, next_random
from rigproof.kinds.rhythms import (
    ACCENT,
    Played,
    check_euclid,
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
    next_turn,
    ratchet_at,
    restart_turns,
    take_condition,
    written_rules,
)
from rigproof.units import quarter_s

LENGTH, FILL, ROTATE, PROBABILITY, REPEATS, DIVISION = 1, 2, 3, 4, 5, 6
SHAPE, GATE_RATIO, TRIGGER_S, LEVEL_V = 7, 8, 9, 10
CLOCK_IN, RESET_IN, FILL_IN, PROBABILITY_IN, REPEATS_IN = 0, 1, 2, 3, 4
GATE_OUT, ACCENT_OUT, CYCLE_OUT = 0, 1, 2

CLOCK_HIGH, RESET_HIGH, CLOCKS, STEP, SINCE_CLOCK, PERIOD, SEED = 0, 1, 2, 3, 4, 5, 6
GATE_LEFT, IS_ACCENT, CYCLE_LEFT, SINCE_STEP, DONE, TO_DO, PART = 7, 8, 9, 10, 11, 12, 13
HAS_CLOCK, HAS_PLAYED, WRITTEN, WRITTEN_LENGTH, WRITTEN_FILL, WRITTEN_ROTATE, LETTERS = (
    14, 15, 16, 17, 18, 19, 20,
)  # fmt: skip
RULES = LETTERS + MOST_STEPS

THRESHOLD_V = 1.0
"""Clock and reset are high from here up. Common practice, no source. [V]"""
FULL_V = 5.0
"""A CV of this much is the whole. Common practice, no source. [V]"""
MOST_REPEATS = 8.0
"""A hit comes no more often than this inside its step, ratchets apart."""
LONGEST_REPEAT_RATIO = 0.9
"""A repeat's gate leaves at least the rest of its time low, so that the next is heard. Our choice."""
HELD = -1.0
"""Stands for the samples left of a gate that waits for the next step."""
TRIGGER, GATE = 0, 1


def steps_now(state: Any, length: float) -> int:
    """Return how many steps the rhythm has."""
    wanted = int(length + 0.5)
    return min(wanted, MOST_STEPS) if wanted >= 1 else int(state[WRITTEN_LENGTH])


def place_now(state: Any, steps: int, rotate: float, step: int) -> int:
    """Return which of the written steps is played at a step."""
    return (step + int(state[WRITTEN_ROTATE]) + math.floor(rotate + 0.5)) % steps


def letter_now(state: Any, steps: int, fill: float, fill_v: float, place: int) -> int:
    """Return what stands at a place: 0 a rest, 1 a hit, 2 an accent."""
    more = math.floor(clamp(fill_v, -FULL_V, FULL_V) / FULL_V * steps + 0.5)
    wanted = math.floor(fill + 0.5)
    if wanted < 0 and state[WRITTEN] > 0.0:
        letter = int(state[LETTERS + place % int(state[WRITTEN_LENGTH])])
        return letter if letter > 0 else is_euclidean_hit(more, steps, place)
    if wanted < 0:
        wanted = int(state[WRITTEN_FILL])
    return is_euclidean_hit(wanted + more, steps, place)


def pulse_samples(shape: float, ratio: float, trigger: float, part: float, is_split: bool) -> float:
    """Return how long a gate lasts. `part` is the time until the next repeat or step, 0 while unknown. [samples]"""
    if part <= 0.0:
        return max(1.0, math.floor(trigger + 0.5))
    if shape < 0.5:
        return max(1.0, math.floor(min(trigger, 0.5 * part) + 0.5))
    if is_split:
        return max(1.0, math.floor(min(ratio, LONGEST_REPEAT_RATIO) * part + 0.5))
    return HELD if ratio >= 1.0 else max(1.0, math.floor(ratio * part + 0.5))


def gate_sequencer(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Step on every so many clocks; fire, repeat and hold the gate of the step."""
    rate_hz = params[RATE_HZ, 0]
    count = stop - start
    fires_in = state[DONE] * state[PART] - state[SINCE_STEP]
    is_waiting = state[DONE] >= state[TO_DO] or fires_in > count
    if (
        is_waiting
        and is_steady(bus_v[ins[CLOCK_IN], start:stop], state[CLOCK_HIGH], THRESHOLD_V)
        and is_steady(bus_v[ins[RESET_IN], start:stop], state[RESET_HIGH], THRESHOLD_V)
    ):
        level_0, level_step = params[LEVEL_V, 0] + start * params[LEVEL_V, 1], params[LEVEL_V, 1]
        gate_left = state[GATE_LEFT] if state[GATE_LEFT] >= 0.0 else float(count)
        hold_gate(bus_v[outs[GATE_OUT], start:stop], gate_left, level_0, level_step)
        accent_left = gate_left if state[IS_ACCENT] > 0.0 else 0.0
        hold_gate(bus_v[outs[ACCENT_OUT], start:stop], accent_left, level_0, level_step)
        hold_gate(bus_v[outs[CYCLE_OUT], start:stop], state[CYCLE_LEFT], level_0, level_step)
        if state[GATE_LEFT] > 0.0:
            state[GATE_LEFT] = max(0.0, state[GATE_LEFT] - count)
        if state[CYCLE_LEFT] > 0.0:
            state[CYCLE_LEFT] = max(0.0, state[CYCLE_LEFT] - count)
        state[SINCE_CLOCK] += count
        state[SINCE_STEP] += count
        return
    for n in range(start, stop):
        clock = schmitt(bus_v[ins[CLOCK_IN], n], state[CLOCK_HIGH], THRESHOLD_V)
        reset = schmitt(bus_v[ins[RESET_IN], n], state[RESET_HIGH], THRESHOLD_V)
        is_clock = clock > state[CLOCK_HIGH]
        if reset > state[RESET_HIGH]:
            state[CLOCKS] = 0.0
            state[STEP] = 0.0
            state[HAS_PLAYED] = 0.0
            restart_turns(state, RULES)
            state[HAS_CLOCK] = 0.0  # the time across a reset is no clock period
        state[CLOCK_HIGH] = clock
        state[RESET_HIGH] = reset
        state[SINCE_CLOCK] += 1.0
        state[SINCE_STEP] += 1.0
        trigger = (params[TRIGGER_S, 0] + n * params[TRIGGER_S, 1]) * rate_hz
        if is_clock:
            if state[HAS_CLOCK] > 0.0:
                state[PERIOD] = state[SINCE_CLOCK]
            state[HAS_CLOCK] = 1.0
            state[SINCE_CLOCK] = 0.0
            division = max(1.0, math.floor(params[DIVISION, 0] + 0.5))
            if state[CLOCKS] <= 0.0:
                steps = steps_now(state, params[LENGTH, 0])
                step = int(state[STEP])
                if step >= steps:
                    step = 0
                if step == 0 and state[HAS_PLAYED] > 0.0:
                    state[CYCLE_LEFT] = max(1.0, math.floor(trigger + 0.5))
                    next_turn(state, RULES)
                place = place_now(state, steps, params[ROTATE, 0], step)
                letter = letter_now(state, steps, params[FILL, 0], bus_v[ins[FILL_IN], n], place)
                plays = take_condition(state, RULES, place) and letter > 0
                state[HAS_PLAYED] = 1.0
                state[STEP] = float((step + 1) % steps)
                state[SINCE_STEP] = 0.0
                state[TO_DO] = 0.0
                if state[GATE_LEFT] < 0.0:  # held until now
                    state[GATE_LEFT] = 0.0
                if plays:
                    chance = chance_at(state, RULES, place) * clamp(
                        params[PROBABILITY, 0]
                        + n * params[PROBABILITY, 1]
                        + clamp(bus_v[ins[PROBABILITY_IN], n], -FULL_V, FULL_V) / FULL_V,
                        0.0,
                        1.0,
                    )
                    state[SEED] = next_random(state[SEED])
                    if state[SEED] < chance * TWO_32:
                        whole = state[PERIOD] * division
                        more_v = clamp(bus_v[ins[REPEATS_IN], n], -FULL_V, FULL_V)
                        more = more_v / FULL_V * (MOST_REPEATS - 1.0)
                        times = clamp(
                            math.floor(params[REPEATS, 0] + more + 0.5), 1.0, MOST_REPEATS
                        )
                        times *= ratchet_at(state, RULES, place)
                        state[TO_DO] = times if whole > 0.0 else 1.0
                        state[DONE] = 0.0
                        state[PART] = whole / state[TO_DO]
                        state[IS_ACCENT] = 1.0 if letter == ACCENT else 0.0
            state[CLOCKS] += 1.0
            if state[CLOCKS] >= division:
                state[CLOCKS] = 0.0
        if state[DONE] < state[TO_DO] and state[SINCE_STEP] >= state[DONE] * state[PART]:
            state[DONE] += 1.0
            state[GATE_LEFT] = pulse_samples(
                params[SHAPE, 0],
                params[GATE_RATIO, 0] + n * params[GATE_RATIO, 1],
                trigger,
                state[PART],
                state[TO_DO] > 1.5,
            )
        high = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        is_on = state[GATE_LEFT] != 0.0
        bus_v[outs[GATE_OUT], n] = high if is_on else 0.0
        bus_v[outs[ACCENT_OUT], n] = high if is_on and state[IS_ACCENT] > 0.0 else 0.0
        bus_v[outs[CYCLE_OUT], n] = high if state[CYCLE_LEFT] > 0.0 else 0.0
        if state[GATE_LEFT] > 0.0:
            state[GATE_LEFT] -= 1.0
        if state[CYCLE_LEFT] > 0.0:
            state[CYCLE_LEFT] -= 1.0


def prepare(setting: Setting) -> list[float]:
    """Wait for the first clock, with the rhythm as it is written."""
    state = [0.0] * RULES + written_rules(setting.options)
    state[SEED] = first_seed(setting.seed, setting.name)
    letters = letters_of(str(setting.options["steps"]))
    if letters:
        state[WRITTEN] = 1.0
        state[WRITTEN_LENGTH] = float(len(letters))
        state[LETTERS : LETTERS + len(letters)] = [float(letter) for letter in letters]
        return state
    euclid = setting.options["euclid"]
    assert isinstance(euclid, tuple)
    hits, steps, *rotation = (int(str(part)) for part in euclid)
    state[WRITTEN_LENGTH] = float(steps)
    state[WRITTEN_FILL] = float(hits)
    state[WRITTEN_ROTATE] = float(rotation[0] if rotation else 0)
    return state


def _places(setting: Setting, state: Sequence[float]) -> list[int]:
    """Return which of the written steps is played at each step of a turn."""
    steps = steps_now(state, setting["length"])
    return [place_now(state, steps, setting["rotate"], step) for step in range(steps)]


def rhythm_of(setting: Setting) -> list[int]:
    """Return one turn of the rhythm where the controls stand: 0 a rest, 1 a hit, 2 an accent.

    Conditions, chances and ratchets are not asked.
    """
    state = prepare(setting)
    places = _places(setting, state)
    return [letter_now(state, len(places), setting["fill"], 0.0, place) for place in places]


def _played(
    setting: Setting, rhythm: Sequence[int], wanted: int, clock: Pulse, reset: Pulse
) -> list[Played] | None:
    """Return the steps with hits (or with accents alone) that are heard over and over."""
    state = prepare(setting)
    repeats = max(1, nearest(setting["repeats"]))
    return played_steps(
        _places(setting, state),
        [repeats if letter >= wanted else 0 for letter in rhythm],
        state[RULES:],
        clock,
        reset,
        division=max(1, nearest(setting["division"])),
        chance=setting["probability"],
    )


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high is the level."""
    return [setting.span("level").including(0.0)] * 3


def _high_ratio(setting: Setting, count: int) -> float:
    """Return what share of a step with so many pulses is high; triggers as in sixteenths at the patch's tempo."""
    if nearest(setting["shape"]) == TRIGGER:
        return min(0.5, count * setting["trigger"] / (quarter_s(setting.tempo_bpm) / 4.0))
    return setting["gate"] if count == 1 else min(setting["gate"], LONGEST_REPEAT_RATIO)


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle that is high for the gates' share of the time; for triggers, of sixteenths at the patch's tempo.

    Without a clock there are none.
    """
    if ins[CLOCK_IN].hi_v < THRESHOLD_V:
        return [Level()] * 3
    rhythm = rhythm_of(setting)
    high = setting["level"]
    shares = []
    for wanted in (1, ACCENT):
        # Conditions that take too long to come round are read as always met.
        played = _played(setting, rhythm, wanted, NO_PULSE, NO_PULSE) or [
            Played(int(letter >= wanted), setting["probability"]) for letter in rhythm
        ]
        hits = [step for step in played if step.count]
        shares.append(sum(_high_ratio(setting, s.count) * s.chance for s in hits) / len(played))
    shares.append(setting["trigger"] / (quarter_s(setting.tempo_bpm) / 4.0) / len(rhythm))
    return [
        Level(0.0, high, high * share, high * math.sqrt(share * (1.0 - share)))
        for share in (min(1.0, share) for share in shares)
    ]


def _shortest_s(setting: Setting, clock: Pulse, counts: Sequence[int]) -> float:
    """Return the length of the shortest pulse of steps with so many pulses. [s]"""
    division = max(1, nearest(setting["division"]))
    shortest = setting["trigger"]
    is_gate = nearest(setting["shape"]) == GATE
    for count in counts:
        part = part_s(clock, setting.tempo_bpm, division=division, repeats=count)
        if part is not None:
            most = LONGEST_REPEAT_RATIO if count > 1 else 1.0
            shortest = min(shortest, (min(setting["gate"], most) if is_gate else 0.5) * part)
    return shortest


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The rhythm laid over the clock, turn after turn, cut where resets begin it anew."""
    clock, reset = ins[CLOCK_IN], ins[RESET_IN]
    division = max(1, nearest(setting["division"]))
    turn = rhythm_of(setting)
    whole = cut_by_reset(turn, clock, reset, division)
    if whole is None:
        return [IRREGULAR] * 3
    is_tied = nearest(setting["shape"]) == GATE and setting["gate"] >= 1.0
    found = []
    for wanted in (1, ACCENT):
        played = _played(setting, turn, wanted, clock, reset)
        if played is None:
            found.append(IRREGULAR)
            continue
        length_s = _shortest_s(setting, clock, sorted({s.count for s in played if s.count}))
        rises = tied(played) if is_tied else played
        found.append(pulses_of_played(rises, clock, division=division, length_s=length_s))
    turns = [1 if i % len(turn) == 0 else 0 for i in range(len(whole))]
    if reset.beat.value != NO_PULSE.beat.value:
        turns[0] = 0  # a turn that a reset begins gives no trigger
    found.append(pulses_of_steps(turns, clock, division=division, length_s=setting["trigger"]))
    return found


KIND = Kind(
    name="gate-sequencer",
    doc=__doc__,
    inputs=(
        Port("clock", "a rise plays the next step", is_control=True),
        Port("reset", "after a rise the next clock plays the first step", is_control=True),
        Port("fill-cv", "5 V asks for hits on every step", is_control=True),
        Port("probability-cv", "5 V makes every hit certain", is_control=True),
        Port("repeats-cv", "5 V adds 7 repeats to every hit", is_control=True),
    ),
    outputs=(
        Port("gate", "the hits"),
        Port("accent", "the hits written as accents"),
        Port("cycle", "a trigger each time the rhythm comes round"),
    ),
    params=(
        Param("length", "steps", 0.0, float(MOST_STEPS), 0.0, "steps of a turn; 0 is as written"),
        Param("fill", "steps", -1.0, float(MOST_STEPS), -1.0, "hits, spread; -1 is as written"),
        Param("rotate", "steps", -64.0, 64.0, 0.0, "steps by which the rhythm moves left"),
        Param("probability", "ratio", 0.0, 1.0, 1.0, "chance that a hit comes"),
        Param("repeats", "steps", 1.0, MOST_REPEATS, 1.0, "times that a hit comes inside its step"),
        Param("division", "steps", 1.0, 96.0, 1.0, "clocks a step"),
        Param("shape", "ratio", 0.0, 1.0, 0.0, "what a hit gives", choices=("trigger", "gate")),
        Param("gate", "ratio", 0.01, 1.0, 0.5, "share of the step that a gate lasts"),
        Param("trigger", "s", 1e-4, 0.1, 0.005, "length of a trigger"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a gate"),
    ),
    options=(
        Option("steps", "", "the rhythm in letters", check=check_letters),
        Option("euclid", (4, 16, 0), "hits, steps, rotation to the left", check=check_euclid),
        *OPTIONS,
    ),
    kernel=gate_sequencer,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
