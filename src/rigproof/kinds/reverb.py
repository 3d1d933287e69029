"""Reverb: a stereo room of eight delay lines that feed each other and die away evenly.

Each side passes two short all-passes, then four lines; what comes out of all eight goes back in through a matrix that
keeps its power, turned down just so much that the sound falls by 60 dB in `decay` seconds. `colour` says how much
sooner the highest frequencies die: at 1 all alike, at 0.5 in half the time at half the sample rate, and in between by
the line's low pass (`decay_s_at`). `size` stretches the lines, 22 to 48 ms at 1; it counts from the start, as does
`pre-delay`. Steady noise comes out as loud as it goes in, whatever the decay.

While `hold` is high nothing new comes in and nothing dies. The lines stop at 44 V, the outputs at the rails.

Left out: first reflections of a real room, the air, moving lines.

Source: lines with absorbent low passes and a lossless matrix: J.-M. Jot and A. Chaigne, Digital Delay Networks for
Designing Artificial Reverberators, AES 90th Convention (1991); Hadamard's matrix: rows at right angles (J. Hadamard,
1893); all-passes: M. R. Schroeder, JAES 10(3), 1962 (all from memory; tests measure decay and power).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, sqrt
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
    RATE_HZ,
    ZERO,
    Kind,
    Lag,
    Level,
    Param,
    Port,
    Setting,
    Span,
    mixed,
)
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.edges import schmitt

DECAY_S, COLOUR, MIX, SIZE, PRE_DELAY_S = 1, 2, 3, 4, 5
LEFT_IN, RIGHT_IN, HOLD_IN = 0, 1, 2

LINES = 8
LINE_S = (0.02215, 0.02623, 0.02985, 0.03327, 0.03702, 0.0406, 0.04435, 0.04785)
"""Lengths of the lines at size 1; each becomes the next prime number of samples. Our choice. [s]"""
DIFFUSER_S = ((0.00479, 0.00171), (0.00523, 0.00157))
"""Lengths of the all-passes of each side. Our choice. [s]"""
DIFFUSION = 0.6
ROOT_8 = math.sqrt(8.0)
NEPER_60_DB = math.log(1000.0)
LIMIT_V = 4.0 * RAIL_V
THRESHOLD_V = 1.0
"""Hold is high from here up. Common practice, no source. [V]"""

HOLD_HIGH, LAST_DECAY, LAST_COLOUR, LOUDNESS = 0, 1, 2, 3
LENGTH, PLACE, START = 4, 12, 20
GAIN, PULL, LOW, OUT = 28, 36, 44, 52
"""Of each line: samples, place, where it starts; gain and pull of its low pass and what that holds; what came out."""
SHORT_LENGTH, SHORT_PLACE, SHORT_START = 60, 66, 72
"""The same of the four all-passes and the two pre-delays."""
MEMORY = 78


def decay_s_at(
    hz: float, decay_s: float, colour: float, line_s: float, rate_hz: float = 48_000.0
) -> float:
    """Return the time in which a line lets a frequency fall by 60 dB. [s]"""
    gain, pull = absorption(line_s, decay_s, colour)
    turn = 2.0 * math.pi * hz / rate_hz
    # |1 - pull e^-jw|^2
    size = 1.0 - 2.0 * pull * math.cos(turn) + pull * pull
    return -line_s * NEPER_60_DB / math.log(gain * (1.0 - pull) / math.sqrt(size))


def absorption(line_s: float, decay_s: float, colour: float) -> tuple[float, float]:
    """Return gain and pull of a line's low pass: gain (1 - pull) / (1 - pull z^-1)."""
    gain = exp(-NEPER_60_DB * line_s / decay_s)
    high = exp(-NEPER_60_DB * line_s / decay_s * (1.0 / colour - 1.0))
    return gain, (1.0 - high) / (1.0 + high)


def diffused(state: Any, i: int, x: float) -> float:
    """Return a sample behind all-pass `i`: (z^-D - g) / (1 - g z^-D)."""
    place = int(state[SHORT_PLACE + i])
    here = int(state[SHORT_START + i]) + place
    late_v = state[here]
    v = x + DIFFUSION * late_v
    state[here] = settle(clamp(v, -LIMIT_V, LIMIT_V))
    place += 1
    state[SHORT_PLACE + i] = 0.0 if place >= int(state[SHORT_LENGTH + i]) else float(place)
    return float(late_v - DIFFUSION * v)


