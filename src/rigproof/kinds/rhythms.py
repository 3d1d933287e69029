"""Rhythms as a performer writes them: letters, or hits, steps and rotation. Shared by sequencers and their readings.

Source: letters for steps are common practice, no source; even spreading: see `euclid`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import floor, lcm

from rigproof.kinds.base import IRREGULAR, NO_PULSE, Beat, Pulse
from rigproof.kinds.euclid import MOST_STEPS
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


def pulses_of_steps(
    steps: Sequence[int],
    clock: Pulse,
    *,
    division: int,
    repeats: int = 1,
    chance: float = 1.0,
    length_s: float | None = None,
) -> Pulse:
    """Return the pulses of a rhythm of 0 and 1, one step every `division` clocks, each hit `repeats` times."""
    hits = sum(1 for step in steps if step)
    if clock.beat is Beat.NONE or hits == 0 or chance <= 0.0:
        return NO_PULSE
    cycle = smallest_cycle([1 if step else 0 for step in steps])
    is_even = sum(cycle) == 1 and (repeats == 1 or len(cycle) == 1)
    if clock.beat is Beat.FREE and is_even and clock.hz is not None:
        return Pulse(
            Beat.FREE,
            length_s=length_s,
            hz=clock.hz / division / len(cycle) * repeats,
            chance=chance * clock.chance,
        )
    if clock.beat not in (Beat.STEADY, Beat.PATTERN) or clock.per_quarter is None:
        return IRREGULAR
    per_quarter = clock.per_quarter / division * Fraction(sum(cycle), len(cycle)) * repeats
    clocks = len(cycle) * division
    if clock.beat is Beat.PATTERN and clock.cycle_quarters is not None:
        clocks_a_cycle = clock.per_quarter * clock.cycle_quarters
        is_even = is_even and repeats == 1 and clocks % clocks_a_cycle.numerator == 0
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
