"""Sallen-Key filter: two poles round one amplifier, low pass or high pass, 12 dB an octave.

Built with an amplifier of gain 1 (`unity`), the pass band has gain 1 and Q follows from unequal parts. Built with equal
parts (`equal-parts`), Q is 1 / (3 - K) for an amplifier of gain K, and the pass band is louder by K: +3.5 dB at Q 0.5,
+9.5 dB as K nears 3, where it would sing by itself. `part_values` gives the cutoff and Q of parts on paper.

Left out: the amplifier's own limits, which let the highest frequencies leak through a real low pass again; distortion
below the rails. The band is squeezed towards half the sample rate; the cutoff stops at 0.45 of the rate, the Q at 50.

Source: R. P. Sallen and E. L. Key, A Practical Method of Designing RC Active Filters, IRE Trans. Circuit Theory 2(1),
1955 (from memory); w0 = 1 / sqrt(R1 R2 C1 C2), Q = sqrt(R1 R2 C1 C2) / (C2 (R1 + R2)) for gain 1, and 1 / (3 - K) for
equal parts, follow from the circuit. H(s) = K or K s^2 over s^2 + s / Q + 1, by the bilinear transform (textbook).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import (
    RAIL_V,
    RATE_HZ,
    ZERO,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp, settle
from rigproof.kinds.prewarp import write_gains_at
from rigproof.kinds.two_pole import HIGHEST_Q, LOWEST_Q, two_pole, two_pole_spans

RESPONSE, BUILD, CUTOFF_HZ, CUTOFF_DEPTH, Q, Q_DEPTH = 1, 2, 3, 4, 5, 6
SIGNAL_IN, CUTOFF_IN, Q_IN = 0, 1, 2
FIRST_V, SECOND_V, LAST_HZ, LAST_OCTAVES, GAIN = 0, 1, 2, 3, 4

LN_2 = math.log(2.0)


def part_values(r1_ohm: float, r2_ohm: float, c1_f: float, c2_f: float) -> tuple[float, float]:
    """Return cutoff [Hz] and Q of a low pass with an amplifier of gain 1, `c1_f` [F] being the feedback capacitor.

    >>> [round(x, 5) for x in part_values(10e3, 10e3, 22e-9, 10e-9)]
    [1073.02241, 0.74162]
    """
    root = math.sqrt(r1_ohm * r2_ohm * c1_f * c2_f)
    return 1.0 / (2.0 * math.pi * root), root / (c2_f * (r1_ohm + r2_ohm))


def equal_parts_gain(q: float) -> float:
    """Return the amplifier's gain that gives the Q with equal parts."""
    return 3.0 - 1.0 / q


def sallen_key_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Solve the two poles for each sample; scale by the amplifier's gain."""
    rate_hz = params[RATE_HZ, 0]
    in_v, cutoff_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[CUTOFF_IN], start:stop]
    q_v, out_v = bus_v[ins[Q_IN], start:stop], bus_v[outs[0], start:stop]
    is_high = params[RESPONSE, 0] > 0.5
    is_equal = params[BUILD, 0] > 0.5
    hz_step, depth_step = params[CUTOFF_HZ, 1], params[CUTOFF_DEPTH, 1]
    q_step, q_depth_step = params[Q, 1], params[Q_DEPTH, 1]
    hz_0 = params[CUTOFF_HZ, 0] + start * hz_step
    depth_0 = params[CUTOFF_DEPTH, 0] + start * depth_step
    q_0 = params[Q, 0] + start * q_step
    q_depth_0 = params[Q_DEPTH, 0] + start * q_depth_step
    first_v, second_v = state[FIRST_V], state[SECOND_V]
    gains = out_v  # read before it is written over
    for n in range(stop - start):
        gains[n] = (depth_0 + n * depth_step) * clamp(cutoff_v[n], -RAIL_V, RAIL_V)
    write_gains_at(gains, hz_0, hz_step, rate_hz, state[LAST_HZ : GAIN + 1])
    for n in range(stop - start):
        g = gains[n]
        q = q_0 + n * q_step + (q_depth_0 + n * q_depth_step) * clamp(q_v[n], -RAIL_V, RAIL_V)
        k = 1.0 / clamp(q, LOWEST_Q, HIGHEST_Q)
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        low_v, _, high_v, first_v, second_v = two_pole(x, first_v, second_v, g, k)
        v = high_v if is_high else low_v
        v = v * (3.0 - k) if is_equal else v
        out_v[n] = clamp(v, -RAIL_V, RAIL_V)
    state[FIRST_V] = settle(first_v)
    state[SECOND_V] = settle(second_v)


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the gain is worked out at the first sample, as no cutoff is 0."""
    return [0.0] * (GAIN + 1)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing; with all at rest what the impulse response allows; else the rails."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    if source == ZERO:
        return [ZERO]
    rails = [Span(-RAIL_V, RAIL_V)]
    octaves = ins[CUTOFF_IN].clipped(-RAIL_V, RAIL_V) * setting.span("cutoff-depth")
    q = setting.span("q") + ins[Q_IN].clipped(-RAIL_V, RAIL_V) * setting.span("q-depth")
    settings = [setting.span(name) for name in ("cutoff", "response", "build")]
    if not (octaves.is_point and q.is_point and all(span.is_point for span in settings)):
        return rails
    at_q = min(max(q.lo, LOWEST_Q), HIGHEST_Q)
    cutoff_hz = setting["cutoff"] * exp(LN_2 * octaves.lo)
    spans = two_pole_spans(source, cutoff_hz, at_q, setting.rate_hz)
    if spans is None:
        return rails
    low, _, high, _ = spans
    passed = high if setting["response"] > 0.5 else low
    gain = equal_parts_gain(at_q) if setting["build"] > 0.5 else 1.0
    return [passed.scaled(gain).clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound lay in the pass band; the steady part comes through the low pass only."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    q = setting["q"] + setting["q-depth"] * min(max(ins[Q_IN].dc_v, -RAIL_V), RAIL_V)
    at_q = min(max(q, LOWEST_Q), HIGHEST_Q)
    gain = equal_parts_gain(at_q) if round(setting["build"]) == 1 else 1.0
    passed = source.scaled(1.0, -source.dc_v) if round(setting["response"]) == 1 else source
    [span] = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    return [passed.scaled(gain).clipped(span.lo, span.hi)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Slow pulses pass the low pass, rounded."""
    return [Pulse() if round(setting["response"]) == 1 else ins[SIGNAL_IN]]


KIND = Kind(
    name="sallen-key-filter",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("cutoff", "`cutoff-depth` octaves a volt", is_control=True),
        Port("q", "adds `q-depth` to Q for each volt", is_control=True),
    ),
    outputs=(Port("out", "what lies below the cutoff, or above"),),
    params=(
        Param("response", "ratio", 0.0, 1.0, 0.0, "what passes", ("low-pass", "high-pass")),
        Param("build", "ratio", 0.0, 1.0, 0.0, "how Q is made", ("unity", "equal-parts")),
        Param("cutoff", "Hz", 10.0, 20_000.0, 1000.0, "cutoff at 0 V"),
        Param("cutoff-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `cutoff`"),
        Param("q", "ratio", LOWEST_Q, HIGHEST_Q, math.sqrt(0.5), "resonance; 0.707 has no peak"),
        Param("q-depth", "ratio", -10.0, 10.0, 1.0, "added to Q for each volt at `q`"),
    ),
    kernel=sallen_key_filter,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
