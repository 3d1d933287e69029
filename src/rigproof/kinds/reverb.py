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
    BLOCK,
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
from rigproof.kinds.clipping import clamp, limit, settle
from rigproof.kinds.edges import schmitt, steady_samples
from rigproof.kinds.limits import within
from rigproof.kinds.stereo_delay import blend, blended

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
"""The three masks are the sizes of the memories less one; the write place is common to all."""
LENGTH, GAIN, PULL, LOW = 8, 16, 24, 32
"""Of each line: samples; gain and pull of its low pass and what that holds."""
SHORT, WAIT, SHORTEST = 40, 44, 45
"""Samples of the four all-passes, of the pre-delay, and of the shortest of lines and all-passes."""
ROWS = 46
"""A block of what comes out of each line; zero between calls."""
MEMORY = ROWS + LINES * BLOCK
"""Memories of eight lines, behind them those of four all-passes, behind them those of two pre-delays. Behind each
stands its first block once more, so that a block can be read in one piece wherever it begins."""
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


def repeat_start(state: Any, memory: int, mask: int, place: int, count: int) -> None:
    """Keep the first block of a memory and what stands behind its end the same; `count` were written at `place`."""
    room = mask + 1
    if place < BLOCK:
        for n in range(memory + place, memory + min(place + count, BLOCK)):
            state[n + room] = state[n]
    elif place + count > room:
        for n in range(memory, memory + place + count - room):
            state[n] = state[n + room]


def delayed(out_v: Any, in_v: Any, state: Any, memory: int, mask: int, late: int) -> None:
    """Write what came in `late` samples ago; `late` may be less than a block, and 0."""
    count = out_v.shape[0]
    place = int(state[WRITE]) & mask
    to_v = state[memory + place : memory + place + count]
    for n in range(count):
        to_v[n] = settle(clamp(in_v[n], -RAIL_V, RAIL_V))
    repeat_start(state, memory, mask, place, count)
    place = memory + ((int(state[WRITE]) - late) & mask)
    from_v = state[place : place + count]
    for n in range(count):
        out_v[n] = from_v[n]


def diffuse(out_v: Any, state: Any, memory: int, mask: int, late: int) -> None:
    """Pass an all-pass in place, (z^-D - g) / (1 - g z^-D)."""
    count = out_v.shape[0]
    place = int(state[WRITE]) & mask
    to_v = state[memory + place : memory + place + count]
    late_place = memory + ((int(state[WRITE]) - late) & mask)
    late_v = state[late_place : late_place + count]
    for n in range(count):
        v = out_v[n] + DIFFUSION * late_v[n]
        out_v[n] = late_v[n] - DIFFUSION * v
        to_v[n] = settle(v)
    repeat_start(state, memory, mask, place, count)


def read_four(state: Any, first: int, count: int) -> None:
    """Write four lines, from number `first`, into their rows: absorbed, or as they are while held."""
    mask = int(state[LINE_MASK])
    size = mask + 1 + BLOCK
    write = int(state[WRITE])
    held = state[HOLD_HIGH] > 0.0
    row = ROWS + first * BLOCK
    row_0, row_1 = state[row : row + count], state[row + BLOCK : row + BLOCK + count]
    row += 2 * BLOCK
    row_2, row_3 = state[row : row + count], state[row + BLOCK : row + BLOCK + count]
    memory = MEMORY + first * size
    place = memory + ((write - int(state[LENGTH + first])) & mask)
    line_0 = state[place : place + count]
    place = memory + size + ((write - int(state[LENGTH + first + 1])) & mask)
    line_1 = state[place : place + count]
    place = memory + 2 * size + ((write - int(state[LENGTH + first + 2])) & mask)
    line_2 = state[place : place + count]
    place = memory + 3 * size + ((write - int(state[LENGTH + first + 3])) & mask)
    line_3 = state[place : place + count]
    gain_0, gain_1 = state[GAIN + first], state[GAIN + first + 1]
    gain_2, gain_3 = state[GAIN + first + 2], state[GAIN + first + 3]
    pull_0, pull_1 = state[PULL + first], state[PULL + first + 1]
    pull_2, pull_3 = state[PULL + first + 2], state[PULL + first + 3]
    low_0, low_1 = state[LOW + first], state[LOW + first + 1]
    low_2, low_3 = state[LOW + first + 2], state[LOW + first + 3]
    # Each sum waits for one product only.
    for n in range(count):
        low_0 = pull_0 * low_0 + (1.0 - pull_0) * line_0[n]
        low_1 = pull_1 * low_1 + (1.0 - pull_1) * line_1[n]
        low_2 = pull_2 * low_2 + (1.0 - pull_2) * line_2[n]
        low_3 = pull_3 * low_3 + (1.0 - pull_3) * line_3[n]
        row_0[n] = line_0[n] if held else gain_0 * low_0
        row_1[n] = line_1[n] if held else gain_1 * low_1
        row_2[n] = line_2[n] if held else gain_2 * low_2
        row_3[n] = line_3[n] if held else gain_3 * low_3
    state[LOW + first], state[LOW + first + 1] = settle(low_0), settle(low_1)
    state[LOW + first + 2], state[LOW + first + 3] = settle(low_2), settle(low_3)


