"""Powers of two and tangents in few steps, for kernels that need one in every sample. Plain functions; see `base`.

Neither calls a library, branches or divides more than once, so that several samples can be worked on at a time. A
pitch moved by a hundred-billionth of itself is a millionth of a millionth of what anybody hears.

Source: Taylor's series of the exponential, after which six squarings undo a division by 64; the continued fraction
tan x = x / (1 - x^2 / (3 - x^2 / (5 - ...))) (J. H. Lambert, 1761, from memory), cut after 17. Tests hold both
against the library of Python.
"""

from __future__ import annotations

MOST_OCTAVES = 40.0
"""How far from 0 `two_to` keeps its promise."""
LN_2_PART = 0.6931471805599453 / 64.0


def two_to(octaves: float) -> float:
    """Return 2 to the power of -40 to 40 octaves, within 1e-11 of itself; exactly 1 for 0."""
    x = octaves * LN_2_PART
    y = 1.0 / 3628800.0 + x * (1.0 / 39916800.0)
    y = 1.0 / 40320.0 + x * (1.0 / 362880.0 + x * y)
    y = 1.0 / 720.0 + x * (1.0 / 5040.0 + x * y)
    y = 1.0 / 24.0 + x * (1.0 / 120.0 + x * y)
    y = 1.0 + x * (1.0 + x * (0.5 + x * (1.0 / 6.0 + x * y)))
    y *= y
    y *= y
    y *= y
    y *= y
    y *= y
    return y * y


def tangent(x: float) -> float:
    """Return tan x for x from 0 to 0.45 pi, within 1e-12 of itself. [radians]"""
    s = x * x
    top = 34459425.0 + s * (-4729725.0 + s * (135135.0 + s * (-990.0 + s)))
    below = 34459425.0 + s * (-16216200.0 + s * (945945.0 + s * (-13860.0 + 45.0 * s)))
    return x * top / below
