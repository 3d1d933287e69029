"""Line output: the way out of the case, from module level to line level, in stereo.

A pair of gains with one knob and a mute, on the case's supply, so it stops at the rails. 5 V of peak at `level` 0.347
is the professional +4 dBu, at 0.0894 the consumer -10 dBV. Left out: the balanced pair (both legs carry the voltage
between them that is said here), noise, the mute's fade.

Caution: hearing. Turn down before you plug in, mute or change cables, and keep to the safe-listening times of the
World Health Organization; a module's full swing is 9 dB above line level and more.

Source: 0 dBu = 0.7746 V, +4 dBu = 1.2277 V and -10 dBV = 0.3162 V RMS (line-level practice); 5 V peak of a sine is
+13.19 dBu (definition).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Lag, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp

LEVEL, MUTE = 1, 2


def line_output(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Multiply both sides; the level glides, the mute switches."""
    step = params[LEVEL, 1]
    gain = params[LEVEL, 0] + start * step
    if params[MUTE, 0] >= 0.5:
        gain = 0.0
        step = 0.0
    for side in range(2):
        in_v, out_v = bus_v[ins[side], start:stop], bus_v[outs[side], start:stop]
        for n in range(stop - start):
            passed_v = (gain + n * step) * clamp(in_v[n], -RAIL_V, RAIL_V)
            out_v[n] = clamp(passed_v, -RAIL_V, RAIL_V)


def _gains(setting: Setting) -> Span:
    gain, mute = setting.span("level"), setting.span("mute")
    if mute.lo >= 0.5:
        return Span.point(0.0)
    return gain.including(0.0) if mute.hi >= 0.5 else gain


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval product, then the rails."""
    gain = _gains(setting)
    return [(x.clipped(-RAIL_V, RAIL_V) * gain).clipped(-RAIL_V, RAIL_V) for x in ins]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Each side times the gain."""
    gain = 0.0 if setting["mute"] >= 0.5 else setting["level"]
    return [x.clipped(-RAIL_V, RAIL_V).scaled(gain).clipped(-RAIL_V, RAIL_V) for x in ins]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Pulses pass."""
    return list(ins)


def delay(setting: Setting) -> list[Lag]:
    """Each side at once, and no side from the other."""
    return [Lag("in-left", "out-left"), Lag("in-right", "out-right")]


KIND = Kind(
    name="line-output",
    doc=__doc__,
    inputs=(Port("in-left", "left at module level"), Port("in-right", "right at module level")),
    outputs=(Port("out-left", "left at line level"), Port("out-right", "right at line level")),
    params=(
        Param("level", "ratio", 0.0, 4.0, 0.35, "gain of both sides"),
        Param("mute", "ratio", 0.0, 1.0, 0.0, "silences both sides", ("off", "on")),
    ),
    kernel=line_output,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
