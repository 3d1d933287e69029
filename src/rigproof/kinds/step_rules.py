"""What a sequencer's steps may have of their own: a chance, a number of repeats (a ratchet), a condition.

Each is a list that is used again from its start when the steps outlast it; an empty list asks for nothing. A condition
is `always`; `first` or `not-first`, in the first turn since the start or a reset; `a:b`, in the a-th of every b turns;
`previous` or `not-previous`, when the last step before with another condition than these two did, or did not, meet its
own. A condition is looked at whether or not its step holds a hit; chance does not count as met or not.

`at` says where in a kernel's state the rules stand. The functions from `is_met` to `ratchet_at` are for kernels.

Source: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from math import lcm
from typing import Any

from rigproof.kinds.base import Option
from rigproof.model.sheet import RawValue

MOST_STEPS = 64
"""Longest list."""
MOST_RATCHETS = 8
MOST_TURNS = 16
"""The largest b of a condition `a:b`."""
TURN, MET, CHANCES_LENGTH, RATCHETS_LENGTH, CONDITIONS_LENGTH, CHANCES = 0, 1, 2, 3, 4, 5
RATCHETS = CHANCES + MOST_STEPS
CONDITIONS = RATCHETS + MOST_STEPS
SIZE = CONDITIONS + MOST_STEPS

ALWAYS, FIRST, NOT_FIRST, PREVIOUS, NOT_PREVIOUS = 0.0, 1.0, 2.0, 3.0, 4.0
NAMES = {
    "always": ALWAYS,
    "first": FIRST,
    "not-first": NOT_FIRST,
    "previous": PREVIOUS,
    "not-previous": NOT_PREVIOUS,
}
EVERY = 1000.0
"""A condition `a:b` is the number a + b times this."""
ALL_TURNS = float(lcm(*range(1, MOST_TURNS + 1)))
"""Turns after which every `a:b` has come round; the count of turns goes back here, so that it stays small."""
_EVERY = re.compile(r"(\d{1,2}):(\d{1,2})")


def is_met(condition: float, turn: float, met: float) -> bool:
    """Return whether a condition is met in a turn, counted from 0; `met` is what `previous` looks back at."""
    if condition >= EVERY:
        turns = int(condition / EVERY)
        return int(turn) % turns == int(condition) - turns * int(EVERY) - 1
    if condition == FIRST:
        return turn < 0.5
    if condition == NOT_FIRST:
        return turn > 0.5
    if condition == PREVIOUS:
        return met > 0.5
    if condition == NOT_PREVIOUS:
        return met < 0.5
    return True


def sets_previous(condition: float) -> bool:
    """Return whether `previous` looks back at a condition."""
    return condition not in (ALWAYS, PREVIOUS, NOT_PREVIOUS)


def restart_turns(state: Any, at: int) -> None:
    """Begin with the first turn."""
    state[at + TURN] = 0.0
    state[at + MET] = 0.0


def next_turn(state: Any, at: int) -> None:
    """Count one more turn."""
    turn = state[at + TURN] + 1.0
    state[at + TURN] = turn if turn < 2.0 * ALL_TURNS else ALL_TURNS


def take_condition(state: Any, at: int, step: int) -> bool:
    """Look at the condition of a step that is played; return whether it is met."""
    length = int(state[at + CONDITIONS_LENGTH])
    if length < 1:
        return True
    condition = state[at + CONDITIONS + step % length]
    met = is_met(condition, state[at + TURN], state[at + MET])
    if sets_previous(condition):
        state[at + MET] = 1.0 if met else 0.0
    return met


def chance_at(state: Any, at: int, step: int) -> float:
    """Return the chance of a step."""
    length = int(state[at + CHANCES_LENGTH])
    return 1.0 if length < 1 else float(state[at + CHANCES + step % length])


def ratchet_at(state: Any, at: int, step: int) -> float:
    """Return how many times a step repeats."""
    length = int(state[at + RATCHETS_LENGTH])
    return 1.0 if length < 1 else float(state[at + RATCHETS + step % length])


# --- as they are written -----------------------------------------------------------------------------------------


def condition_number(text: str) -> float | None:
    """Return the number that stands for a written condition; None when it is none.

    >>> condition_number("2:4"), condition_number("first"), condition_number("5:4")
    (4002.0, 1.0, None)
    """
    if text in NAMES:
        return NAMES[text]
    match = _EVERY.fullmatch(text)
    if match is None:
        return None
    a, b = int(match[1]), int(match[2])
    return a + b * EVERY if 1 <= a <= b <= MOST_TURNS else None


def _is_number(raw: object) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool)


def check_chances(raw: RawValue) -> str | None:
    """Return what was expected when a value is no list of chances."""
    parts = raw if isinstance(raw, tuple) and len(raw) <= MOST_STEPS else (None,)
    if all(_is_number(part) and 0.0 <= float(str(part)) <= 1.0 for part in parts):
        return None
    return f"at most {MOST_STEPS} chances from 0 to 1, such as [1, 0.5, 0.25]"


def check_ratchets(raw: RawValue) -> str | None:
    """Return what was expected when a value is no list of repeats."""
    if isinstance(raw, tuple) and len(raw) <= MOST_STEPS:
        whole = [part for part in raw if isinstance(part, int) and not isinstance(part, bool)]
        if len(whole) == len(raw) and all(1 <= part <= MOST_RATCHETS for part in whole):
            return None
    return f"at most {MOST_STEPS} whole numbers from 1 to {MOST_RATCHETS}, such as [1, 1, 3]"


def check_conditions(raw: RawValue) -> str | None:
    """Return what was expected when a value is no list of conditions."""
    parts = raw if isinstance(raw, tuple) and len(raw) <= MOST_STEPS else (None,)
    if all(isinstance(part, str) and condition_number(part) is not None for part in parts):
        return None
    return (
        f"at most {MOST_STEPS} of 'always', 'first', 'not-first', 'previous', 'not-previous' or 'a:b' such as '2:4' "
        f"(the second of every four turns, {MOST_TURNS} at most)"
    )


OPTIONS = (
    Option("chances", (), "chance of each step, 0 to 1", check=check_chances),
    Option("ratchets", (), "times that each step repeats", check=check_ratchets),
    Option("conditions", (), "in which turns each step plays", check=check_conditions),
)


def _listed(options: Mapping[str, RawValue], name: str) -> tuple[object, ...]:
    raw = options[name]
    assert isinstance(raw, tuple)
    return raw


def written_rules(options: Mapping[str, RawValue]) -> list[float]:
    """Return the rules as they stand in the state of a kernel that has not played yet."""
    state = [0.0] * SIZE
    chances = [float(str(part)) for part in _listed(options, "chances")]
    ratchets = [float(str(part)) for part in _listed(options, "ratchets")]
    conditions = [condition_number(str(part)) or ALWAYS for part in _listed(options, "conditions")]
    for values, length, start in (
        (chances, CHANCES_LENGTH, CHANCES),
        (ratchets, RATCHETS_LENGTH, RATCHETS),
        (conditions, CONDITIONS_LENGTH, CONDITIONS),
    ):
        state[length] = float(len(values))
        state[start : start + len(values)] = values
    return state


def most_ratchets(options: Mapping[str, RawValue]) -> int:
    """Return the largest number of repeats that a step is written with."""
    return max((int(str(part)) for part in _listed(options, "ratchets")), default=1)


def has_conditions(rules: Sequence[float]) -> bool:
    """Whether any step has a condition."""
    length = int(rules[CONDITIONS_LENGTH])
    return any(rules[CONDITIONS + i] != ALWAYS for i in range(length))


def has_rules(rules: Sequence[float]) -> bool:
    """Whether any step has anything of its own."""
    return rules[CHANCES_LENGTH] + rules[RATCHETS_LENGTH] > 0.0 or has_conditions(rules)


def turns_of(rules: Sequence[float]) -> int:
    """Return after how many turns the conditions come round, once the first turn is over."""
    length = int(rules[CONDITIONS_LENGTH])
    every = [int(c / EVERY) for c in rules[CONDITIONS : CONDITIONS + length] if c >= EVERY]
    return lcm(1, *every)


def met_from_start(rules: Sequence[float], steps: Sequence[int]) -> Iterator[bool]:
    """Yield for ever whether each step's condition is met; `steps` are the steps of one turn, in order."""
    state = list(rules)
    restart_turns(state, 0)
    while True:
        for step in steps:
            yield take_condition(state, 0, step)
        next_turn(state, 0)
