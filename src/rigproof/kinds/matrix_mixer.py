"""Matrix mixer: any number of inputs, each with a gain to each of four outputs. DC-coupled, stops at the rails.

The gain from input 2 to output 3 is `to-3-2`; a gain below 0 turns the signal upside down. An output patched back to
an input is a loop: with a gain of one round it, it runs to the rails. More outputs take a second matrix beside the
first. Left out: crosstalk, noise, the bend just below the rails.

Source: inverting summing amplifier (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Setting, Span, mixed
from rigproof.kinds.clipping import clamp

OUTPUTS = 4
MASTER, GAIN = 1, 1 + OUTPUTS


def matrix_mixer(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Add up the inputs for each output; every gain glides."""
    ways = ins.shape[0]
    for o in range(OUTPUTS):
        out_v = bus_v[outs[o], start:stop]
        for n in range(stop - start):
            out_v[n] = 0.0
        for i in range(ways):
            step = params[GAIN + o * ways + i, 1]
            gain = params[GAIN + o * ways + i, 0] + start * step
            if gain == 0.0 and step == 0.0:
                continue
            in_v = bus_v[ins[i], start:stop]
            for n in range(stop - start):
                out_v[n] += (gain + n * step) * clamp(in_v[n], -RAIL_V, RAIL_V)
        step = params[MASTER + o, 1]
        master = params[MASTER + o, 0] + start * step
        for n in range(stop - start):
            out_v[n] = clamp((master + n * step) * out_v[n], -RAIL_V, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval sum and product, then the rails."""
    found = []
    for o in range(1, OUTPUTS + 1):
        total = Span.point(0.0)
        for span, gain in zip(ins, setting.all_spans(f"to-{o}"), strict=True):
            total = total + span.clipped(-RAIL_V, RAIL_V) * gain
        found.append((total * setting.span(f"master-{o}")).clipped(-RAIL_V, RAIL_V))
    return found


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Unlike signals add by power."""
    found = []
    for o in range(1, OUTPUTS + 1):
        gains = setting.all_values(f"to-{o}")
        parts = [x.clipped(-RAIL_V, RAIL_V).scaled(g) for x, g in zip(ins, gains, strict=True)]
        found.append(mixed(parts).scaled(setting[f"master-{o}"]).clipped(-RAIL_V, RAIL_V))
    return found


KIND = Kind(
    name="matrix-mixer",
    doc=__doc__,
    inputs=(Port("in", "what is mixed", many=True),),
    outputs=tuple(Port(f"out-{o}", f"sum {o}") for o in range(1, OUTPUTS + 1)),
    params=(
        *(
            Param(f"master-{o}", "ratio", 0.0, 4.0, 1.0, f"gain of output {o}")
            for o in range(1, OUTPUTS + 1)
        ),
        *(
            Param(f"to-{o}", "ratio", -2.0, 2.0, 0.0, f"from one input to output {o}", many=True)
            for o in range(1, OUTPUTS + 1)
        ),
    ),
    kernel=matrix_mixer,
    interval=interval,
    level=level,
    ways=(1, 16, 4),
)
