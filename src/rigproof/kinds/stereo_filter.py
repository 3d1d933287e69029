"""Stereo filter: a matched pair of two-pole filters moved together, low pass, band pass, high pass or notch.

Both sides share cutoff, Q and response. `spread` pulls the cutoffs apart, the left side down and the right side up by
half of it each, so that a sweep wanders across. The band pass has gain 1 at its middle, whatever its Q.

Linear until an output reaches its rail. Left out: the mismatch of a real pair, distortion below the rails. The band is
squeezed towards half the sample rate; the cutoff stops at 0.45 of the rate, the Q at 50.

Source: H(s) = 1, s / Q, s^2 or s^2 + 1 over s^2 + s / Q + 1, by the bilinear transform (textbook material).
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
    Lag,
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

RESPONSE, CUTOFF_HZ, CUTOFF_DEPTH, SPREAD, Q, Q_DEPTH = 1, 2, 3, 4, 5, 6
LEFT_IN, RIGHT_IN, CUTOFF_IN, Q_IN = 0, 1, 2, 3
LEFT_KEPT, RIGHT_KEPT, KEPT = 4, 7, 3
"""State: two integrators a side, then what `write_gains_at` keeps of each."""

LN_2 = math.log(2.0)
RESPONSES = ("low-pass", "band-pass", "high-pass", "notch")
LOW, BAND, HIGH, NOTCH = 0, 1, 2, 3
STEERED = ("cutoff", "q")


def stereo_filter(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Work out cutoff and Q once a sample, then solve both sides."""
    rate_hz = params[RATE_HZ, 0]
    left_v, right_v = bus_v[ins[LEFT_IN], start:stop], bus_v[ins[RIGHT_IN], start:stop]
    cutoff_v, q_v = bus_v[ins[CUTOFF_IN], start:stop], bus_v[ins[Q_IN], start:stop]
    out_left_v, out_right_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    # The output is a sum of the three, each counted or not.
    response = int(clamp(params[RESPONSE, 0], 0.0, 3.0) + 0.5)
    low_share = 1.0 if response in (LOW, NOTCH) else 0.0
    high_share = 1.0 if response in (HIGH, NOTCH) else 0.0
    band_share = 1.0 if response == BAND else 0.0
    apart = exp(0.5 * LN_2 * params[SPREAD, 0])
    hz_step, depth_step = params[CUTOFF_HZ, 1], params[CUTOFF_DEPTH, 1]
    q_step, q_depth_step = params[Q, 1], params[Q_DEPTH, 1]
    hz_0 = params[CUTOFF_HZ, 0] + start * hz_step
    depth_0 = params[CUTOFF_DEPTH, 0] + start * depth_step
    q_0 = params[Q, 0] + start * q_step
    q_depth_0 = params[Q_DEPTH, 0] + start * q_depth_step
    left_1, left_2, right_1, right_2 = state[0], state[1], state[2], state[3]
    left_gains, right_gains = out_left_v, out_right_v  # read before they are written over
    for n in range(stop - start):
        left_gains[n] = (depth_0 + n * depth_step) * clamp(cutoff_v[n], -RAIL_V, RAIL_V)
        right_gains[n] = left_gains[n]
    kept = state[LEFT_KEPT : LEFT_KEPT + KEPT]
    write_gains_at(left_gains, hz_0 / apart, hz_step / apart, rate_hz, kept)
    kept = state[RIGHT_KEPT : RIGHT_KEPT + KEPT]
    write_gains_at(right_gains, hz_0 * apart, hz_step * apart, rate_hz, kept)
    for n in range(stop - start):
        q = q_0 + n * q_step + (q_depth_0 + n * q_depth_step) * clamp(q_v[n], -RAIL_V, RAIL_V)
        k = 1.0 / clamp(q, LOWEST_Q, HIGHEST_Q)
        x = clamp(left_v[n], -RAIL_V, RAIL_V)
        low_v, band_v, high_v, left_1, left_2 = two_pole(x, left_1, left_2, left_gains[n], k)
        v = low_share * low_v + band_share * k * band_v + high_share * high_v
        out_left_v[n] = clamp(v, -RAIL_V, RAIL_V)
        x = clamp(right_v[n], -RAIL_V, RAIL_V)
        low_v, band_v, high_v, right_1, right_2 = two_pole(x, right_1, right_2, right_gains[n], k)
        v = low_share * low_v + band_share * k * band_v + high_share * high_v
        out_right_v[n] = clamp(v, -RAIL_V, RAIL_V)
    state[0] = settle(left_1)
    state[1] = settle(left_2)
    state[2] = settle(right_1)
    state[3] = settle(right_2)


