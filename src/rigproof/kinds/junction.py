"""Junction: outputs and inputs that meet at one jack, mult or stacked plug, solved as one node by Ohm's law.

Every output is a voltage behind its output resistance and stops at its rail clamp; every input is a resistance to
ground. The node is V = sum(Vi/Ri) / (sum 1/Rout + sum 1/Rin). The net works out the weights (1/Ri) / sum, so that
the kernel is a clamp and a weighted sum. Left out: the capacitance of cables (530 kHz for 3 m behind 1 kohm).

Source: nodal analysis, Kirchhoff's current law (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import Kind, Level, Param, Port, Pulse, Setting, Span, mixed
from rigproof.kinds.clipping import clamp


def junction(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Add up the clamped outputs, each times its weight."""
    ways = ins.shape[0]
    out_v = bus_v[outs[0], start:stop]
    for i in range(ways):
        in_v = bus_v[ins[i], start:stop]
        weight = params[1 + i, 0]
        lo = params[1 + ways + i, 0]
        hi = params[1 + 2 * ways + i, 0]
        if i == 0:
            for n in range(stop - start):
                out_v[n] = weight * clamp(in_v[n], lo, hi)
        else:
            for n in range(stop - start):
                out_v[n] += weight * clamp(in_v[n], lo, hi)


def _limits(setting: Setting) -> list[tuple[float, float, float]]:
    return list(
        zip(
            setting.all_values("weight"),
            setting.all_values("lo"),
            setting.all_values("hi"),
            strict=True,
        )
    )


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Weighted sum of the clamped inputs."""
    total = Span.point(0.0)
    for span, (weight, lo, hi) in zip(ins, _limits(setting), strict=True):
        total = total + span.clipped(lo, hi).scaled(weight)
    return [total]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Weighted sum of unlike signals."""
    return [
        mixed(
            [
                x.clipped(lo, hi).scaled(w)
                for x, (w, lo, hi) in zip(ins, _limits(setting), strict=True)
            ]
        )
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One output passes its pulses on; what several make together nobody can say."""
    beating = [p for p in ins if p.beat.value != "none"]
    if not beating:
        return [Pulse()]
    return [beating[0] if len(beating) == 1 else Pulse(type(beating[0].beat).IRREGULAR)]


KIND = Kind(
    name="junction",
    doc=__doc__,
    inputs=(Port("in", "an output's voltage before its resistance", many=True),),
    outputs=(Port("out", "the voltage of the node"),),
    params=(
        Param(
            "weight", "ratio", 0.0, 1.0, 1.0, "share of the output in the node's voltage", many=True
        ),
        Param("lo", "V", -100.0, 100.0, -11.0, "low rail clamp of the output", many=True),
        Param("hi", "V", -100.0, 100.0, 11.0, "high rail clamp of the output", many=True),
    ),
    kernel=junction,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 256, 1),
    is_internal=True,
)