def sums_and_differences(
    a0: float, a1: float, a2: float, a3: float, a4: float, a5: float, a6: float, a7: float
) -> tuple[float, float, float, float, float, float, float, float]:
    """Return Hadamard's matrix of eight rows times a vector: three rounds of sums and differences."""
    b0, b1, b2, b3 = a0 + a1, a0 - a1, a2 + a3, a2 - a3
    b4, b5, b6, b7 = a4 + a5, a4 - a5, a6 + a7, a6 - a7
    a0, a2, a1, a3 = b0 + b2, b0 - b2, b1 + b3, b1 - b3
    a4, a6, a5, a7 = b4 + b6, b4 - b6, b5 + b7, b5 - b7
    return a0 + a4, a1 + a5, a2 + a6, a3 + a7, a0 - a4, a1 - a5, a2 - a6, a3 - a7


def mix_lines(left_v: Any, right_v: Any, state: Any, loudness: float, feed: float) -> None:
    """Mix all rows by the matrix and feed them with what comes in; in its place stands then what is heard of them."""
    rows = state[ROWS:MEMORY]
    for n in range(left_v.shape[0]):
        fed_left_v, fed_right_v = feed * left_v[n], feed * right_v[n]
        a0, a1 = rows[n], rows[n + BLOCK]
        a2, a3 = rows[n + 2 * BLOCK], rows[n + 3 * BLOCK]
        a4, a5 = rows[n + 4 * BLOCK], rows[n + 5 * BLOCK]
        a6, a7 = rows[n + 6 * BLOCK], rows[n + 7 * BLOCK]
        left_v[n] = limit(loudness * (a0 - a2 + a4 - a6), -RAIL_V, RAIL_V)
        right_v[n] = limit(loudness * (a1 - a3 + a5 - a7), -RAIL_V, RAIL_V)
        a0, a1, a2, a3, a4, a5, a6, a7 = sums_and_differences(a0, a1, a2, a3, a4, a5, a6, a7)
        rows[n] = a0 / ROOT_8 + fed_left_v
        rows[n + BLOCK] = a1 / ROOT_8 + fed_right_v
        rows[n + 2 * BLOCK] = a2 / ROOT_8 + fed_left_v
        rows[n + 3 * BLOCK] = a3 / ROOT_8 + fed_right_v
        rows[n + 4 * BLOCK] = a4 / ROOT_8 + fed_left_v
        rows[n + 5 * BLOCK] = a5 / ROOT_8 + fed_right_v
        rows[n + 6 * BLOCK] = a6 / ROOT_8 + fed_left_v
        rows[n + 7 * BLOCK] = a7 / ROOT_8 + fed_right_v


def write_lines(state: Any, count: int) -> None:
    """Let every line take in its row."""
    mask = int(state[LINE_MASK])
    place = int(state[WRITE]) & mask
    for i in range(LINES):
        memory = MEMORY + i * (mask + 1 + BLOCK)
        row = state[ROWS + i * BLOCK : ROWS + i * BLOCK + count]
        to_v = state[memory + place : memory + place + count]
        for n in range(count):
            to_v[n] = settle(within(row[n], LIMIT_V))
            row[n] = 0.0
        repeat_start(state, memory, mask, place, count)


def keep(state: Any, memory: int, mask: int, write: int, value_v: float) -> None:
    """Write one sample into a memory."""
    place = write & mask
    settled_v = settle(value_v)
    state[memory + place] = settled_v
    if place < BLOCK:
        state[memory + place + mask + 1] = settled_v


def diffused(state: Any, memory: int, mask: int, write: int, late: int, x: float) -> float:
    """Return one sample behind an all-pass, as `diffuse` does."""
    late_v = state[memory + ((write - late) & mask)]
    v = x + DIFFUSION * late_v
    keep(state, memory, mask, write, v)
    return float(late_v - DIFFUSION * v)


def absorbed(state: Any, line: int, late_v: float, held: bool) -> float:
    """Return one sample of a line, as `read_four` does."""
    pull = state[PULL + line]
    low_v = pull * state[LOW + line] + (1.0 - pull) * late_v
    state[LOW + line] = settle(low_v)
    return float(late_v if held else state[GAIN + line] * low_v)


