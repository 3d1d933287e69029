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

    `tables` and `data` say where in `state` the tables and the sound's frames begin; the channels of a frame, one or
    two, stand next to each other. Before the first frame and behind the last there is silence.
    """
    if speed > 1.0:
        return value_stretched(state, tables + WEIGHTS, data, frames, channels, at, 1.0 / speed)
    whole = math.floor(at)
    if at == whole:  # on a frame: the sinc is zero at all others
        if whole < 0 or whole >= frames:
            return 0.0, 0.0
        if channels == 1:
            return state[data + whole], state[data + whole]
        return state[data + 2 * whole], state[data + 2 * whole + 1]
    left = 0.0
    right = 0.0
    place = (at - whole) * PLACES
    row = int(place)
    part = place - row
    row = tables + row * TAPS
    first = whole - (CROSSINGS - 1)
    lo = max(0, -first)
    hi = min(TAPS, frames - first)
    here = data + channels * first
    if channels == 2:
        for k in range(lo, hi):
            low = state[row + k]
            weight = low + part * (state[row + TAPS + k] - low)
            left += weight * state[here + 2 * k]
            right += weight * state[here + 2 * k + 1]
        return left, right
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


def value_stretched(
    state: Any, side: int, data: int, frames: int, channels: int, at: float, slower: float
) -> tuple[float, float]:
    """Return left and right through a sinc stretched by one over `slower`; `side` is where its one side stands."""
    left = 0.0
    right = 0.0
    step = slower * PLACES
    whole = math.floor(at)
    # First the frame at or before and back from there, then the one behind and on, each to where the window ends.
    for way in range(2):
        frame = whole + way
        turn = 2 * way - 1
        place = (frame - at) * turn * step
        count = math.floor((CROSSINGS * PLACES - place) / step) + 1
        count = min(count, frames - frame) if way == 1 else min(count, frame + 1)
        first = max(0, -frame) if way == 1 else max(0, frame - frames + 1)
        here = data + channels * frame
        turn *= channels
        for k in range(first, count):
            inside = place + k * step
            row = int(inside)
            low = state[side + row]
            weight = low + (inside - row) * (state[side + row + 1] - low)
            left += weight * state[here + k * turn]
            if channels == 2:
                right += weight * state[here + k * turn + 1]
    if channels == 1:
        right = left
    return slower * left, slower * right
