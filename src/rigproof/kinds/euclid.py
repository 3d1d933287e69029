"""Euclidean rhythms: so many hits spread as evenly as whole steps allow. Plain functions; see `base`.

The construction is the recursive one: hits and rests stand in two lists of groups, groups of the second list are
appended to groups of the first, leftovers become the second list, until at most one is left. Its rotation is kept as
it comes; rotating then goes LEFT, so that rotation 1 starts on what was the second step. All groups of a list are
alike, so that two patterns and two counts say all, and nothing needs memory.

In 23 of the 27 rhythms of the paper below this is the paper's own rotation. The other four have one rest only
(2 in 3, 3 in 4, 5 in 6, 7 in 8): the recursion puts it last, the paper second.

Source: G. Toussaint, The Euclidean Algorithm Generates Traditional Musical Rhythms, Proc. BRIDGES 2005, pp. 47-56;
the plain rotation of 2 in 3 and 3 in 4 as printed by E. Demaine et al., The Distance Geometry of Music, Computational
Geometry 42 (2009), 429-454.
"""

from __future__ import annotations

MOST_STEPS = 64
"""Longest rhythm; a group then fits in the 63 bits of a positive whole number."""


def is_euclidean_hit(hits: int, steps: int, step: int) -> int:
    """Return 1 when the step (from 0, below `steps`) holds a hit, else 0. `steps` is 1 to 64."""
    if hits <= 0:
        return 0
    if hits >= steps:
        return 1
    first, first_bits, first_length = hits, 1, 1
    second, second_bits, second_length = steps - hits, 0, 1
    while second > 1:
        joined_bits = first_bits | (second_bits << first_length)
        joined_length = first_length + second_length
        if first > second:
            left = first - second
            first, second = second, left
            second_bits, second_length = first_bits, first_length
        else:
            second -= first
        first_bits, first_length = joined_bits, joined_length
    if step < first * first_length:
        return (first_bits >> (step % first_length)) & 1
    return (second_bits >> ((step - first * first_length) % second_length)) & 1


def euclidean(hits: int, steps: int, rotation: int = 0) -> str:
    """Return a Euclidean rhythm in letters, `x` a hit and `.` a rest, rotated left by `rotation`.

    Raises `ValueError` when the steps are not 1 to 64 or the hits not 0 to the steps.

    >>> euclidean(3, 8)
    'x..x..x.'
    >>> euclidean(5, 8, 2)
    'xx.xx.x.'
    """
    if not 1 <= steps <= MOST_STEPS or not 0 <= hits <= steps:
        raise ValueError(f"no rhythm of {hits} hits in {steps} steps; at most {MOST_STEPS} steps")
    return "".join(
        "x" if is_euclidean_hit(hits, steps, (step + rotation) % steps) else "."
        for step in range(steps)
    )
