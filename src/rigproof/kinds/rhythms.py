"""Rhythms as a performer writes them: letters, or hits, steps and rotation. Shared by sequencers and their readings.

Source: letters for steps are common practice, no source; even spreading: see `euclid`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor, lcm

from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Pulse
from rigproof.kinds.euclid import MOST_STEPS
from rigproof.kinds.step_rules import chance_at, met_from_start, ratchet_at, turns_of
from rigproof.model.sheet import RawValue
from rigproof.units import quarter_s

REST, HIT, ACCENT = 0, 1, 2
LETTERS = {".": REST, "-": REST, "x": HIT, "X": ACCENT}
SPACERS = " |"
"""Letters that only help the eye."""
MOST_CYCLE_STEPS = 4096
"""Beyond so many steps nobody hears a cycle, and the pulse counts as irregular. Our choice."""


def nearest(value: float) -> int:
    """Return the nearest whole number, halves up, as the kernels read a parameter that counts.

    >>> nearest(2.5)
    3
    """
    return floor(value + 0.5)


def letters_of(text: str) -> list[int]:
    """Return a written rhythm as numbers, 0 a rest, 1 a hit, 2 an accent.

    >>> letters_of("X.x. | x...")
    [2, 0, 1, 0, 1, 0, 0, 0]
    """
    return [LETTERS[letter] for letter in text if letter not in SPACERS]


def check_letters(raw: RawValue) -> str | None:
    """Return what was expected when a value is no rhythm in letters; the empty text is one of no steps."""
    if isinstance(raw, str) and all(letter in LETTERS or letter in SPACERS for letter in raw):
        if len(letters_of(raw)) <= MOST_STEPS:
            return None
        return f"at most {MOST_STEPS} steps"
    return "letters such as 'x..x..x.': x a hit, X an accent, . a rest"


def check_euclid(raw: RawValue) -> str | None:
    """Return what was expected when a value is not hits, steps and rotation."""
    expected = f"hits, steps and rotation such as [3, 8, 0], at most {MOST_STEPS} steps"
    if not isinstance(raw, tuple) or not 2 <= len(raw) <= 3:
        return expected
    if not all(isinstance(part, int) and not isinstance(part, bool) for part in raw):
        return expected
    hits, steps = int(str(raw[0])), int(str(raw[1]))
    return None if 1 <= steps <= MOST_STEPS and 0 <= hits <= steps else expected


def smallest_cycle(steps: Sequence[int]) -> list[int]:
    """Return the shortest rhythm that gives the same one when repeated.

    >>> smallest_cycle([1, 0, 0, 1, 0, 0])
    [1, 0, 0]
    """
    for length in range(1, len(steps)):
        if len(steps) % length == 0 and list(steps) == list(steps[:length]) * (
            len(steps) // length
        ):
            return list(steps[:length])
    return list(steps)


def cut_by_reset(
    steps: Sequence[int], clock: Pulse, reset: Pulse, division: int
) -> list[int] | None:
    """Return the rhythm that is really heard when resets begin it anew; None when nobody can say."""
    if reset.beat is Beat.NONE:
        return list(steps)
    if reset.beat is not Beat.STEADY or not clock.per_quarter or not reset.per_quarter:
        return None
    heard = clock.per_quarter / division / reset.per_quarter
    if heard.denominator != 1 or heard > MOST_CYCLE_STEPS:
        return None
    count = int(heard)
    return (list(steps) * (count // len(steps) + 1))[:count]


def part_s(clock: Pulse, tempo_bpm: float, *, division: int, repeats: int = 1) -> float | None:
    """Return the time from a hit to its repeat or the next step, on average; None when nobody can say. [s]"""
    if clock.hz is not None:
        return division / clock.hz / repeats
    if not clock.per_quarter:
        return None
    return quarter_s(tempo_bpm) * division / float(clock.per_quarter) / repeats


@dataclass(frozen=True, slots=True)
class Played:
    """One step as it is played again and again: how many pulses it gives, and how likely they are."""

    count: int
    chance: float = 1.0


def played_steps(
    order: Sequence[int],
    counts: Sequence[int],
    rules: Sequence[float],
    clock: Pulse,
    reset: Pulse,
    *,
    division: int,
    chance: float = 1.0,
) -> list[Played] | None:
    """Return the steps that are heard over and over, cut where resets begin them anew; None when nobody can say.

    `order` is the step (for its rules) at each place of one turn, `counts` the pulses there before its own repeats.
    Without resets the first turn is left out, since it never comes again.
    """
    turns = turns_of(rules)
    if turns * len(order) > MOST_CYCLE_STEPS:
        return None
    met = met_from_start(rules, order)
    if reset.beat is Beat.NONE:
        heard = len(order) * turns
        for _ in range(len(order) * 2 * turns):  # turn 0, and what `previous` saw before it
            next(met)
    else:
        cut = cut_by_reset([0], clock, reset, division)
        if cut is None:
            return None
        heard = len(cut)
    found = []
    for i in range(heard):
        step = order[i % len(order)]
        own = min(max(chance, 0.0), 1.0) * chance_at(rules, 0, step)
        plays = next(met) and own > 0.0
        count = counts[i % len(order)] * int(ratchet_at(rules, 0, step)) if plays else 0
        found.append(Played(count, own if count else 1.0))
    return found


def tied(steps: Sequence[Played]) -> list[Played]:
    """Return the rises that are left when a step of one pulse lasts until the next step.

    A rise comes unless the step before came; where that is left to chance, so is the rise.
    """
    found = []
    for i, step in enumerate(steps):
        before = steps[i - 1]
        held = before.chance if before.count == 1 else 0.0
        if step.count == 0 or held == 0.0:
            found.append(step)
        elif held == 1.0:
            found.append(Played(step.count - 1, step.chance if step.count > 1 else 1.0))
        else:
            share = (step.count - held) / step.count
            found.append(Played(step.count, step.chance * share))
    return found


def pulses_of_played(
    steps: Sequence[Played], clock: Pulse, *, division: int, length_s: float | None = None
) -> Pulse:
    """Return the pulses of steps, one every `division` clocks; their chance is the share that comes on average.

    Steps that repeat measure the time between two clocks, so behind an uneven clock nobody can say.
    """
    counts = [step.count for step in steps]
    if clock.beat is Beat.PATTERN and max(counts, default=0) > 1:
        return IRREGULAR
    most = sum(counts)
    expected = sum(step.count * step.chance for step in steps)
    chance = min(1.0, expected / most) if most else 1.0
    if chance >= 1.0 - 1e-12:
        chance = 1.0
    return pulses_of_steps(counts, clock, division=division, chance=chance, length_s=length_s)


def pulses_of_steps(
    steps: Sequence[int],
    clock: Pulse,
    *,
    division: int,
    chance: float = 1.0,
    length_s: float | None = None,
) -> Pulse:
    """Return the pulses of a rhythm, one step every `division` clocks, each with so many pulses evenly inside it."""
    if clock.beat is Beat.NONE or not any(steps) or chance <= 0.0:
        return NO_PULSE
    cycle = smallest_cycle(steps)
    is_even = sum(cycle) == 1 or len(cycle) == 1
    if clock.beat is Beat.FREE and is_even and clock.hz is not None:
        return Pulse(
            Beat.FREE,
            length_s=length_s,
            hz=clock.hz / division / len(cycle) * sum(cycle),
            chance=chance * clock.chance,
        )
    if clock.beat not in (Beat.STEADY, Beat.PATTERN) or clock.per_quarter is None:
        return IRREGULAR
    per_quarter = clock.per_quarter / division * Fraction(sum(cycle), len(cycle))
    clocks = len(cycle) * division
    if clock.beat is Beat.PATTERN and clock.cycle_quarters is not None:
        clocks_a_cycle = clock.per_quarter * clock.cycle_quarters
        is_even = is_even and sum(cycle) == 1 and clocks % clocks_a_cycle.numerator == 0
        clocks = lcm(clocks, clocks_a_cycle.numerator)
    cycle_quarters = Fraction(clocks) / clock.per_quarter
    if is_even:
        cycle_quarters = 1 / per_quarter
    return Pulse(
        Beat.STEADY if is_even else Beat.PATTERN,
        per_quarter,
        cycle_quarters,
        length_s,
        chance=chance * clock.chance,
    )
