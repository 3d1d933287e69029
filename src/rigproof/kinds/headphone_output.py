"""Headphone output: a stereo amplifier with one knob, its source resistance, and the phones that load it.

The amplifier stops at `swing`; the phones then see the share load / (load + source) of its voltage. What comes out is
the voltage at the phones. The power in them is the RMS voltage squared, over the load: 1 V in 32 ohm is 31.25 mW.

Left out: the phones' resistance that changes with frequency, the amplifier's current limit, noise.

Caution: hearing. How loud a voltage is depends on the phones; 1 V can be over 120 dB in sensitive ones. Turn down
before you put them on, unplug or patch, and keep to the safe-listening times of the World Health Organization.

Source: voltage divider, power in a resistance (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1); typical
resistances and swing are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.line_output import delay, rate

LEVEL, MUTE, SWING_V, SOURCE_OHM, LOAD_OHM = 1, 2, 3, 4, 5


def headphone_output(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Multiply, stop at the swing, divide; the level glides, the rest stands still."""
    step = params[LEVEL, 1]
    gain = params[LEVEL, 0] + start * step
    if params[MUTE, 0] >= 0.5:
        gain = 0.0
        step = 0.0
    swing_v = params[SWING_V, 0]
    share = params[LOAD_OHM, 0] / (params[LOAD_OHM, 0] + params[SOURCE_OHM, 0])
    for side in range(2):
        in_v, out_v = bus_v[ins[side], start:stop], bus_v[outs[side], start:stop]
        for n in range(stop - start):
            driven_v = (gain + n * step) * clamp(in_v[n], -RAIL_V, RAIL_V)
            out_v[n] = share * clamp(driven_v, -swing_v, swing_v)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval product, the swing, the divider."""
    gain, mute = setting.span("level"), setting.span("mute")
    if mute.lo >= 0.5:
        gain = Span.point(0.0)
    elif mute.hi >= 0.5:
        gain = gain.including(0.0)
    swing = setting.span("swing")
    load, source = setting.span("load"), setting.span("source")
    share = Span(load.lo / (load.lo + source.hi), load.hi / (load.hi + source.lo))
    found = []
    for span in ins:
        driven = span.clipped(-RAIL_V, RAIL_V) * gain
        held = driven.clipped(-swing.hi, swing.hi).hull(driven.clipped(-swing.lo, swing.lo))
        found.append(held * share)
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Each side times the gain, the swing, the divider."""
    gain = 0.0 if setting["mute"] >= 0.5 else setting["level"]
    swing_v = setting["swing"]
    share = setting["load"] / (setting["load"] + setting["source"])
    return [
        x.clipped(-RAIL_V, RAIL_V).scaled(gain).clipped(-swing_v, swing_v).scaled(share)
        for x in ins
    ]


KIND = Kind(
    name="headphone-output",
    doc=__doc__,
    inputs=(Port("in-left", "left at module level"), Port("in-right", "right at module level")),
    outputs=(Port("out-left", "left at the phones"), Port("out-right", "right at the phones")),
    params=(
        Param("level", "ratio", 0.0, 4.0, 0.1, "gain of both sides"),
        Param("mute", "ratio", 0.0, 1.0, 0.0, "silences both sides", ("off", "on")),
        Param("swing", "V", 0.5, 11.0, 5.0, "where the amplifier stops"),
        Param("source", "ohm", 0.0, 500.0, 10.0, "resistance of the output"),
        Param("load", "ohm", 8.0, 1000.0, 32.0, "resistance of the phones"),
    ),
    kernel=headphone_output,
    interval=interval,
    level=level,
    rate=rate,
    delay=delay,
)
