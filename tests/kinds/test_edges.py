"""Reading gates: a stretch of steady samples ends where the plain reading, sample by sample, changes."""

import math

import numpy as np
import pytest

from rigproof.kinds.edges import schmitt, steady_samples


@pytest.mark.parametrize("was_high", [0.0, 1.0])
def test_a_steady_stretch_ends_at_the_first_edge(was_high: float) -> None:
    rng = np.random.default_rng(3)
    lengths = set()
    for _ in range(500):
        near_v = rng.choice([-5.0, 0.0, 0.69, 0.7, 0.71, 0.99, 1.0, 5.0, math.nan], 12)
        gate_v = np.repeat(near_v, rng.integers(1, 9))
        expected, high = len(gate_v), was_high
        for n, volts in enumerate(gate_v):
            high = schmitt(volts, high, 1.0)
            if high != was_high:
                expected = n
                break
        assert steady_samples(gate_v, was_high, 1.0) == expected
        lengths.add(expected)
    assert len(lengths) > 10
    assert steady_samples(np.zeros(0), was_high, 1.0) == 0
