"""Gate delay: a gate comes out a set time later, as long as it was or with a length of its own.

Every gate is kept, also when the next comes before it has come out, up to 127 that wait; more are lost. The delay is
read at each edge; one that is turned down while gates wait shortens them, but none is lost or overtaken. With `length`
above 0 the rise alone counts, and a gate that meets the next makes it last from there. Exact to the sample.

Left out: drift of an analogue timer.

Source: definition; threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    RATE_HZ,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.gate_share import gate_level, share_above
from rigproof.kinds.trigger_to_gate import EXTEND, held_gates
from rigproof.units import quarter_s

DELAY_S, LENGTH_S, LEVEL_V = 1, 2, 3
IS_HIGH, NOW, LAST_DUE, READ, COUNT, IS_OUT, LEFT, IS_LOST, EDGES = 0, 1, 2, 3, 4, 5, 6, 7, 8
ROOM = 254
"""Edges that can wait: 127 gates. Our choice."""
THRESHOLD_V = 1.0
"""A gate is high from here up. Common practice, no source. [V]"""


def keep_edge(state: Any, delay: float) -> None:
    """Put an edge in the queue, due after `delay` samples and after the one before it."""
    if state[COUNT] <= 0.0:
        state[NOW] = 0.0
        state[LAST_DUE] = -1.0
    due = max(state[NOW] + delay, state[LAST_DUE] + 1.0)
    state[LAST_DUE] = due
    state[EDGES + (int(state[READ]) + int(state[COUNT])) % ROOM] = due
    state[COUNT] += 1.0


def gate_delay(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Keep the edges that come in, let out those that are due; they come in turn up and down."""
    in_v, out_v = bus_v[ins[0], start:stop], bus_v[outs[0], start:stop]
    rate_hz = params[RATE_HZ, 0]
    level_step = params[LEVEL_V, 1]
    level_v = params[LEVEL_V, 0] + start * level_step
    is_own = params[LENGTH_S, 0] > 0.0 or params[LENGTH_S, 1] > 0.0
    if state[COUNT] <= 0.0 and state[LEFT] <= 0.0 and is_steady(in_v, state[IS_HIGH], THRESHOLD_V):
        high = 1.0 if state[IS_OUT] > 0.0 and not is_own else 0.0
        for n in range(stop - start):
            out_v[n] = high * (level_v + n * level_step)
        return
    for n in range(stop - start):
        high = schmitt(in_v[n], state[IS_HIGH], THRESHOLD_V)
        if high != state[IS_HIGH]:
            delay_s = params[DELAY_S, 0] + (start + n) * params[DELAY_S, 1]
            if high > 0.0:
                state[IS_LOST] = 1.0 if state[COUNT] > ROOM - 2.0 else 0.0
            if state[IS_LOST] <= 0.0:
                keep_edge(state, math.floor(delay_s * rate_hz + 0.5))
            state[IS_HIGH] = high
        if state[COUNT] > 0.0 and state[EDGES + int(state[READ])] <= state[NOW]:
            state[READ] = float((int(state[READ]) + 1) % ROOM)
            state[COUNT] -= 1.0
            state[IS_OUT] = 1.0 - state[IS_OUT]
            if state[IS_OUT] > 0.0 and is_own:
                length_s = params[LENGTH_S, 0] + (start + n) * params[LENGTH_S, 1]
                state[LEFT] = max(1.0, math.floor(length_s * rate_hz + 0.5))
        state[NOW] += 1.0
        is_high = state[LEFT] > 0.0 if is_own else state[IS_OUT] > 0.0
        out_v[n] = level_v + n * level_step if is_high else 0.0
        if state[LEFT] > 0.0:
            state[LEFT] -= 1.0


def prepare(setting: Setting) -> list[float]:
    """Nothing waits."""
    return [0.0] * (EDGES + ROOM)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; always low where no gate comes."""
    if ins[0].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    return [setting.span("level").including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """High for as long as the input; with a length of its own for its share of a quarter note."""
    share = share_above(ins[0], THRESHOLD_V)
    if setting["length"] > 0.0 and share > 0.0:
        share = min(1.0, setting["length"] / quarter_s(setting.tempo_bpm))
    return [gate_level(share, setting["level"])]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The same pulses later; with a length of their own as long as they are surely apart or evenly spaced."""
    if setting["length"] <= 0.0:
        return [ins[0]]
    return [held_gates(ins[0], setting, setting["length"], EXTEND)]


def delay(setting: Setting) -> list[Lag]:
    """The delay, over all the places its knob can stand at."""
    span = setting.span("delay")
    return [Lag("gate", "out", span.lo, span.hi)]


KIND = Kind(
    name="gate-delay",
    doc=__doc__,
    inputs=(Port("gate", "the gate to delay"),),
    outputs=(Port("out", "the same gate, later"),),
    params=(
        Param("delay", "s", 0.0, 30.0, 0.1, "how much later"),
        Param("length", "s", 0.0, 30.0, 0.0, "length of the gate; 0 is as it came"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of the gate"),
    ),
    kernel=gate_delay,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
