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
from rigproof.kinds.limits import within

DECAY_S, COLOUR, MIX, SIZE, PRE_DELAY_S = 1, 2, 3, 4, 5
LEFT_IN, RIGHT_IN, HOLD_IN = 0, 1, 2

LINES = 8
LINE_S = (0.02215, 0.02623, 0.02985, 0.03327, 0.03702, 0.0406, 0.04435, 0.04785)
"""Lengths of the lines at size 1; each becomes the next prime number of samples. Our choice. [s]"""
DIFFUSER_S = ((0.00479, 0.00171), (0.00523, 0.00157))
"""Lengths of the all-passes of each side. Our choice. [s]"""
DIFFUSION = 0.6
WRITE_MASK = (1 << 30) - 1
"""Where the common write place begins anew; every memory is a divisor of it."""
ROOT_8 = math.sqrt(8.0)
NEPER_60_DB = math.log(1000.0)
LIMIT_V = 4.0 * RAIL_V
THRESHOLD_V = 1.0
"""Hold is high from here up. Common practice, no source. [V]"""

HOLD_HIGH, LAST_DECAY, LAST_COLOUR, LOUDNESS, WRITE, LINE_MASK, DIFFUSER_MASK, PRE_MASK = range(8)
"""The three masks are the sizes of the memories less one, in frames; the write place is common to all."""
LENGTH, GAIN, PULL, LOW, OUT = 8, 16, 24, 32, 40
"""Of each line: samples; gain and pull of its low pass and what that holds; what came out."""
SHORT, WAIT = 48, 52
"""Samples of the four all-passes, and of the pre-delay."""
MEMORY = 53
"""Frames of eight lines, behind them frames of four all-passes, behind them frames of two pre-delays."""
DIFFUSERS = 4


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


def diffused(state: Any, here: int, late: int, x: float) -> float:
    """Return a sample behind an all-pass, (z^-D - g) / (1 - g z^-D): it writes at `here` and reads at `late`."""
    late_v = state[late]
    v = x + DIFFUSION * late_v
    state[here] = settle(v)
    return float(late_v - DIFFUSION * v)


def fed(mixed_v: float, fed_v: float) -> float:
    """Return what a line takes in: its share of all lines, whose power is kept, and of the sound."""
    return settle(within(mixed_v / ROOT_8 + fed_v, LIMIT_V))


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
    line_mask, diffuser_mask = int(state[LINE_MASK]), int(state[DIFFUSER_MASK])
    pre_mask, wait = int(state[PRE_MASK]), int(state[WAIT])
    diffusers = MEMORY + LINES * (line_mask + 1)
    pres = diffusers + DIFFUSERS * (diffuser_mask + 1)
    short_0, short_1 = int(state[SHORT]), int(state[SHORT + 1])
    short_2, short_3 = int(state[SHORT + 2]), int(state[SHORT + 3])
    mix_step = params[MIX, 1]
    mix_0 = params[MIX, 0] + start * mix_step
    held = state[HOLD_HIGH]
    write = int(state[WRITE])
    for n in range(stop - start):
        held = schmitt(hold_v[n], held, THRESHOLD_V)
        dry_left_v = clamp(left_v[n], -RAIL_V, RAIL_V)
        dry_right_v = clamp(right_v[n], -RAIL_V, RAIL_V)
        here = pres + 2 * (write & pre_mask)
        state[here], state[here + 1] = settle(dry_left_v), settle(dry_right_v)
        late = pres + 2 * ((write - wait) & pre_mask)
        here = diffusers + DIFFUSERS * (write & diffuser_mask)
        late_0 = diffusers + DIFFUSERS * ((write - short_0) & diffuser_mask)
        late_1 = diffusers + DIFFUSERS * ((write - short_1) & diffuser_mask) + 1
        late_2 = diffusers + DIFFUSERS * ((write - short_2) & diffuser_mask) + 2
        late_3 = diffusers + DIFFUSERS * ((write - short_3) & diffuser_mask) + 3
        fed_left_v = diffused(state, here + 1, late_1, diffused(state, here, late_0, state[late]))
        fed_right_v = diffused(
            state, here + 3, late_3, diffused(state, here + 2, late_2, state[late + 1])
        )
        fed_left_v *= 0.5 * (1.0 - held)
        fed_right_v *= 0.5 * (1.0 - held)
        for i in range(LINES):
            frame = (write - int(state[LENGTH + i])) & line_mask
            v = state[MEMORY + LINES * frame + i]
            low_v = v + state[PULL + i] * (state[LOW + i] - v)
            state[LOW + i] = low_v
            state[OUT + i] = v if held > 0.0 else state[GAIN + i] * low_v
        a0, a1, a2, a3 = state[OUT], state[OUT + 1], state[OUT + 2], state[OUT + 3]
        a4, a5, a6, a7 = state[OUT + 4], state[OUT + 5], state[OUT + 6], state[OUT + 7]
        wet_left_v = clamp(loudness * (a0 - a2 + a4 - a6), -RAIL_V, RAIL_V)
        wet_right_v = clamp(loudness * (a1 - a3 + a5 - a7), -RAIL_V, RAIL_V)
        # Hadamard's matrix of eight rows: three rounds of sums and differences.
        b0, b1, b2, b3 = a0 + a1, a0 - a1, a2 + a3, a2 - a3
        b4, b5, b6, b7 = a4 + a5, a4 - a5, a6 + a7, a6 - a7
        a0, a2, a1, a3 = b0 + b2, b0 - b2, b1 + b3, b1 - b3
        a4, a6, a5, a7 = b4 + b6, b4 - b6, b5 + b7, b5 - b7
        here = MEMORY + LINES * (write & line_mask)
        state[here], state[here + 4] = fed(a0 + a4, fed_left_v), fed(a0 - a4, fed_left_v)
        state[here + 1], state[here + 5] = fed(a1 + a5, fed_right_v), fed(a1 - a5, fed_right_v)
        state[here + 2], state[here + 6] = fed(a2 + a6, fed_left_v), fed(a2 - a6, fed_left_v)
        state[here + 3], state[here + 7] = fed(a3 + a7, fed_right_v), fed(a3 - a7, fed_right_v)
        write = (write + 1) & WRITE_MASK
        mix = mix_0 + n * mix_step
        out_left_v[n] = (1.0 - mix) * dry_left_v + mix * wet_left_v
        out_right_v[n] = (1.0 - mix) * dry_right_v + mix * wet_right_v
    for i in range(LINES):
        state[LOW + i] = settle(state[LOW + i])
        state[OUT + i] = 0.0
    state[HOLD_HIGH] = held
    state[WRITE] = write


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
    wait = _wait(setting)
    frames = [1 << longest.bit_length() for longest in (max(lines), max(shorts), wait)]
    state = np.zeros(MEMORY + LINES * frames[0] + DIFFUSERS * frames[1] + 2 * frames[2])
    state[LINE_MASK : PRE_MASK + 1] = [size - 1 for size in frames]
    state[LENGTH : LENGTH + LINES] = lines
    state[SHORT : SHORT + DIFFUSERS] = shorts
    state[WAIT] = wait
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
