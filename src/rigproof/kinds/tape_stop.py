"""Tape stop: while the gate is high a stereo sound slows down to a halt, as when the motor is switched off.

The speed falls in a straight line over `stop`, pitch with it, and when the gate lets go rises again over `start`. Below
a quarter of the speed the sound fades with the speed, as a reading head gives less. Started from a halt, the machine
begins with what sounds now; once up to speed it has fallen half of `start` behind and is cross-faded back to what
sounds now over 20 ms. Let go before the halt, it speeds up from where it is. Running, the sound is two samples late.

Left out: wow and flutter, motors that do not brake in a straight line, the loss of highs at low speed.

Source: distance over a speed that falls in a straight line: half of full speed times time (kinematics); the pitch is
the speed. The quarter is our choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
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
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.delay_line import NEAREST, between, read_line, ring_size
from rigproof.kinds.edges import schmitt

STOP_S, START_S = 1, 2
LEFT_IN, RIGHT_IN, GATE_IN = 0, 1, 2
ROOM, WRITE, GATE_HIGH, SPEED, LATE, COMING, FADE = 0, 1, 2, 3, 4, 5, 6
LINES = 7

THRESHOLD_V = 1.0
"""The gate is high from here up. Common practice, no source. [V]"""
FULL_RATIO = 0.25
"""Speed from which the head gives all. Our choice."""
FADE_S = 0.02


def tape_stop(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Move the speed, let the reader fall behind, fade back when it is up to speed."""
    rate_hz = params[RATE_HZ, 0]
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    gate_v = bus_v[ins[GATE_IN], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    slower = 1.0 / (params[STOP_S, 0] * rate_hz)
    faster = 1.0 / (params[START_S, 0] * rate_hz)
    fade_step = 1.0 / (FADE_S * rate_hz)
    room = int(state[ROOM])
    mask = room - 1
    longest = room - 8.0
    write = int(state[WRITE])
    high, speed, late = state[GATE_HIGH], state[SPEED], state[LATE]
    coming, fade = state[COMING], state[FADE]
    for n in range(stop - start):
        high = schmitt(gate_v[n], high, THRESHOLD_V)
        state[LINES + write] = settle(clamp(left_v[n], -RAIL_V, RAIL_V))
        state[LINES + room + write] = settle(clamp(right_v[n], -RAIL_V, RAIL_V))
        if high > 0.0:
            speed = max(0.0, speed - slower)
        elif speed < 1.0:
            if speed == 0.0:  # from a halt: what sounds now
                late = NEAREST
                fade = 0.0
            speed = min(1.0, speed + faster)
        late = min(late + (1.0 - speed), longest)
        coming = min(coming + (1.0 - speed), longest)
        if speed == 1.0 and late > NEAREST and fade == 0.0:
            fade = 1.0
            coming = NEAREST
        gain = min(1.0, speed / FULL_RATIO)
        heard_left_v, heard_right_v = 0.0, 0.0
        if gain > 0.0:
            heard_left_v = read_line(state, LINES, mask, write, late)
            heard_right_v = read_line(state, LINES + room, mask, write, late)
        if fade > 0.0:
            fade -= fade_step
            share = max(fade, 0.0)
            heard_left_v = share * heard_left_v + (1.0 - share) * read_line(
                state, LINES, mask, write, coming
            )
            heard_right_v = share * heard_right_v + (1.0 - share) * read_line(
                state, LINES + room, mask, write, coming
            )
            if fade <= 0.0:
                fade = 0.0
                late = coming
        out_left_v[n] = clamp(gain * heard_left_v, -RAIL_V, RAIL_V)
        out_right_v[n] = clamp(gain * heard_right_v, -RAIL_V, RAIL_V)
        write = (write + 1) & mask
    state[WRITE] = write
    state[GATE_HIGH] = high
    state[SPEED] = speed
    state[LATE] = late
    state[COMING] = coming
    state[FADE] = fade


def prepare(setting: Setting) -> Any:
    """Start running, with room for what a stop and a start leave behind."""
    import numpy as np

    behind_s = setting.span("stop").hi / 2.0 + setting.span("start").hi / 2.0 + FADE_S
    room = ring_size(behind_s * setting.rate_hz)
    state = np.zeros(LINES + 2 * room)
    state[ROOM] = room
    state[SPEED] = 1.0
    state[LATE] = NEAREST
    state[COMING] = NEAREST
    return state


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The sound, and the cubic's overshoot once a gate can come."""
    sides = [x.clipped(-RAIL_V, RAIL_V).including(0.0) for x in ins[:GATE_IN]]
    if ins[GATE_IN].hi < THRESHOLD_V:
        return sides
    return [between(x).clipped(-RAIL_V, RAIL_V) for x in sides]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if it ran."""
    return [x.clipped(-RAIL_V, RAIL_V) for x in ins[:GATE_IN]]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass while it runs."""
    return [ins[LEFT_IN], ins[RIGHT_IN]]


def delay(setting: Setting) -> list[Lag]:
    """Two samples while it runs; how far it falls behind is up to the gate."""
    late_s = NEAREST / setting.rate_hz
    return [Lag("left", "left", late_s, late_s), Lag("right", "right", late_s, late_s)] + [
        Lag("gate", side, is_signal=False) for side in ("left", "right")
    ]


KIND = Kind(
    name="tape-stop",
    doc=__doc__,
    inputs=(
        Port("left", "the sound"),
        Port("right", "the sound"),
        Port("gate", "stops the tape while it is high", is_control=True),
    ),
    outputs=(Port("left", "the sound off the tape"), Port("right", "the sound off the tape")),
    params=(
        Param("stop", "s", 0.02, 10.0, 1.0, "time from full speed to a halt"),
        Param("start", "s", 0.02, 10.0, 0.4, "time from a halt to full speed"),
    ),
    kernel=tape_stop,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