def delayed(state: Any, i: int, x: float) -> float:
    """Return a sample behind pre-delay `i`."""
    length = int(state[SHORT_LENGTH + i])
    if length == 0:
        return x
    place = int(state[SHORT_PLACE + i])
    here = int(state[SHORT_START + i]) + place
    late_v = state[here]
    state[here] = settle(x)
    place += 1
    state[SHORT_PLACE + i] = 0.0 if place >= length else float(place)
    return float(late_v)


def reverb(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Read all lines, mix them by the matrix, write them, and listen to four a side."""
    rate_hz = params[RATE_HZ, 0]
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    hold_v = bus_v[ins[HOLD_IN], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    if params[DECAY_S, 0] != state[LAST_DECAY] or params[COLOUR, 0] != state[LAST_COLOUR]:
        state[LAST_DECAY] = params[DECAY_S, 0]
        state[LAST_COLOUR] = params[COLOUR, 0]
        power = 0.0
        for i in range(LINES):
            gain, pull = absorption(
                state[LENGTH + i] / rate_hz, params[DECAY_S, 0], params[COLOUR, 0]
            )
            state[GAIN + i] = gain
            state[PULL + i] = pull
            power += gain * gain / LINES
        state[LOUDNESS] = sqrt((1.0 - power) / power)
    loudness = state[LOUDNESS]
    mix_step = params[MIX, 1]
    mix_0 = params[MIX, 0] + start * mix_step
    held = state[HOLD_HIGH]
    for n in range(stop - start):
        held = schmitt(hold_v[n], held, THRESHOLD_V)
        dry_left_v = clamp(left_v[n], -RAIL_V, RAIL_V)
        dry_right_v = clamp(right_v[n], -RAIL_V, RAIL_V)
        fed_left_v = diffused(state, 1, diffused(state, 0, delayed(state, 4, dry_left_v)))
        fed_right_v = diffused(state, 3, diffused(state, 2, delayed(state, 5, dry_right_v)))
        fed_left_v *= 0.5 * (1.0 - held)
        fed_right_v *= 0.5 * (1.0 - held)
        for i in range(LINES):
            v = state[int(state[START + i]) + int(state[PLACE + i])]
            low_v = settle(v + state[PULL + i] * (state[LOW + i] - v))
            state[LOW + i] = low_v
            state[OUT + i] = v if held > 0.0 else state[GAIN + i] * low_v
        a0, a1 = state[OUT], state[OUT + 1]
        a2, a3 = state[OUT + 2], state[OUT + 3]
        a4, a5 = state[OUT + 4], state[OUT + 5]
        a6, a7 = state[OUT + 6], state[OUT + 7]
        wet_left_v = loudness * (a0 - a2 + a4 - a6)
        wet_right_v = loudness * (a1 - a3 + a5 - a7)
        # Hadamard's matrix of eight rows: three rounds of sums and differences.
        b0, b1, b2, b3 = a0 + a1, a0 - a1, a2 + a3, a2 - a3
        b4, b5, b6, b7 = a4 + a5, a4 - a5, a6 + a7, a6 - a7
        a0, a2, a1, a3 = b0 + b2, b0 - b2, b1 + b3, b1 - b3
        a4, a6, a5, a7 = b4 + b6, b4 - b6, b5 + b7, b5 - b7
        state[OUT], state[OUT + 4] = a0 + a4, a0 - a4
        state[OUT + 1], state[OUT + 5] = a1 + a5, a1 - a5
        state[OUT + 2], state[OUT + 6] = a2 + a6, a2 - a6
        state[OUT + 3], state[OUT + 7] = a3 + a7, a3 - a7
        for i in range(LINES):
            place = int(state[PLACE + i])
            fed_v = fed_left_v if i % 2 == 0 else fed_right_v
            v = clamp(state[OUT + i] / ROOT_8 + fed_v, -LIMIT_V, LIMIT_V)
            state[int(state[START + i]) + place] = settle(v)
            place += 1
            state[PLACE + i] = 0.0 if place >= int(state[LENGTH + i]) else float(place)
        mix = mix_0 + n * mix_step
        wet_left_v = clamp(wet_left_v, -RAIL_V, RAIL_V)
        wet_right_v = clamp(wet_right_v, -RAIL_V, RAIL_V)
        out_left_v[n] = (1.0 - mix) * dry_left_v + mix * wet_left_v
        out_right_v[n] = (1.0 - mix) * dry_right_v + mix * wet_right_v
    for i in range(LINES):
        state[OUT + i] = 0.0
    state[HOLD_HIGH] = held


def _prime_from(samples: float) -> int:
    """Return the first prime number of samples from here up, 2 at least."""
    n = max(2, round(samples))
    while any(n % d == 0 for d in range(2, math.isqrt(n) + 1)):
        n += 1
    return n


def line_samples(setting: Setting) -> tuple[int, ...]:
    """Return the lengths of the eight lines, all different primes."""
    return tuple(_prime_from(s * setting["size"] * setting.rate_hz) for s in LINE_S)


def _wait(setting: Setting) -> int:
    return round(setting["pre-delay"] * setting.rate_hz)


def prepare(setting: Setting) -> Any:
    """Start in silence, all lines as long as the size makes them."""
    import numpy as np

    lines = line_samples(setting)
    shorts = [_prime_from(s * setting.rate_hz) for side in DIFFUSER_S for s in side]
    shorts += [_wait(setting)] * 2
    state = np.zeros(MEMORY + sum(lines) + sum(shorts))
    at = MEMORY
    for lengths, length_slot, start_slot in (
        (lines, LENGTH, START),
        (shorts, SHORT_LENGTH, SHORT_START),
    ):
        for i, length in enumerate(lengths):
            state[length_slot + i] = length
            state[start_slot + i] = at
            at += length
    return state


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Silence from silence; else dry and the rails by the mix, as echoes can pile up."""
    sides = [x.clipped(-RAIL_V, RAIL_V) for x in ins[:HOLD_IN]]
    wet = ZERO if sides == [ZERO, ZERO] else Span(-RAIL_V, RAIL_V)
    mix = setting.span("mix")
    found = []
    for dry in sides:
        ends = [dry.scaled(1.0 - share) + wet.scaled(share) for share in (mix.lo, mix.hi)]
        found.append(ends[0].hull(ends[1]))
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Wet noise is as loud as both sides' mean power; its peaks are taken as those of Gaussian noise, 12 dB up."""
    sides = [x.clipped(-RAIL_V, RAIL_V) for x in ins[:HOLD_IN]]
    mix = setting["mix"]
    rms_v = math.sqrt(sum(x.rms_v**2 for x in sides) / 2.0)
    wet = Level.swing(4.0 * rms_v, crest_ratio=4.0).clipped(-RAIL_V, RAIL_V)
    spans = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    return [
        mixed([dry.scaled(1.0 - mix), wet.scaled(mix)]).clipped(span.lo, span.hi)
        for dry, span in zip(sides, spans, strict=True)
    ]


def delay(setting: Setting) -> list[Lag]:
    """From the dry sound to the first of the room: the pre-delay and the shortest line that a side listens to."""
    mix = setting.span("mix")
    first_s = (_wait(setting) + min(line_samples(setting))) / setting.rate_hz
    found = []
    for source in ("left", "right"):
        for target in ("left", "right"):
            own = source == target
            lo_s = 0.0 if own and mix.lo < 1.0 else first_s
            hi_s = first_s if mix.hi > 0.0 or not own else 0.0
            found.append(Lag(source, target, lo_s, hi_s))
    return found + [Lag("hold", target, is_signal=False) for target in ("left", "right")]


KIND = Kind(
    name="reverb",
    doc=__doc__,
    inputs=(
        Port("left", "the sound"),
        Port("right", "the sound"),
        Port("hold", "while high, nothing new comes in and nothing dies", is_control=True),
    ),
    outputs=(Port("left", "dry and room"), Port("right", "dry and room")),
    params=(
        Param("decay", "s", 0.1, 60.0, 2.0, "time in which the room falls by 60 dB"),
        Param("colour", "ratio", 0.1, 1.0, 0.5, "how long the highest last, of the decay"),
        Param("mix", "ratio", 0.0, 1.0, 0.3, "0 is dry, 1 only the room"),
        Param("size", "ratio", 0.2, 3.0, 1.0, "length of the lines; counts from the start"),
        Param("pre-delay", "s", 0.0, 0.25, 0.01, "before the room begins; counts from the start"),
    ),
    kernel=reverb,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
