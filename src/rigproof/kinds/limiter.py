"""Limiter: a stereo sound never passes `ceiling`, both sides turned down alike and in time.

The sound waits for `look-ahead`, so that the gain can be down before a peak comes: it is the lowest gain that any
sample of the wait needs, let go with the time constant `release`, averaged over the wait. So no peak needs to be
clipped. Without look-ahead the gain drops at once, which distorts. `drive` turns the sound up first; it is followed
once a block of 64 samples. The look-ahead counts from the start; it does not move.

Peaks between two samples can pass the ceiling behind a converter; leave half a decibel for them.

Left out: a true-peak meter inside, the character of analogue limiters.

Source: a mean of minima is no higher than the least that its middle needs, as every window of the wait holds that
sample (arithmetic); the scheme is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, floor
from typing import Any

from rigproof.kinds.base import RAIL_V, RATE_HZ, Kind, Lag, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.units import ratio_from_db

CEILING_V, DRIVE_DB, RELEASE_S, LOOK_AHEAD_S = 1, 2, 3, 4
LEFT_IN, RIGHT_IN = 0, 1
WAIT, ROOM, WRITE, HELD, SUM, FIRST, COUNT = 0, 1, 2, 3, 4, 5, 6
RINGS = 7
"""Behind this: the left sound, the right sound, the gains being averaged, the minima still to come and their places."""
NEPER_PER_DB = math.log(10.0) / 20.0
GRAIN = 1073741824.0
"""Gains are whole numbers of 2^-30, so that adding and taking away thousands of them leaves no rest."""


def limiter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Work out the gain a wait ahead, average it, turn the waiting sound down."""
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    drive = exp(NEPER_PER_DB * params[DRIVE_DB, 0])
    let_go = 1.0 - exp(-1.0 / (params[RELEASE_S, 0] * params[RATE_HZ, 0]))
    ceiling_step = params[CEILING_V, 1]
    ceiling_0 = params[CEILING_V, 0] + start * ceiling_step
    wait, room = int(state[WAIT]), int(state[ROOM])
    mask = room - 1
    lefts, rights, gains = RINGS, RINGS + room, RINGS + 2 * room
    minima, places = RINGS + 3 * room, RINGS + 4 * room
    write, first, count = int(state[WRITE]), int(state[FIRST]), int(state[COUNT])
    held, total = state[HELD], state[SUM]
    for n in range(stop - start):
        ceiling_v = ceiling_0 + n * ceiling_step
        left = drive * clamp(left_v[n], -RAIL_V, RAIL_V)
        right = drive * clamp(right_v[n], -RAIL_V, RAIL_V)
        peak_v = max(abs(left), abs(right))
        needed = 1.0
        if peak_v > ceiling_v:
            needed = floor(ceiling_v / peak_v * GRAIN) / GRAIN
        # The least over the wait: a queue of ever higher minima, the oldest first.
        while count > 0 and state[minima + ((first + count - 1) & mask)] >= needed:
            count -= 1
        state[minima + ((first + count) & mask)] = needed
        state[places + ((first + count) & mask)] = write
        count += 1
        if (write - int(state[places + first])) & mask > wait:
            first = (first + 1) & mask
            count -= 1
        least = state[minima + first]
        held = least if least < held else held + let_go * (least - held)
        held = least if least - held < 1.0 / GRAIN else held
        gain = floor(held * GRAIN) / GRAIN
        total += gain - state[gains + ((write - wait - 1) & mask)]
        state[gains + write] = gain
        state[lefts + write] = left
        state[rights + write] = right
        mean = total / (wait + 1)
        heard = (write - wait) & mask
        out_left_v[n] = clamp(mean * state[lefts + heard], -ceiling_v, ceiling_v)
        out_right_v[n] = clamp(mean * state[rights + heard], -ceiling_v, ceiling_v)
        write = (write + 1) & mask
    state[WRITE] = write
    state[FIRST] = first
    state[COUNT] = count
    state[HELD] = held
    state[SUM] = total


def _wait(setting: Setting) -> int:
    """Return the look-ahead in whole samples."""
    return math.floor(setting["look-ahead"] * setting.rate_hz + 0.5)


def prepare(setting: Setting) -> Any:
    """Start wide open with silence waiting."""
    import numpy as np

    wait = _wait(setting)
    room = 1 << (wait + 3).bit_length()
    state = np.zeros(RINGS + 5 * room)
    state[WAIT] = wait
    state[ROOM] = room
    state[HELD] = 1.0
    state[SUM] = wait + 1
    state[RINGS + 2 * room : RINGS + 3 * room] = 1.0
    return state


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Between silence and the driven sound, never beyond the ceiling."""
    ceiling_v = setting.span("ceiling").hi
    drive = ratio_from_db(setting.span("drive").hi) * (1.0 + 1e-12)  # for the rounding of a power
    driven = [x.clipped(-RAIL_V, RAIL_V).including(0.0).scaled(drive) for x in ins]
    return [x.clipped(-ceiling_v, ceiling_v) for x in driven]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the gain stood where the louder side's peak needs it."""
    drive, ceiling_v = ratio_from_db(setting["drive"]), setting["ceiling"]
    driven = [x.clipped(-RAIL_V, RAIL_V).scaled(drive) for x in ins]
    peak_v = max(x.peak_v for x in driven)
    gain = min(1.0, ceiling_v / peak_v) if peak_v > 0.0 else 1.0
    return [x.scaled(gain).clipped(-ceiling_v, ceiling_v) for x in driven]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, later."""
    return [ins[LEFT_IN], ins[RIGHT_IN]]


def delay(setting: Setting) -> list[Lag]:
    """The look-ahead, each side for itself."""
    late_s = _wait(setting) / setting.rate_hz
    return [Lag(side, side, late_s, late_s) for side in ("left", "right")]


KIND = Kind(
    name="limiter",
    doc=__doc__,
    inputs=(Port("left", "the sound"), Port("right", "the sound")),
    outputs=(Port("left", "the sound, held down"), Port("right", "the sound, held down")),
    params=(
        Param("ceiling", "V", 0.1, RAIL_V, 5.0, "what no sample passes"),
        Param("drive", "dB", 0.0, 24.0, 0.0, "gain in front"),
        Param("release", "s", 0.001, 2.0, 0.1, "time constant of letting go"),
        Param("look-ahead", "s", 0.0, 0.01, 0.002, "how long the sound waits"),
    ),
    kernel=limiter,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
