"""Balanced output: one channel on two legs, for a line that takes no hum. `level` is the gain between the legs.

Symmetrical: each leg carries half of it, the cold one upside down, so that the legs together reach twice the rails, and
one leg alone is 6.020600 dB down. Impedance-balanced: the hot leg carries all of it, the cold one stands at 0 V behind
the same resistance, so that the hot leg alone is as loud as both. `across` is what a balanced input takes: hot less
cold; it can be twice as high as the rails, so give its jack a clamp of 22 V. Wire `hot` for an unbalanced cable.

Left out: what happens when a cable grounds the cold leg of a symmetrical output (some circuits then raise the hot leg
by 6 dB, others clip or run hot), common-mode noise, output transformers.

Caution: hearing. A symmetrical output at full swing is 15 dB above line level and more: turn down before you plug in.

Source: one leg of a symmetrical output is half of the voltage between both, 20 log10(1/2) = -6.020600 dB (definition).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp

LEVEL, CIRCUIT, MUTE = 1, 2, 3
CIRCUITS = ("symmetrical", "impedance-balanced")


def balanced_output(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Drive both legs; the level glides, the switches switch."""
    in_v = bus_v[ins[0], start:stop]
    hot_v, cold_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    across_v = bus_v[outs[2], start:stop]
    is_single = params[CIRCUIT, 0] >= 0.5
    leg = 1.0 if is_single else 0.5
    cold = 0.0 if is_single else -1.0
    if params[MUTE, 0] >= 0.5:
        leg = 0.0
    step = leg * params[LEVEL, 1]
    gain = leg * params[LEVEL, 0] + start * step
    for n in range(stop - start):
        driven_v = clamp((gain + n * step) * clamp(in_v[n], -RAIL_V, RAIL_V), -RAIL_V, RAIL_V)
        hot_v[n] = driven_v
        cold_v[n] = cold * driven_v
        across_v[n] = driven_v - cold * driven_v


def _circuits(setting: Setting) -> list[tuple[float, float]]:
    """Return the gain of a leg and what the cold one makes of it, for every circuit the switch can stand at."""
    switch = setting.span("circuit")
    found = [(0.5, -1.0)] if switch.lo < 0.5 else []
    return found + ([(1.0, 0.0)] if switch.hi >= 0.5 else [])


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval product, then the rails of each leg; between the legs up to twice that."""
    source, mute = ins[0].clipped(-RAIL_V, RAIL_V), setting.span("mute")
    found: list[Span] = []
    for leg, cold in _circuits(setting):
        hot = (source * setting.span("level").scaled(leg)).clipped(-RAIL_V, RAIL_V)
        spans = [hot, hot.scaled(cold), hot.scaled(1.0 - cold)]
        found = [a.hull(b) for a, b in zip(found, spans, strict=True)] if found else spans
    if mute.lo >= 0.5:
        return [Span.point(0.0)] * 3
    return [span.including(0.0) for span in found] if mute.hi >= 0.5 else found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Each leg times its gain."""
    is_single = setting["circuit"] >= 0.5
    leg = 0.0 if setting["mute"] >= 0.5 else (1.0 if is_single else 0.5) * setting["level"]
    cold = 0.0 if is_single else -1.0
    hot = ins[0].clipped(-RAIL_V, RAIL_V).scaled(leg).clipped(-RAIL_V, RAIL_V)
    return [hot, hot.scaled(cold), hot.scaled(1.0 - cold)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass; those of the cold leg are upside down."""
    return [ins[0], ins[0] if setting["circuit"] < 0.5 else Pulse(), ins[0]]


KIND = Kind(
    name="balanced-output",
    doc=__doc__,
    inputs=(Port("in", "what goes out"),),
    outputs=(
        Port("hot", "the leg that follows the input"),
        Port("cold", "the other leg"),
        Port("across", "hot less cold, what a balanced input takes"),
    ),
    params=(
        Param("level", "ratio", 0.0, 4.0, 0.35, "gain from the input to between the legs"),
        Param("circuit", "ratio", 0.0, 1.0, 0.0, "how the cold leg is driven", CIRCUITS),
        Param("mute", "ratio", 0.0, 1.0, 0.0, "silences both legs", ("off", "on")),
    ),
    kernel=balanced_output,
    interval=interval,
    level=level,
    rate=rate,
)
