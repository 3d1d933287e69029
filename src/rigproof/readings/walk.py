"""Walking the net in the direction of sound: what a loop carries from one sample to the next."""

from __future__ import annotations

from functools import cache

from rigproof.kinds.base import Kind
from rigproof.net.graph import Component, Net


def carried_rows(net: Net, part: Component) -> tuple[int, ...]:
    """Return the rows that a loop reads before it writes them: what one sample hands to the next.

    They hold 0 V before the first sample.
    """
    place = {row: i for i, s in enumerate(part.sections) for row in net.sections[s].outs}
    found: dict[int, None] = {}
    for i, s in enumerate(part.sections):
        for row in net.sections[s].ins:
            if place.get(row, -1) >= i:
                found[row] = None
    return tuple(found)


@cache
def input_names(kind: Kind, ways: int) -> tuple[str, ...]:
    """Return the names of a kind's inputs, in order."""
    return tuple(p.name for p in kind.expand_inputs(ways))


@cache
def output_names(kind: Kind, ways: int) -> tuple[str, ...]:
    """Return the names of a kind's outputs, in order."""
    return tuple(p.name for p in kind.expand_outputs(ways))
