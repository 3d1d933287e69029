"""Converter: how a computer in the case takes a voltage: a buffer late, rounded to bits, no further than full scale.

It stands on both sides of a host's wall: once on the way in, once on the way out. The delay is whole samples; `bits` of
0 leaves the voltage as it is. Left out: the filters of the converters, their noise beyond rounding, clock jitter.

Source: rounding to 2^N steps between the ends of full scale; SNR of a full-scale sine 6.020600 N + 1.760913 dB
(W. R. Bennett, Spectra of Quantized Signals, Bell Syst. Tech. J. 27, 1948, from memory; the figure is tested).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor
from typing import Any

from rigproof.kinds.base import RATE_HZ, Kind, Lag, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp

DELAY_S, FULL_V, BITS = 1, 2, 3
PLACE, MEMORY = 0, 1
LONGEST_S = 0.1


def delay_samples(delay_s: float, rate_hz: float) -> int:
    """Return the delay in whole samples."""
    return floor(min(delay_s, LONGEST_S) * rate_hz + 0.5)


def converter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Round and stop, write to the buffer, read what was written a delay ago."""
    full_v = params[FULL_V, 0]
    bits = floor(params[BITS, 0] + 0.5)
    step_v = 2.0 * full_v / 2.0**bits
    late = delay_samples(params[DELAY_S, 0], params[RATE_HZ, 0])
    in_v = bus_v[ins[0], start:stop]
    out_v = bus_v[outs[0], start:stop]
    memory_v = state[MEMORY:]
    length = memory_v.shape[0]
    place = int(state[PLACE])
    for n in range(stop - start):
        value_v = clamp(in_v[n], -full_v, full_v)
        if bits > 0:
            value_v = min(floor(value_v / step_v + 0.5) * step_v, full_v - step_v)
        memory_v[place] = value_v
        back = place - late
        if back < 0:
            back += length
        out_v[n] = memory_v[back]
        place += 1
        if place == length:
            place = 0
    state[PLACE] = place


def prepare(setting: Setting) -> list[float]:
    """Start with an empty buffer that holds the longest delay."""
    return [0.0] * (MEMORY + delay_samples(LONGEST_S, setting.rate_hz) + 1)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Full scale, never beyond it; rounding moves a voltage by half a step at most, and the buffer starts at 0 V."""
    full_v = setting.span("full-scale").hi
    bits = setting.span("bits")
    half_step_v = 0.0 if bits.hi == 0.0 else full_v / 2.0 ** max(1.0, bits.lo)
    held = ins[0].clipped(-full_v, full_v).widened(half_step_v)
    return [held.clipped(-full_v, full_v).including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The same, stopped at full scale."""
    full_v = setting["full-scale"]
    return [ins[0].clipped(-full_v, full_v)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass, later."""
    return [ins[0]]


def delay(setting: Setting) -> list[Lag]:
    """The buffer, in whole samples."""
    spans = setting.span("delay")
    ends = [delay_samples(s, setting.rate_hz) / setting.rate_hz for s in (spans.lo, spans.hi)]
    return [Lag("in", "out", ends[0], ends[1])]


KIND = Kind(
    name="converter",
    doc=__doc__,
    inputs=(Port("in", "the voltage to convert"),),
    outputs=(Port("out", "the same, late and rounded"),),
    params=(
        Param("delay", "s", 0.0, LONGEST_S, 0.001, "how late it comes out"),
        Param("full-scale", "V", 0.1, 20.0, 10.0, "highest voltage it can tell"),
        Param("bits", "steps", 0.0, 32.0, 24.0, "bits of a sample; 0 does not round"),
    ),
    kernel=converter,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
