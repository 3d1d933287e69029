"""Steps and corners without aliasing, and a fast sine, for kernels. Plain functions; see `base`.

A wave that jumps or bends between two samples is written as it stands, and the difference to the same jump or bend
seen through a short low pass is added over the `POINTS` samples around it. Sums of straight lines then come out as if
they had been filtered before they were sampled: flat within 0.1 dB up to 13 kHz at 48 kHz, and what would fold down
to below 12 kHz is 60 dB weaker than it was. The wave comes out `AHEAD` samples later.

Source: band-limited steps made of an integrated, windowed sinc (E. Brandt, Hard Sync Without Aliasing, ICMC 2001; name
and year from memory); the window is J. F. Kaiser's; tests measure the result against Fourier series.
"""

from __future__ import annotations

from functools import cache
from typing import Any

AHEAD = 4
"""Samples by which a wave is late, so that a step can be rounded before it comes."""
POINTS = 2 * AHEAD
"""Samples that one step touches."""
PARTS = 128
"""Places between two samples at which the tables are kept; straight lines in between."""
WINDOW_BETA = 6.0
"""Shape of the window: side lobes near -63 dB."""
CUTOFF_RATIO = 0.95
"""Corner of the low pass over half the sample rate."""
OVERSHOOT_RATIO = 1.25
"""A wave made this way rings past its steps by 14 % of its peak; where rings meet it is stopped here."""

STEP_TABLE = 0
CORNER_TABLE = (PARTS + 1) * POINTS
TABLES = 2 * (PARTS + 1) * POINTS
"""Numbers in both tables, the step table first."""

FINE = 16
"""Places between two table entries where the low pass is summed."""


@cache
def step_tables() -> tuple[float, ...]:
    """Return what a step of 1 and a bend of 1 a sample lack, `POINTS` numbers for each of `PARTS` + 1 delays."""
    import numpy as np

    dense = PARTS * FINE
    t = np.arange(-AHEAD * dense, AHEAD * dense + 1) / dense
    pass_low = np.sinc(CUTOFF_RATIO * t) * np.kaiser(t.size, WINDOW_BETA)
    step = np.concatenate(([0.0], np.cumsum((pass_low[1:] + pass_low[:-1]) / 2)))
    step /= step[-1]
    early, late = step, step - 1.0  # before and after the jump
    lacks = np.where(t < 0.0, early, late)
    middle = AHEAD * dense
    areas = (lacks[1:] + lacks[:-1]) / 2
    areas[middle - 1] = (
        early[middle - 1] + early[middle]
    ) / 2  # the trapezium that ends at the jump
    corner = np.concatenate(([0.0], np.cumsum(areas))) / dense
    out = []
    for table, before in ((lacks, early), (corner, corner)):
        for part in range(PARTS + 1):
            for point in range(POINTS):
                at = point * dense + part * FINE
                out.append(float(before[at] if at <= middle and point < AHEAD else table[at]))
    return tuple(out)


def add_lack(state: Any, table: int, line: int, late: float, size: float) -> None:
    """Add what a step or bend of `size` lacks to `POINTS` samples that have not come out yet.

    `table` is where the table starts in `state`, `line` where the first of the samples stands, the one that comes out
    now; the step came `late` samples, 0 to 1, before the present one, which comes out `AHEAD` samples later.
    """
    spot = late * PARTS
    part = int(spot)
    if part >= PARTS:
        part = PARTS - 1
    share = spot - part
    row = table + part * POINTS
    early = state[row : row + POINTS]
    after = state[row + POINTS : row + 2 * POINTS]
    waiting = state[line : line + POINTS]
    for point in range(POINTS):
        waiting[point] += size * (early[point] + share * (after[point] - early[point]))


def sine_of_turn(turn: float) -> float:
    """Return sin(2 pi turn) for a turn from 0 to 1, within 1e-11.

    Source: Taylor's series to the 15th power on a quarter turn; what it leaves out is below 6.1e-12.
    """
    x = turn
    if x > 0.75:
        x -= 1.0
    elif x > 0.25:
        x = 0.5 - x
    x *= 6.283185307179586
    s = x * x
    return x * (
        1.0
        + s
        * (
            -1.0 / 6.0
            + s
            * (
                1.0 / 120.0
                + s
                * (
                    -1.0 / 5040.0
                    + s
                    * (
                        1.0 / 362880.0
                        + s * (-1.0 / 39916800.0 + s * (1.0 / 6227020800.0 - s / 1307674368000.0))
                    )
                )
            )
        )
    )


def cosine_of_turn(turn: float) -> float:
    """Return cos(2 pi turn) for a turn from 0 to 1."""
    return sine_of_turn(turn + 0.25 if turn < 0.75 else turn - 0.75)
