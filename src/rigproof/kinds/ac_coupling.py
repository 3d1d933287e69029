"""AC coupling: a capacitor in series with a jack. What is steady dies away; slow control voltages come out wrong.

One pole, by the trapezoidal rule with prewarping. A voltage that jumps from one rail to the other comes out as a jump
of the whole height, so more than the rails can appear behind the capacitor. Left out: the capacitor's leakage.

Source: RC high pass, -3 dB at 1/(2 pi RC) (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1). 3 Hz is common
practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import tan
from typing import Any

from rigproof.kinds.base import RATE_HZ, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp, settle

CORNER_HZ = 1
CAPACITOR_V = 0
HIGHEST_V = 100.0
"""No voltage at a jack is taken for more. [V]"""


def ac_coupling(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Charge the capacitor; what it does not hold passes."""
    g = tan(math.pi * params[CORNER_HZ, 0] / params[RATE_HZ, 0])
    share = g / (1.0 + g)
    passed = 1.0 - share
    taken = 2.0 * share
    kept = 1.0 - taken
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    held_v = state[CAPACITOR_V]
    for n in range(stop - start):
        x = clamp(in_v[n], -HIGHEST_V, HIGHEST_V)
        out_v[n] = passed * (x - held_v)
        held_v = kept * held_v + taken * x  # one product and sum that wait for the sample before
    state[CAPACITOR_V] = settle(held_v)


def prepare(setting: Setting) -> list[float]:
    """Start with the capacitor empty."""
    return [0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The capacitor holds a voltage that has been, or the 0 V it began with; the output is the way from there."""
    x = ins[0].clipped(-HIGHEST_V, HIGHEST_V)
    return [x - x.including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The steady part is gone."""
    source = ins[0].clipped(-HIGHEST_V, HIGHEST_V)
    return [source.scaled(1.0, -source.dc_v)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The edges of pulses pass."""
    return [ins[0]]


KIND = Kind(
    name="ac-coupling",
    doc=__doc__,
    inputs=(Port("in", "before the capacitor"),),
    outputs=(Port("out", "behind it"),),
    params=(Param("corner", "Hz", 0.1, 1000.0, 3.0, "where it has lost 3 dB"),),
    kernel=ac_coupling,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    is_internal=True,
)