def mix_once(left_v: Any, right_v: Any, state: Any, loudness: float, feed: float) -> None:
    """Read, mix and write one sample of all lines, as `read_four`, `mix_lines` and `write_lines` do."""
    mask = int(state[LINE_MASK])
    size = mask + 1 + BLOCK
    write = int(state[WRITE])
    held = state[HOLD_HIGH] > 0.0
    fed_left_v, fed_right_v = feed * left_v[0], feed * right_v[0]
    for i in range(LINES):
        late_v = state[MEMORY + i * size + ((write - int(state[LENGTH + i])) & mask)]
        state[ROWS + i] = absorbed(state, i, late_v, held)
    a0, a1, a2, a3 = state[ROWS], state[ROWS + 1], state[ROWS + 2], state[ROWS + 3]
    a4, a5, a6, a7 = state[ROWS + 4], state[ROWS + 5], state[ROWS + 6], state[ROWS + 7]
    left_v[0] = limit(loudness * (a0 - a2 + a4 - a6), -RAIL_V, RAIL_V)
    right_v[0] = limit(loudness * (a1 - a3 + a5 - a7), -RAIL_V, RAIL_V)
    mixed_v = sums_and_differences(a0, a1, a2, a3, a4, a5, a6, a7)
    for i in range(LINES):
        fed_v = mixed_v[i] / ROOT_8 + (fed_left_v if i % 2 == 0 else fed_right_v)
        keep(state, MEMORY + i * size, mask, write, within(fed_v, LIMIT_V))
        state[ROWS + i] = 0.0


def tune(params: Any, state: Any) -> None:
    """Work out the lines' low passes for a decay and a colour."""
    state[LAST_DECAY] = params[DECAY_S, 0]
    state[LAST_COLOUR] = params[COLOUR, 0]
    power = 0.0
    for i in range(LINES):
        line_s = state[LENGTH + i] / params[RATE_HZ, 0]
        gain, pull = absorption(line_s, params[DECAY_S, 0], params[COLOUR, 0])
        state[GAIN + i] = gain
        state[PULL + i] = pull
        power += gain * gain / LINES
    state[LOUDNESS] = sqrt((1.0 - power) / power)


def reverb(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Read all lines, mix them by the matrix, write them, and listen to four a side."""
    if params[DECAY_S, 0] != state[LAST_DECAY] or params[COLOUR, 0] != state[LAST_COLOUR]:
        tune(params, state)
    hold_v = bus_v[ins[HOLD_IN]]
    line_mask, diffuser_mask = int(state[LINE_MASK]), int(state[DIFFUSER_MASK])
    pre_mask, wait = int(state[PRE_MASK]), int(state[WAIT])
    diffusers = MEMORY + LINES * (line_mask + 1 + BLOCK)
    diffuser_size = diffuser_mask + 1 + BLOCK
    pres = diffusers + DIFFUSERS * diffuser_size
    mix_step = params[MIX, 1]
    at = start
    while at < stop:
        state[HOLD_HIGH] = schmitt(hold_v[at], state[HOLD_HIGH], THRESHOLD_V)
        count = stop - at
        if count > 1:
            count = 1 + steady_samples(hold_v[at + 1 : stop], state[HOLD_HIGH], THRESHOLD_V)
            count = min(count, int(state[SHORTEST]))
        end = at + count
        left_v, right_v = bus_v[outs[0], at:end], bus_v[outs[1], at:end]
        feed = 0.5 * (1.0 - state[HOLD_HIGH])
        write = int(state[WRITE])
        for side in range(2):
            out_v, in_v = bus_v[outs[side], at:end], bus_v[ins[side], at:end]
            memory = pres + side * (pre_mask + 1 + BLOCK)
            first = diffusers + 2 * side * diffuser_size
            second = first + diffuser_size
            first_late, second_late = int(state[SHORT + 2 * side]), int(state[SHORT + 2 * side + 1])
            if count == 1:  # in a loop of cables: no long way round
                keep(state, memory, pre_mask, write, clamp(in_v[0], -RAIL_V, RAIL_V))
                late_v = state[memory + ((write - wait) & pre_mask)]
                late_v = diffused(state, first, diffuser_mask, write, first_late, late_v)
                out_v[0] = diffused(state, second, diffuser_mask, write, second_late, late_v)
            else:
                delayed(out_v, in_v, state, memory, pre_mask, wait)
                diffuse(out_v, state, first, diffuser_mask, first_late)
                diffuse(out_v, state, second, diffuser_mask, second_late)
        in_left_v, in_right_v = bus_v[ins[LEFT_IN], at:end], bus_v[ins[RIGHT_IN], at:end]
        mix_0 = params[MIX, 0] + at * mix_step
        if count == 1:
            mix_once(left_v, right_v, state, state[LOUDNESS], feed)
            left_v[0] = blended(left_v[0], in_left_v[0], mix_0)
            right_v[0] = blended(right_v[0], in_right_v[0], mix_0)
        else:
            for first in range(0, LINES, 4):
                read_four(state, first, count)
            mix_lines(left_v, right_v, state, state[LOUDNESS], feed)
            write_lines(state, count)
            blend(left_v, in_left_v, mix_0, mix_step)
            blend(right_v, in_right_v, mix_0, mix_step)
        state[WRITE] = float((write + count) & WRITE_MASK)
        at = end


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
    rooms = [1 << (longest + BLOCK).bit_length() for longest in (max(lines), max(shorts), wait)]
    counts = (LINES, DIFFUSERS, 2)
    state = np.zeros(
        MEMORY + sum(n * (room + BLOCK) for n, room in zip(counts, rooms, strict=True))
    )
    state[LINE_MASK : PRE_MASK + 1] = [room - 1 for room in rooms]
    state[SHORTEST] = min(*lines, *shorts)
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
