"""How far a linear filter can reach: sums over its impulse response. For `interval` functions; no kernel needs it.

Source: the largest output of a linear system for inputs up to 1 is the sum of its impulse response's sizes (the l1
norm; any text on signals and systems).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rigproof.kinds.base import Span

LONGEST = 20_000
"""Samples after which a response that has not died is given up."""
REST = 1e-9
"""Size of what is left at which it has died."""
SLACK_V = 1e-3
"""What is left can add no more than this. [V]"""


def reach(
    step: Callable[[float], Sequence[float]], size: Callable[[], float], outputs: int
) -> list[tuple[float, float]] | None:
    """Return, for each output, the sum of the falls and of the rises of its impulse response; None if it rings on.

    `step` takes one input sample and returns the outputs; `size` says how much is left in the filter.
    """
    low = [0.0] * outputs
    high = [0.0] * outputs
    x = 1.0
    for _ in range(LONGEST):
        for i, y in enumerate(step(x)):
            if y < 0.0:
                low[i] += y
            else:
                high[i] += y
        x = 0.0
        if size() < REST:
            return list(zip(low, high, strict=True))
    return None


def output_span(sums: tuple[float, float], source: Span) -> Span:
    """Return what an output can reach for an input that was 0 V before it began and stays in `source` since."""
    x = source.including(0.0)
    low, high = sums
    return Span(high * x.lo + low * x.hi, high * x.hi + low * x.lo).widened(
        SLACK_V if x.peak else 0.0
    )
