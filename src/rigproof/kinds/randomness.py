"""Chance for kernels: one number of state, the same sequence in every run. Plain functions; see `base`.

Source: linear congruential generator x -> 1664525 x + 1013904223 mod 2^32 (Press et al., Numerical Recipes, 2nd ed.,
section 7.1; constants from memory, and the period of 2^32 follows from the Hull-Dobell theorem).
"""

from __future__ import annotations

from zlib import crc32

TWO_32 = 4294967296.0


def next_random(seed: float) -> float:
    """Return the next seed: a whole number from 0 to 2^32 - 1 held in a float. Divide by `TWO_32` for 0 to 1."""
    return float((int(seed) * 1664525 + 1013904223) & 0xFFFFFFFF)


def first_seed(seed: int, name: str) -> float:
    """Return the seed of one section, from the patch's seed and the section's name."""
    return next_random(next_random(float(crc32(f"{seed} {name}".encode()))))
