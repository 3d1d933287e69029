"""Pitch shifter: two readers of a short memory run faster or slower than it is written, and take turns.

Each reader crosses the `window` and jumps back at its end, unheard, while the other sounds; the two are cross-faded by
the square of a sine. Every frequency is multiplied by 2^(semitones / 12), and by an octave for each volt at `pitch`
(`pitch-depth` octaves a volt), three octaves up or down at the most. With nothing to shift the sound is half a window
late.

Where the readers meet out of phase a tone wavers, twice a window at an octave up: a longer window wavers less often and
smears beats more. Left out: following the pitch to hide the joints; shifted up, what lands above half the sample rate
folds back.

Source: a moving delay multiplies frequency by 1 - d tau / dt (definition of phase); two cross-faded readers are common
practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    BLOCK,
    RAIL_V,
    RATE_HZ,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Setting,
    Span,
    mixed,
)
from rigproof.kinds.clipping import clamp, limit, settle
from rigproof.kinds.delay_line import MOST_MASK, NEAREST, between, read_line, ring_size
from rigproof.kinds.elementary import two_to
from rigproof.kinds.waves import sine_of_turn

SEMITONES, DEPTH, WINDOW_S, MIX = 1, 2, 3, 4
SIGNAL_IN, PITCH_IN = 0, 1
ROOM, WRITE, TURN = 0, 1, 2
LINE = 3

MOST_OCTAVES = 3.0
MOST_WINDOW_S = 0.2


def pitch_shifter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Write what comes in, move both readers, cross-fade them."""
    rate_hz = params[RATE_HZ, 0]
    in_v, pitch_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[PITCH_IN], start:stop]
    out_v = bus_v[outs[0], start:stop]
    semitones_step, depth_step = params[SEMITONES, 1], params[DEPTH, 1]
    window_step, mix_step = params[WINDOW_S, 1], params[MIX, 1]
    semitones_0 = params[SEMITONES, 0] + start * semitones_step
    depth_0 = params[DEPTH, 0] + start * depth_step
    window_0 = rate_hz * (params[WINDOW_S, 0] + start * window_step)
    mix_0 = params[MIX, 0] + start * mix_step
    window_step *= rate_hz
    mask = (int(state[ROOM]) - 1) & MOST_MASK
    write = int(state[WRITE])
    turn = state[TURN]
    speeds = out_v  # read before it is written over
    line = state[LINE : LINE + mask + 1]
    for n in range(stop - start):
        octaves = (semitones_0 + n * semitones_step) * (1.0 / 12.0)
        octaves += (depth_0 + n * depth_step) * clamp(pitch_v[n], -RAIL_V, RAIL_V)
        speeds[n] = two_to(limit(octaves, -MOST_OCTAVES, MOST_OCTAVES))
    # Readers lie behind what is written here, so all of it can be written first.
    for n in range(stop - start):
        line[(write + n) & mask] = settle(clamp(in_v[n], -RAIL_V, RAIL_V))
    for n in range(stop - start):
        window = window_0 + n * window_step
        turn += (1.0 - speeds[n]) / window
        turn = turn - 1.0 if turn >= 1.0 else turn
        turn = turn + 1.0 if turn < 0.0 else turn
        other = turn + 0.5 if turn < 0.5 else turn - 0.5
        share = sine_of_turn(0.5 * turn)
        share *= share
        wet_v = share * read_line(line, 0, mask, write + n, NEAREST + turn * window)
        wet_v += (1.0 - share) * read_line(line, 0, mask, write + n, NEAREST + other * window)
        mix = mix_0 + n * mix_step
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        out_v[n] = limit((1.0 - mix) * x + mix * wet_v, -RAIL_V, RAIL_V)
    state[WRITE] = (write + stop - start) & mask
    state[TURN] = turn


def prepare(setting: Setting) -> Any:
    """Start with an empty memory and one reader in the middle of the window."""
    import numpy as np

    room = ring_size(setting.rate_hz * MOST_WINDOW_S + BLOCK)
    state = np.zeros(LINE + room)
    state[ROOM] = room
    state[TURN] = 0.5
    return state


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Dry and wet by the mix; a cross-fade of two readers leaves no more than one does, with the cubic's overshoot."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    wet = between(source.including(0.0))
    mix = setting.span("mix")
    ends = [source.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
    return [ends[0].hull(ends[1]).clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Shifted and dry are unlike, and so are the two readers: on average three quarters of the power are left."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    mix = setting["mix"]
    share = math.sqrt(0.75) if _moves(Span.point(ins[PITCH_IN].dc_v), setting) else 1.0
    wet = Level(source.lo_v, source.hi_v, source.dc_v, source.rms_v * share).hit_like(source, 1.0)
    return [mixed([source.scaled(1.0 - mix), wet.scaled(mix)]).clipped(-RAIL_V, RAIL_V)]


def _moves(pitch: Span, setting: Setting) -> bool:
    """Return whether the readers ever move."""
    by_cv = pitch.clipped(-RAIL_V, RAIL_V) * setting.span("pitch-depth")
    return setting.span("semitones").scaled(1.0 / 12.0) + by_cv != Span.point(0.0)


def delay(setting: Setting) -> list[Lag]:
    """Anything within the window, or half of it when nothing is shifted; dry sound comes at once."""
    window, mix = setting.span("window"), setting.span("mix")
    near_s = NEAREST / setting.rate_hz
    if _moves(Span.point(0.0), setting):
        wet = Span(near_s, near_s + window.hi)
    else:
        wet = Span(near_s + window.lo / 2.0, near_s + window.hi / 2.0)
    lo_s = 0.0 if mix.lo < 1.0 else wet.lo
    hi_s = wet.hi if mix.hi > 0.0 else 0.0
    return [Lag("in", "out", lo_s, hi_s), Lag("pitch", "out", is_signal=False)]


KIND = Kind(
    name="pitch-shifter",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("pitch", "`pitch-depth` octaves a volt", is_control=True),
    ),
    outputs=(Port("out", "the sound, shifted"),),
    params=(
        Param("semitones", "semitones", -36.0, 36.0, 0.0, "shift at 0 V"),
        Param("pitch-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `pitch`"),
        Param("window", "s", 0.005, MOST_WINDOW_S, 0.06, "what a reader crosses"),
        Param("mix", "ratio", 0.0, 1.0, 1.0, "0 is dry, 1 only shifted"),
    ),
    kernel=pitch_shifter,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
