"""Voltage switch: one of several inputs reaches the output, chosen by a voltage and a knob.

`offset` is added to `select`; the sum from 0 V to `full-scale` is divided evenly among the inputs, below it is the
first, above the last. A way is left when the voltage is a tenth of a way past its edge, so that noise does not chatter.
The change is at once and may click when sound runs through it.

Left out: the resistance of the switch, what leaks through the open ways.

Source: definition; the tenth is our choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    RAIL_V,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.pan_laws import averaged
from rigproof.kinds.voltage_ways import way_of, ways_of_level, ways_of_span

OFFSET_V, FULL_V = 1, 2
SELECT_IN, FIRST_IN = 0, 1
PLACE = 0


def voltage_switch(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Find the way of every sample; pass the input that is chosen."""
    ways = ins.shape[0] - FIRST_IN
    select_v, out_v = bus_v[ins[SELECT_IN], start:stop], bus_v[outs[0], start:stop]
    offset_step, full_step = params[OFFSET_V, 1], params[FULL_V, 1]
    offset_v = params[OFFSET_V, 0] + start * offset_step
    full_v = params[FULL_V, 0] + start * full_step
    place = state[PLACE]
    for n in range(stop - start):
        steer_v = clamp(select_v[n], -RAIL_V, RAIL_V) + offset_v + n * offset_step
        place = way_of(steer_v, full_v + n * full_step, ways, place)
        out_v[n] = clamp(bus_v[ins[FIRST_IN + int(place)], start + n], -RAIL_V, RAIL_V)
    state[PLACE] = place


def prepare(setting: Setting) -> list[float]:
    """Nothing chosen yet."""
    return [-1.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Whatever one of the inputs that the voltage can choose may be."""
    steer = ins[SELECT_IN].clipped(-RAIL_V, RAIL_V) + setting.span("offset")
    chosen = ways_of_span(steer, setting.span("full-scale"), setting.ways)
    whole = ins[FIRST_IN + chosen[0]]
    for way in chosen:
        whole = whole.hull(ins[FIRST_IN + way])
    return [whole.clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Every input for as long as the voltage chooses it."""
    steer = ins[SELECT_IN].clipped(-RAIL_V, RAIL_V).scaled(1.0, setting["offset"])
    chosen = ways_of_level(steer, setting, setting["full-scale"])
    return [averaged([ins[FIRST_IN + way] for way in chosen]).clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The same pulses where all inputs have the same, else nobody can say."""
    heard = ins[FIRST_IN:]
    return [heard[0] if all(pulse == heard[0] for pulse in heard) else IRREGULAR]


KIND = Kind(
    name="voltage-switch",
    doc=__doc__,
    inputs=(
        Port("select", "the voltage that chooses", is_control=True),
        Port("in", "one of the ways", many=True),
    ),
    outputs=(Port("out", "the input that is chosen"),),
    params=(
        Param("offset", "V", -10.0, 10.0, 0.0, "added to the voltage that chooses"),
        Param("full-scale", "V", 1.0, 10.0, 5.0, "voltage above which it is the last"),
    ),
    kernel=voltage_switch,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(2, 8, 4),
)
