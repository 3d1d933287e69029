"""Reading a sound between its samples and at another speed. Plain functions; see `base`.

Each value is a sum over the samples around, weighted by a sinc under a Kaiser window 8 zero crossings to each side. Up
to the sound's own speed the weights stand ready for 256 places between two samples, with a straight line between
places. Up to twice that speed the sinc is stretched so that what would fold back is taken away first: weights stand
ready for 64 places and 17 stretches, of which the next longer one is taken; a glide goes from one to the next in steps
of less than a thousandth, below 6 kHz in the output. Faster still, a copy of the sound at half or a quarter of its
rate is read (see `halved`).

With the window's 65 dB, images and what folds back lie at least 60 dB down as long as their frequency in the output, or
that of the sound itself when it is slowed down, is below three eighths of the sample rate (18 kHz at 48 kHz).

Source: J. O. Smith and P. Gossett, A Flexible Sampling-Rate Conversion Method, Proc. ICASSP 1984, 19.4.1-4; Kaiser's
window with beta = 0.1102 (A - 8.7) for A dB, Proc. ISCAS 1974, 20-23 (both from memory; tests measure the result).
"""

from __future__ import annotations

from typing import Any

CROSSINGS = 8
"""Zero crossings of the sinc on each side."""
TAPS = 2 * CROSSINGS
PLACES = 256
"""Places between two samples for which weights stand ready."""
STOP_DB = 65.0
WEIGHTS = (PLACES + 1) * TAPS
"""Numbers in the table of ready weights."""
STRETCHES = 16
"""Steps from the sinc as it is to one stretched to twice its length."""
ALMOST = 1.0 / 64.0
"""So far above a stretch it still serves, so that speed 1 and a hair more sound the same. [of a step]"""
SKIP_REACH = 2 * CROSSINGS
SKIP_TAPS = 2 * SKIP_REACH
"""Samples under a sinc of twice its length."""
SKIP_PLACES = 64
STRETCH = (SKIP_PLACES + 1) * SKIP_TAPS
"""Numbers in the table of one stretch."""
TABLES = WEIGHTS + (STRETCHES + 1) * STRETCH

HALVING_DB = 80.0
HALVING_REACH = 33
"""Samples to each side that go into one of a copy at half the rate: it passes what lies below 0.85 of its own half
rate and stops what lies above 1.15 of it."""
AHEAD = (HALVING_REACH + 1) // 2
"""Samples of the copy that ring before the first of the sound, and after its last."""
MOST_MASK = (1 << 40) - 1
"""More numbers than any state holds; what has gone through it the compiler knows not to be negative."""


def kaiser(x: Any, attenuation_db: float) -> Any:
    """Return Kaiser's window for x from -1 to 1, and 0 beyond."""
    import numpy as np

    beta = 0.1102 * (attenuation_db - 8.7)
    inside = np.clip(1.0 - x**2, 0.0, None)
    return np.where(np.abs(x) < 1.0, np.i0(beta * np.sqrt(inside)) / np.i0(beta), 0.0)


def interpolation_tables() -> Any:
    """Return the ready weights, then those of every stretch, one behind the other, as float64[TABLES]."""
    import numpy as np

    def weight(x: Any) -> Any:
        return np.sinc(x) * kaiser(x / CROSSINGS, STOP_DB)

    taps = np.arange(TAPS) - (CROSSINGS - 1)
    places = np.arange(PLACES + 1)[:, None] / PLACES
    skip_taps = np.arange(SKIP_TAPS) - (SKIP_REACH - 1)
    skip_places = np.arange(SKIP_PLACES + 1)[:, None] / SKIP_PLACES
    stretches = 1.0 + np.arange(STRETCHES + 1)[:, None, None] / STRETCHES
    stretched = weight((skip_taps - skip_places) / stretches) / stretches
    return np.concatenate([weight(taps - places).reshape(-1), stretched.reshape(-1)])


def halved(frames: Any) -> Any:
    """Return a sound, float64[frames, channels], at half its rate: frame i of the sound is `i / 2 + AHEAD` there."""
    import numpy as np

    side = np.arange(-HALVING_REACH, HALVING_REACH + 1)
    weights = np.sinc(side / 2.0) * kaiser(side / (HALVING_REACH + 1.0), HALVING_DB)
    weights /= weights.sum()
    # Every second weight is zero but for the middle one, so only the odd frames need weighing.
    count = halved_frames(frames.shape[0])
    padded = np.zeros((2 * (count + AHEAD), frames.shape[1]))
    padded[2 * AHEAD : 2 * AHEAD + frames.shape[0]] = frames
    out = weights[HALVING_REACH] * padded[: 2 * count : 2]
    for channel in range(frames.shape[1]):
        odd = np.concatenate([np.zeros(AHEAD), padded[1::2, channel]])
        out[:, channel] += np.convolve(odd, weights[::2], "valid")[:count]
    return out


def halved_frames(frames: int) -> int:
    """Return how many frames `halved` makes of so many."""
    return frames // 2 + 2 * AHEAD


def values_at(
    tables: Any, sounds: Any, left_at: int, right_at: int, frames: int, at: float, speed: float
) -> tuple[float, float]:
    """Return left and right at frame `at`, from 0 up, of a sound read at up to two frames a sample.

    `tables` is float64[TABLES]. The frames of each side lie one behind the other in `sounds`, from `left_at` and from
    `right_at` on, which are the same for a mono sound. Before the first frame and behind the last there is silence.
    """
    whole = int(at)
    if speed <= 1.0:
        taps = TAPS
        place = (at - whole) * PLACES
        row = int(place)
        weights = row * TAPS
    else:
        taps = SKIP_TAPS
        stretch = min(int((speed - 1.0) * STRETCHES + (1.0 - ALMOST)), STRETCHES)
        place = (at - whole) * SKIP_PLACES
        row = int(place)
        weights = WEIGHTS + stretch * STRETCH + row * SKIP_TAPS
    part = place - row
    first = whole - (taps // 2 - 1)
    if first < 0 or first + taps > frames:
        near, far = tables[weights : weights + taps], tables[weights + taps : weights + 2 * taps]
        left = weighed_sum_at_end(near, far, sounds[left_at : left_at + frames], first, part)
        if right_at == left_at:
            return left, left
        right = weighed_sum_at_end(near, far, sounds[right_at : right_at + frames], first, part)
        return left, right
    weights &= MOST_MASK
    left_at = (left_at + first) & MOST_MASK
    right_at = (right_at + first) & MOST_MASK
    near, far = tables[weights : weights + taps], tables[weights + taps : weights + 2 * taps]
    left = weighed_sum(near, far, sounds[left_at : left_at + taps], part)
    if right_at == left_at:
        return left, left
    return left, weighed_sum(near, far, sounds[right_at : right_at + taps], part)


def weighed_sum(near: Any, far: Any, window: Any, part: float) -> float:
    """Return the sum over a window of frames, weighed by what lies at `part` between two rows of weights.

    The engine takes the sums in any order, several at a time.
    """
    a = 0.0
    b = 0.0
    for k in range(near.shape[0]):
        a += near[k] * window[k]
        b += far[k] * window[k]
    return a + part * (b - a)


def weighed_sum_at_end(near: Any, far: Any, side: Any, first: int, part: float) -> float:
    """Return the same where the window, from frame `first` of one side of the sound, reaches past an end of it."""
    total = 0.0
    for k in range(max(0, -first), min(near.shape[0], side.shape[0] - first)):
        total += (near[k] + part * (far[k] - near[k])) * side[first + k]
    return total
