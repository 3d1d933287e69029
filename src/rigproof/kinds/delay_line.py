"""A delay line read between its samples, for kernels, and what it can hold, for `interval` functions; see `base`.

The line is a ring of a power of two samples inside `state`, so that places wrap by a bit mask. Between samples a cubic
runs through the four around: exact on a sample, flat within 0.1 dB up to an eighth of the sample rate, no tone louder
than it was written, though it can pass a corner by an eighth.

Source: Lagrange's interpolation of third order (T. I. Laakso et al., Splitting the Unit Delay, IEEE Signal Processing
Magazine 13(1), 1996; from memory, tests measure the result).
"""

from __future__ import annotations

import math
from typing import Any

from rigproof.kinds.base import RAIL_V, Level, Span, mixed

NEAREST = 2.0
"""Least delay that can be read before this sample is written. [samples]"""
MOST_OVERSHOOT = 1.25
"""Sum of the sizes of the cubic's weights, half way between two samples: 1/16 + 9/16 + 9/16 + 1/16."""
MOST_MASK = (1 << 40) - 1
"""No ring is as large. A mask cut by it is seen not to be negative, and so are the places it makes: less to check."""
ROUNDS = 60
THIRD, SIXTH = 1.0 / 3.0, 1.0 / 6.0


def ring_size(samples: float) -> int:
    """Return the ring that delays so many samples: a power of two."""
    return 1 << (math.ceil(samples) + 4).bit_length()


def read_line(state: Any, line: int, mask: int, write: int, late: float) -> float:
    """Return the line `late` samples ago, from 2 to the ring's size less 3.

    `line` is where the ring starts in `state`, `mask` its size less one, `write` the place written at this sample.
    """
    whole = int(late)
    f = late - whole
    newest = state[line + ((write - whole + 1) & mask)]
    newer = state[line + ((write - whole) & mask)]
    older = state[line + ((write - whole - 1) & mask)]
    oldest = state[line + ((write - whole - 2) & mask)]
    bend = 0.5 * (newest + older) - newer
    twist = (oldest - newest) * SIXTH + 0.5 * (newer - older)
    slope = older - newest * THIRD - 0.5 * newer - oldest * SIXTH
    return float(newer + f * (slope + f * (bend + f * twist)))


def overshoot_at(late: float) -> float:
    """Return the sum of the sizes of the cubic's weights at one delay: 1 on a sample, 1.25 half way."""
    f = late - math.floor(late)
    return 1.0 + f * (1.0 - f)


def between(span: Span, overshoot: float = MOST_OVERSHOOT) -> Span:
    """Return what can be read from a line that holds no more than `span`."""
    more, less = (overshoot + 1.0) / 2.0, (overshoot - 1.0) / 2.0
    return Span(span.lo * more - span.hi * less, span.hi * more - span.lo * less)


def line_span(
    source: Span, feedback: Span, overshoot: float = MOST_OVERSHOOT, limit_v: float = RAIL_V
) -> Span:
    """Return what a line can hold that starts empty and takes in `source` plus its own output times `feedback`.

    The line stops at plus or minus `limit_v`. Going round once more from a bound never widens it, so that every round
    is a bound too, and they close in on the geometric series.
    """
    factor = max(abs(feedback.lo), abs(feedback.hi)) * overshoot
    start_v = limit_v if factor >= 1.0 else min(limit_v, source.peak / (1.0 - factor))
    span = Span(-start_v, start_v)
    for _ in range(ROUNDS):
        span = (source + between(span, overshoot) * feedback).clipped(-limit_v, limit_v)
        span = span.including(0.0)
    return span


def line_level(source: Level, feedback: float, mix: float, span: Span) -> Level:
    """Return the dry sound and what a line with feedback repeats of it, by the mix, within `span`.

    As if the sound and its repeats were unlike: powers add, and a steady part adds up as it is.
    """
    again = 1.0 / math.sqrt(1.0 - feedback**2)
    dc_v, rms_v = source.dc_v / (1.0 - feedback), source.rms_v * again
    wet = Level(source.lo_v, source.hi_v, dc_v, rms_v).hit_like(source, again)
    both = mixed([source.scaled(1.0 - mix), wet.scaled(mix)])
    told = Level(span.lo, span.hi, both.dc_v, both.rms_v).hit_like(both, 1.0)
    return told.clipped(span.lo, span.hi)
