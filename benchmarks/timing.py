"""Timing two things side by side, so that a busy machine slows both alike."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median


def timed(run: Callable[[], object]) -> float:
    """Return the seconds that one run takes."""
    began_s = time.perf_counter()
    run()
    return time.perf_counter() - began_s


def side_by_side(
    first: Callable[[], object], second: Callable[[], object], *, rounds: int = 9
) -> tuple[float, float]:
    """Return the median seconds of each, taken in turns after one unmeasured round of both."""
    first()
    second()
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for run, kept in zip((first, second), times, strict=True):
            kept.append(timed(run))
    return median(times[0]), median(times[1])