def prepare(setting: Setting) -> list[float]:
    """Start at rest; the gains are worked out at the first sample, as no cutoff is 0."""
    return [0.0] * (RIGHT_KEPT + KEPT)


def _side(source: Span, octaves: float, q: float, setting: Setting) -> Span:
    """Return what one side can reach with all at rest."""
    at_q = min(max(q, LOWEST_Q), HIGHEST_Q)
    cutoff_hz = setting["cutoff"] * exp(LN_2 * octaves)
    spans = two_pole_spans(source, cutoff_hz, at_q, setting.rate_hz)
    if spans is None:
        return Span(-RAIL_V, RAIL_V)
    response = round(setting["response"])
    passed = spans[response].scaled(1.0 / at_q if response == BAND else 1.0)
    return passed.clipped(-RAIL_V, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Nothing from nothing; with all at rest what the impulse response allows; else the rails."""
    octaves = ins[CUTOFF_IN].clipped(-RAIL_V, RAIL_V) * setting.span("cutoff-depth")
    q = setting.span("q") + ins[Q_IN].clipped(-RAIL_V, RAIL_V) * setting.span("q-depth")
    settings = [setting.span(name) for name in ("cutoff", "response", "spread")]
    still = octaves.is_point and q.is_point and all(span.is_point for span in settings)
    found = []
    for source, way in ((ins[LEFT_IN], -0.5), (ins[RIGHT_IN], 0.5)):
        heard = source.clipped(-RAIL_V, RAIL_V)
        if heard == ZERO:
            found.append(ZERO)
        elif still:
            found.append(_side(heard, octaves.lo + way * setting["spread"], q.lo, setting))
        else:
            found.append(Span(-RAIL_V, RAIL_V))
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound lay where the filter passes; the steady part comes through low pass and notch only."""
    spans = interval([Span(x.lo_v, x.hi_v) for x in ins], setting)
    found = []
    for side in (LEFT_IN, RIGHT_IN):
        source = ins[side].clipped(-RAIL_V, RAIL_V)
        if round(setting["response"]) in (BAND, HIGH):
            source = source.scaled(1.0, -source.dc_v)
        found.append(source.clipped(spans[side].lo, spans[side].hi))
    return found


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Slow pulses pass low pass and notch, rounded."""
    if round(setting["response"]) in (BAND, HIGH):
        return [Pulse(), Pulse()]
    return [ins[LEFT_IN], ins[RIGHT_IN]]


def delay(setting: Setting) -> list[Lag]:
    """At once, each side for itself."""
    return [Lag("left", "left"), Lag("right", "right")] + [
        Lag(steering, side, is_signal=False) for steering in STEERED for side in ("left", "right")
    ]


KIND = Kind(
    name="stereo-filter",
    doc=__doc__,
    inputs=(
        Port("left", "the left sound"),
        Port("right", "the right sound"),
        Port("cutoff", "`cutoff-depth` octaves a volt, both sides", is_control=True),
        Port("q", "adds `q-depth` to Q for each volt, both sides", is_control=True),
    ),
    outputs=(Port("left", "the left sound, filtered"), Port("right", "the right sound, filtered")),
    params=(
        Param("response", "ratio", 0.0, 3.0, 0.0, "what passes", RESPONSES),
        Param("cutoff", "Hz", 10.0, 20_000.0, 1000.0, "cutoff at 0 V"),
        Param("cutoff-depth", "octaves", -2.0, 2.0, 1.0, "octaves for each volt at `cutoff`"),
        Param("spread", "octaves", -4.0, 4.0, 0.0, "from the left cutoff to the right"),
        Param("q", "ratio", LOWEST_Q, HIGHEST_Q, math.sqrt(0.5), "resonance; 0.707 has no peak"),
        Param("q-depth", "ratio", -10.0, 10.0, 1.0, "added to Q for each volt at `q`"),
    ),
    kernel=stereo_filter,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
