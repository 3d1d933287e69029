"""Slew limiter: a resistor into a capacitor. Rounds off steps, never overshoots; its own time up and down.

Exact for an input held between samples. Left out: leakage, the buffer's offset.

Source: Horowitz & Hill, The Art of Electronics, 3rd ed. (2015), ch. 1, RC circuits: V and I versus time.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp, settle

RISE_S, FALL_S = 1, 2
CAPACITOR_V = 0


def slew(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Move the capacitor towards the input, sample by sample."""
    up = 1.0 - exp(-1.0 / (params[RISE_S, 0] * params[RATE_HZ, 0]))
    down = 1.0 - exp(-1.0 / (params[FALL_S, 0] * params[RATE_HZ, 0]))
    stay_up = 1.0 - up
    stay_down = 1.0 - down
    in_v = bus_v[ins[0], start:stop]
    out_v = bus_v[outs[0], start:stop]
    v = state[CAPACITOR_V]
    for n in range(stop - start):
        goal_v = clamp(in_v[n], -RAIL_V, RAIL_V)
        # Both ways are worked out and one is taken, so that a sample waits only for one multiply-add.
        risen_v = up * goal_v + stay_up * v
        fallen_v = down * goal_v + stay_down * v
        v = risen_v if goal_v > v else fallen_v
        out_v[n] = v
    state[CAPACITOR_V] = settle(v)


def prepare(setting: Setting) -> list[float]:
    """Start with the capacitor empty."""
    return [0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The output moves from rest (0 V) towards the input, so it stays between them."""
    return [ins[0].clipped(-RAIL_V, RAIL_V).including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Slow controls pass as they are; nothing is said about fast ones."""
    return [ins[0].clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, rounded."""
    return [ins[0]]


KIND = Kind(
    name="slew",
    doc=__doc__,
    inputs=(Port("in", "the voltage to follow"),),
    outputs=(Port("out", "the same, rounded"),),
    params=(
        Param("rise", "s", 1e-5, 60.0, 0.01, "time constant upwards"),
        Param("fall", "s", 1e-5, 60.0, 0.01, "time constant downwards"),
    ),
    kernel=slew,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
