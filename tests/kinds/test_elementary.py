"""Powers of two and tangents against Python's library, over all that kernels ask of them."""

import math

import numpy as np
import pytest

from rigproof.engine.compile import FLAGS
from rigproof.kinds.elementary import MOST_OCTAVES, tangent, two_to


def test_powers_of_two_are_within_1e_11() -> None:
    """Oracle: the power operator of Python."""
    octaves = np.linspace(-MOST_OCTAVES, MOST_OCTAVES, 20_001)
    worst = max(abs(two_to(x) / 2.0**x - 1.0) for x in octaves.tolist())
    assert worst < 1e-11
    narrow = np.linspace(-12.0, 12.0, 6001)
    assert (
        max(abs(two_to(x) / 2.0**x - 1.0) for x in narrow.tolist()) < 2e-14
    )  # six squarings of roundings


def test_two_to_nothing_is_exactly_one() -> None:
    assert two_to(0.0) == 1.0
    assert two_to(-0.0) == 1.0


def test_tangents_are_within_1e_12() -> None:
    """Oracle: tan of Python's library."""
    angles = np.linspace(1e-9, 0.45 * math.pi, 20_001)
    assert max(abs(tangent(x) / math.tan(x) - 1.0) for x in angles.tolist()) < 1e-12
    assert tangent(0.0) == 0.0


@pytest.mark.parametrize("function", [two_to, tangent])
def test_compiled_they_are_the_same(function: object) -> None:
    """Tolerance: a product and a sum may be rounded once instead of twice."""
    numba = pytest.importorskip("numba")
    fast = numba.njit(**FLAGS)(function)
    for x in np.linspace(0.0, 1.4, 101).tolist():
        assert fast(x) == pytest.approx(function(x), rel=1e-14)  # type: ignore[operator]
