"""Heard: what a stretch of sound has shown, for whoever reads a patch and does not play it.

The engine plays; this is only what came of it, as plain numbers. What was seen happens; what was not seen may still.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rigproof.kinds.base import Span


@dataclass(frozen=True, slots=True)
class Heard:
    """How far every row went in so many seconds of sound, and how loud it was at the way out."""

    seconds: float
    title: str
    lows_v: Sequence[float]
    highs_v: Sequence[float]
    """By row; infinite where nothing ran. [V]"""
    integrated_lufs: float | None = None
    """Gated loudness of what the room hears (BS.1770); None for silence. [LUFS]"""
    true_peak_dbtp: float | None = None
    """The largest value between samples too; None for silence. [dBTP]"""

    def span(self, row: int) -> Span | None:
        """Return what was seen on a row; None where nothing ran. [V]"""
        low_v, high_v = float(self.lows_v[row]), float(self.highs_v[row])
        return Span(low_v, high_v) if math.isfinite(low_v) and math.isfinite(high_v) else None

    @property
    def stretch(self) -> str:
        """Return the stretch in words."""
        return f"{self.seconds:.3g} s of sound"
