"""Reading a sound between its samples and at another speed. Plain functions; see `base`.

Each value is a sum over the samples around, weighted by a sinc under a Kaiser window 8 zero crossings to each side. Up
to the sound's own speed the weights stand ready for 256 places between two samples, with a straight line between
places. Faster than that, the sinc is stretched so that what would fold back is taken away first. With the window's
65 dB, images and what folds back lie at least 60 dB down as long as their frequency in the output, or that of the sound
itself when it is slowed down, is below three eighths of the sample rate (18 kHz at 48 kHz).

Source: J. O. Smith and P. Gossett, A Flexible Sampling-Rate Conversion Method, Proc. ICASSP 1984, 19.4.1-4; Kaiser's
window with beta = 0.1102 (A - 8.7) for A dB, Proc. ISCAS 1974, 20-23 (both from memory; tests measure the result).
"""

from __future__ import annotations

import math
from typing import Any

CROSSINGS = 8
"""Zero crossings of the sinc on each side."""
TAPS = 2 * CROSSINGS
PLACES = 256
"""Places between two samples for which weights stand ready."""
STOP_DB = 65.0
WEIGHTS = (PLACES + 1) * TAPS
"""Numbers in the table of ready weights."""
SLOPE = CROSSINGS * PLACES + 2
"""Numbers in the table of one side of the sinc."""
TABLES = WEIGHTS + SLOPE


def interpolation_tables() -> Any:
    """Return both tables, one behind the other, as float64[TABLES]: the ready weights, then one side of the sinc."""
    import numpy as np

    beta = 0.1102 * (STOP_DB - 8.7)

    def weight(x: Any) -> Any:
        inside = np.clip(1.0 - (x / CROSSINGS) ** 2, 0.0, None)
        window = np.where(np.abs(x) < CROSSINGS, np.i0(beta * np.sqrt(inside)) / np.i0(beta), 0.0)
        return np.sinc(x) * window

    taps = np.arange(TAPS) - (CROSSINGS - 1)
    places = np.arange(PLACES + 1)[:, None] / PLACES
    side = weight(np.arange(SLOPE) / PLACES)
    return np.concatenate([weight(taps - places).reshape(-1), side])


def value_between(
    state: Any, tables: int, data: int, frames: int, channels: int, at: float, speed: float
) -> tuple[float, float]:
    """Return left and right at frame `at` of a sound read at `speed` frames a sample.

    `tables` and `data` say where in `state` the tables and the sound's frames begin; channels of a frame stand next
    to each other. Before the first frame and behind the last there is silence.
    """
    left = 0.0
    right = 0.0
    if speed <= 1.0:
        whole = math.floor(at)
        if at == whole:  # on a frame: the sinc is zero at all others
            if whole < 0 or whole >= frames:
                return 0.0, 0.0
            if channels == 1:
                return state[data + whole], state[data + whole]
            return state[data + 2 * whole], state[data + 2 * whole + 1]
        place = (at - whole) * PLACES
        row = int(place)
        part = place - row
        row = tables + row * TAPS
        first = whole - (CROSSINGS - 1)
        lo = max(0, -first)
        hi = min(TAPS, frames - first)
        if channels == 1:
            here = data + first
            if lo == 0 and hi == TAPS:
                for k in range(0, TAPS, 2):  # two sums, so that they need not wait for each other
                    low = state[row + k]
                    left += (low + part * (state[row + TAPS + k] - low)) * state[here + k]
                    low = state[row + k + 1]
                    right += (low + part * (state[row + TAPS + k + 1] - low)) * state[here + k + 1]
                return left + right, left + right
            for k in range(lo, hi):
                low = state[row + k]
                left += (low + part * (state[row + TAPS + k] - low)) * state[here + k]
            return left, left
        for k in range(lo, hi):
            low = state[row + k]
            weight = low + part * (state[row + TAPS + k] - low)
            left += weight * state[data + 2 * (first + k)]
            right += weight * state[data + 2 * (first + k) + 1]
        return left, right
    reach = CROSSINGS * speed
    slower = 1.0 / speed
    side = tables + WEIGHTS
    for frame in range(max(0, math.ceil(at - reach)), min(frames, math.floor(at + reach) + 1)):
        place = abs(at - frame) * slower * PLACES
        row = min(int(place), SLOPE - 2)
        low = state[side + row]
        weight = slower * (low + (place - row) * (state[side + row + 1] - low))
        if channels == 1:
            left += weight * state[data + frame]
        else:
            left += weight * state[data + 2 * frame]
            right += weight * state[data + 2 * frame + 1]
    if channels == 1:
        right = left
    return left, right
