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
    tables: Any, sound: Any, channels: int, at: float, speed: float
) -> tuple[float, float]:
    """Return left and right at frame `at` of a sound read at `speed` frames a sample.

    `tables` is float64[TABLES]; `sound` is float64[frames * channels], the channels of a frame next to each other.
    Before the first frame and behind the last there is silence.
    """
    left = 0.0
    right = 0.0
    whole = math.floor(at)
    first = whole - (CROSSINGS - 1)
    if speed > 1.0:
        left, right = value_skipping(tables, sound, channels, at, speed)
    elif at == whole:  # on a frame: the sinc is zero at all others
        if 0 <= whole < sound.shape[0] // channels:
            left = sound[channels * whole]
            right = sound[channels * whole + channels - 1]
    elif first < 0 or channels * (first + TAPS) > sound.shape[0]:
        left, right = value_at_end(tables, sound, channels, at)
    else:
        place = (at - whole) * PLACES
        row = int(place)
        part = place - row
        weights = tables[row * TAPS : (row + 2) * TAPS]
        window = sound[channels * first : channels * (first + TAPS)]
        if channels == 1:
            left = weighed_sum(weights, window, part)
            right = left
        else:
            for k in range(TAPS):
                weight = weights[k] + part * (weights[TAPS + k] - weights[k])
                left += weight * window[2 * k]
                right += weight * window[2 * k + 1]
    return left, right


def weighed_sum(weights: Any, window: Any, part: float) -> float:
    """Return the sum over a window of frames, weighed by what lies at `part` between two rows of weights.

    Eight sums are kept, so that they need not wait for each other.
    """
    a0, a1, a2, a3 = 0.0, 0.0, 0.0, 0.0
    b0, b1, b2, b3 = 0.0, 0.0, 0.0, 0.0
    for k in range(0, TAPS, 4):
        x0, x1, x2, x3 = window[k], window[k + 1], window[k + 2], window[k + 3]
        a0 += weights[k] * x0
        a1 += weights[k + 1] * x1
        a2 += weights[k + 2] * x2
        a3 += weights[k + 3] * x3
        b0 += weights[TAPS + k] * x0
        b1 += weights[TAPS + k + 1] * x1
        b2 += weights[TAPS + k + 2] * x2
        b3 += weights[TAPS + k + 3] * x3
    a = (a0 + a1) + (a2 + a3)
    b = (b0 + b1) + (b2 + b3)
    return a + part * (b - a)


def value_at_end(tables: Any, sound: Any, channels: int, at: float) -> tuple[float, float]:
    """Return the same where the window reaches past an end of the sound; not faster than the sound."""
    frames = sound.shape[0] // channels
    whole = math.floor(at)
    place = (at - whole) * PLACES
    row = int(place)
    part = place - row
    row *= TAPS
    first = whole - (CROSSINGS - 1)
    left = 0.0
    right = 0.0
    for k in range(max(0, -first), min(TAPS, frames - first)):
        weight = tables[row + k] + part * (tables[row + TAPS + k] - tables[row + k])
        left += weight * sound[channels * (first + k)]
        right += weight * sound[channels * (first + k) + channels - 1]
    return left, right


def value_skipping(
    tables: Any, sound: Any, channels: int, at: float, speed: float
) -> tuple[float, float]:
    """Return the same at a speed above 1, where frames are skipped: the sinc is stretched."""
    frames = sound.shape[0] // channels
    reach = CROSSINGS * speed
    slower = 1.0 / speed
    scale = slower * PLACES
    side = tables[WEIGHTS:TABLES]
    lo = max(0, math.ceil(at - reach))
    hi = min(frames, math.floor(at + reach) + 1)
    window = sound[channels * lo : channels * max(lo, hi)]
    start = (at - lo) * scale
    left = 0.0
    right = 0.0
    if channels == 1:
        count = hi - lo
        for k in range(0, count - 1, 2):  # two sums, so that they need not wait for each other
            left += weight_at(side, abs(start - k * scale)) * window[k]
            right += weight_at(side, abs(start - (k + 1) * scale)) * window[k + 1]
        if count > 0 and count % 2 == 1:
            left += weight_at(side, abs(start - (count - 1) * scale)) * window[count - 1]
        left += right
        right = left
    else:
        for k in range(hi - lo):
            weight = weight_at(side, abs(start - k * scale))
            left += weight * window[2 * k]
            right += weight * window[2 * k + 1]
    return slower * left, slower * right


def weight_at(side: Any, place: float) -> float:
    """Return the sinc at a place from 0 to the end of its table, with a straight line between numbers."""
    row = min(int(place), SLOPE - 2)
    low = side[row]
    return float(low + (place - row) * (side[row + 1] - low))
