"""The delay line's cubic against Lagrange's formula, its bound against the worst input, and the quick tangent."""

import math

import numpy as np
import pytest
from scipy.interpolate import lagrange

from rigproof.kinds.base import Span
from rigproof.kinds.delay_line import (
    MOST_OVERSHOOT,
    between,
    line_span,
    overshoot_at,
    read_line,
    ring_size,
)
from rigproof.kinds.prewarp import quick_gain


def weights(part: float) -> list[float]:
    """What each of the four samples around counts, newest first, by feeding one at a time."""
    found = []
    for place in range(4):
        state = np.zeros(16)
        state[(8 - 4 - place) % 16] = 1.0  # 4, 5, 6 and 7 samples ago
        found.append(read_line(state, 0, 15, 8, 5.0 + part))
    return found


@pytest.mark.parametrize("part", [0.0, 0.1, 0.25, 0.5, 0.9])
def test_the_cubic_is_the_polynomial_through_four_samples(part: float) -> None:
    """Second opinion: scipy's Lagrange polynomial through samples at -1, 0, 1, 2."""
    for place, weight in enumerate(weights(part)):
        samples = np.zeros(4)
        samples[place] = 1.0
        wanted = lagrange(np.array([-1.0, 0.0, 1.0, 2.0]), samples)(part)
        assert weight == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("part", [0.0, 0.1, 0.5, 0.77])
def test_overshoot_is_the_sum_of_the_weights_sizes(part: float) -> None:
    assert overshoot_at(7.0 + part) == pytest.approx(sum(map(abs, weights(part))))
    assert overshoot_at(part) <= MOST_OVERSHOOT
    reached = between(Span(-1.0, 2.0), overshoot_at(part))
    worst_v = sum(w * (2.0 if w > 0 else -1.0) for w in weights(part))
    assert reached.hi == pytest.approx(worst_v)


@pytest.mark.parametrize("part", [0.1, 0.25, 0.5])
def test_the_cubic_is_flat_to_an_eighth_of_the_rate_and_never_louder(part: float) -> None:
    ratio = np.linspace(0.0, 0.5, 500)
    turns = np.exp(-2j * np.pi * np.outer(ratio, np.arange(4)))
    gain_db = 20 * np.log10(np.maximum(np.abs(turns @ np.array(weights(part))), 1e-9))
    assert gain_db.max() < 1e-9
    assert gain_db[ratio < 0.125].min() > -0.1
    assert gain_db[ratio < 0.2].min() > -0.7


def test_line_span_is_the_geometric_series() -> None:
    """Closed form: 1 / (1 - g) times what comes in; alternating for a negative g."""
    plus = line_span(Span(0.0, 1.0), Span.point(0.5), 1.0)
    assert plus.hi == pytest.approx(2.0, abs=1e-9)
    assert plus.lo == pytest.approx(0.0, abs=1e-9)
    minus = line_span(Span(0.0, 1.0), Span.point(-0.5), 1.0)
    assert minus.hi == pytest.approx(1.0 / (1 - 0.25), abs=1e-9)
    assert minus.lo == pytest.approx(-0.5 / (1 - 0.25), abs=1e-9)
    assert line_span(Span(0.0, 1.0), Span.point(0.99)) == Span(-11.0, 11.0)


@pytest.mark.parametrize("samples", [1, 11, 12, 13, 900.5, 4096])
def test_a_ring_holds_what_it_is_asked_for(samples: float) -> None:
    size = ring_size(samples)
    assert size & (size - 1) == 0
    assert size >= samples + 3


def test_quick_gain_is_the_tangent() -> None:
    for ratio in np.linspace(1e-6, 0.45, 300):
        assert quick_gain(ratio) == pytest.approx(math.tan(math.pi * ratio), rel=1e-7)
    assert quick_gain(2.0) == quick_gain(0.45)
    assert quick_gain(-1.0) == 0.0
