"""How long what goes round a feedback loop takes to come back, and so how fast it grows."""

from __future__ import annotations

import heapq
import math

from rigproof.checks.base import Bench
from rigproof.kinds.one_sample_delay import KIND as ONE_SAMPLE
from rigproof.net.graph import Component
from rigproof.readings.paths import Hop
from rigproof.readings.walk import carried_rows

SOFT_V, RAIL_V = 1e-3, 10.0
"""From what nobody notices to where an output stops: 80 dB, ten thousand times. Our choice. [V]"""


def round_s(bench: Bench, part: Component) -> float:
    """Return the shortest time in which a signal comes back to where it was; 0 where nothing on the way delays it. [s]

    The one sample by which a net must break a loop is no part of the rig and is left out. Infinite where nothing comes
    round as it is.
    """
    inside = set(part.sections)
    starts = carried_rows(bench.net, part)  # every way round goes through one of them
    return min((_back_s(bench, inside, row) for row in starts), default=math.inf)


def _back_s(bench: Bench, inside: set[int], start: int) -> float:
    """Return the shortest way from a row to itself. Source: E. W. Dijkstra, Numerische Mathematik 1 (1959), 269."""
    queue, done = [(0.0, start, True)], set[int]()
    while queue:
        here_s, row, is_start = heapq.heappop(queue)
        if row == start and not is_start:
            return here_s
        if row in done:
            continue
        if not is_start:
            done.add(row)
        for hop in bench.readings.paths.onward(row):
            if hop.is_signal and hop.section in inside:
                heapq.heappush(queue, (here_s + _lag_s(bench, hop), hop.target_row, False))
    return math.inf


def _lag_s(bench: Bench, hop: Hop) -> float:
    return 0.0 if bench.net.sections[hop.section].kind is ONE_SAMPLE else hop.lo_s


def growth(gain_ratio: float, back_s: float) -> tuple[str, dict[str, float]]:
    """Return how fast a loop grows, in words and numbers: so many times as large each time round.

    >>> growth(2.0, 0.5)[1]
    {'round_s': 0.5, 'doubles_after_s': 0.5, 'rails_after_s': 6.64}
    >>> growth(1.1, 0.0)
    (', at once', {})
    """
    if not 0.0 < back_s < math.inf:
        return ", at once" if back_s == 0.0 else "", {}
    doubles_s = back_s / math.log2(gain_ratio)
    rails_s = doubles_s * math.log2(RAIL_V / SOFT_V)
    words = f" every {1e3 * back_s:.4g} ms: from 1 mV to the rails in {rails_s:.3g} s"
    numbers = {"round_s": back_s, "doubles_after_s": doubles_s, "rails_after_s": rails_s}
    return words, {name: float(f"{value:.3g}") for name, value in numbers.items()}
