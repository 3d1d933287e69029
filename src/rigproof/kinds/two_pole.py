"""One sample of a linear two-pole filter, for kernels, and what it can reach, for `interval` functions; see `base`.

Source: two poles by the trapezoidal rule, the loop solved each sample: high = (x - (g + k) p - q) / (1 + g (g + k)),
band = g high + p, low = g band + q (textbook bilinear transform of H(s) = 1 / (s^2 + s k + 1) and its like, k = 1 / Q).
"""

from __future__ import annotations

from collections.abc import Sequence

from rigproof.kinds.base import RAIL_V, Span
from rigproof.kinds.limits import within
from rigproof.kinds.linear_bounds import output_span
from rigproof.kinds.state_variable_filter import HIGHEST_RATIO, response_sums

STATE_LIMIT_V = 4.0 * RAIL_V
"""The integrators saturate here, so that nothing grows without end. [V]"""
LOWEST_Q, HIGHEST_Q = 0.5, 50.0


def two_pole(
    x: float, first_v: float, second_v: float, g: float, k: float
) -> tuple[float, float, float, float, float]:
    """Return low, band and high, and both integrators after this sample; the kernel settles them once a call."""
    high_v = (x - (g + k) * first_v - second_v) / (1.0 + g * (g + k))
    band_v = g * high_v + first_v
    low_v = g * band_v + second_v
    first_v = within(band_v + g * high_v, STATE_LIMIT_V)
    second_v = within(low_v + g * band_v, STATE_LIMIT_V)
    return low_v, band_v, high_v, first_v, second_v


def two_pole_spans(
    source: Span, cutoff_hz: float, q: float, rate_hz: float
) -> Sequence[Span] | None:
    """Return what low, band, high and notch can reach, before any clamp; None if it rings on or saturates."""
    cutoff_hz = min(cutoff_hz, HIGHEST_RATIO * rate_hz)
    sums = response_sums(cutoff_hz, min(max(q, LOWEST_Q), HIGHEST_Q), rate_hz)
    if sums is None:
        return None
    spans = [output_span(s, source) for s in sums]
    return spans[:4] if max(spans[4].peak, spans[5].peak) <= STATE_LIMIT_V else None
