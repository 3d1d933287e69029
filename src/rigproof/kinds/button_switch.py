"""Button switch: one of several inputs reaches the output, chosen by hand with a knob or a button.

`way` chooses by number; each press of `button`, from off to on, takes the next input, and the first after the last.
The change is at once and may click when sound runs through it.

Left out: bounce of the contacts, the resistance of the switch, what leaks through the open ways.

Source: definition.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.button_ways import PLACE, first_place, look_at_hand, nearest_way, reachable
from rigproof.kinds.clipping import clamp

WAY, BUTTON = 1, 2
MOST_WAYS = 8


def button_switch(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Pass the input that is chosen."""
    look_at_hand(state, params[WAY, 0], params[BUTTON, 0], ins.shape[0])
    in_v, out_v = bus_v[ins[int(state[PLACE])], start:stop], bus_v[outs[0], start:stop]
    for n in range(stop - start):
        out_v[n] = clamp(in_v[n], -RAIL_V, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Whatever one of the inputs that the hand can choose may be."""
    chosen = reachable(setting)
    whole = ins[chosen[0]]
    for way in chosen:
        whole = whole.hull(ins[way])
    return [whole.clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The input where the knob stands."""
    return [ins[int(nearest_way(setting["way"], setting.ways))].clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The pulses of the input where the knob stands."""
    return [ins[int(nearest_way(setting["way"], setting.ways))]]


KIND = Kind(
    name="button-switch",
    doc=__doc__,
    inputs=(Port("in", "one of the ways", many=True),),
    outputs=(Port("out", "the input that is chosen"),),
    params=(
        Param("way", "steps", 1.0, float(MOST_WAYS), 1.0, "number of the input"),
        Param("button", "ratio", 0.0, 1.0, 0.0, "a press takes the next", ("off", "on")),
    ),
    kernel=button_switch,
    prepare=first_place,
    interval=interval,
    level=level,
    rate=rate,
    ways=(2, MOST_WAYS, 2),
)
