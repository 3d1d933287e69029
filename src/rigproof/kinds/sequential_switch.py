"""Sequential switch: one of several inputs reaches the output, the next one at each rise of `advance`.

`reset` goes back to the first input, also when it comes with an advance. `steps` says how many inputs take part, from
the first; 0 is all. The change is at once and may click when sound runs through it, as in life.

Left out: the resistance of the switch, what leaks through the open ways.

Source: definition; threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import IRREGULAR, RAIL_V, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
from rigproof.kinds.pan_laws import averaged

STEPS = 1
ADVANCE_IN, RESET_IN, FIRST_IN = 0, 1, 2
ADVANCE_HIGH, RESET_HIGH, PLACE = 0, 1, 2
THRESHOLD_V = 1.0
"""Advance and reset are high from here up. Common practice, no source. [V]"""


def inputs_used(steps: float, ways: int) -> int:
    """Return how many inputs take part."""
    wanted = int(steps + 0.5)
    return min(wanted, ways) if wanted >= 1 else ways


def sequential_switch(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Move on at a rise; pass the input that is chosen."""
    used = inputs_used(params[STEPS, 0], ins.shape[0] - FIRST_IN)
    for n in range(start, stop):
        advance = schmitt(bus_v[ins[ADVANCE_IN], n], state[ADVANCE_HIGH], THRESHOLD_V)
        reset = schmitt(bus_v[ins[RESET_IN], n], state[RESET_HIGH], THRESHOLD_V)
        place = int(state[PLACE])
        if advance > state[ADVANCE_HIGH]:
            place += 1
        if place >= used or reset > state[RESET_HIGH]:
            place = 0
        state[ADVANCE_HIGH] = advance
        state[RESET_HIGH] = reset
        state[PLACE] = float(place)
        bus_v[outs[0], n] = clamp(bus_v[ins[FIRST_IN + place], n], -RAIL_V, RAIL_V)


def prepare(setting: Setting) -> list[float]:
    """Stand at the first input."""
    return [0.0, 0.0, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Whatever one of the inputs that can take part may be."""
    steps = setting.span("steps")
    used = max(inputs_used(steps.lo, setting.ways), inputs_used(steps.hi, setting.ways))
    whole = ins[FIRST_IN]
    for span in ins[FIRST_IN : FIRST_IN + used]:
        whole = whole.hull(span)
    return [whole.clipped(-RAIL_V, RAIL_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Every input for as long as the next."""
    heard = ins[FIRST_IN : FIRST_IN + inputs_used(setting["steps"], setting.ways)]
    return [averaged(heard).clipped(-RAIL_V, RAIL_V)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The same pulses where all inputs have the same, else nobody can say."""
    heard = ins[FIRST_IN : FIRST_IN + inputs_used(setting["steps"], setting.ways)]
    return [heard[0] if all(pulse == heard[0] for pulse in heard) else IRREGULAR]


KIND = Kind(
    name="sequential-switch",
    doc=__doc__,
    inputs=(
        Port("advance", "a rise moves to the next input", is_control=True),
        Port("reset", "a rise goes back to the first", is_control=True),
        Port("in", "one of the ways", many=True),
    ),
    outputs=(Port("out", "the input that is chosen"),),
    params=(Param("steps", "steps", 0.0, 8.0, 0.0, "inputs that take part; 0 is all"),),
    kernel=sequential_switch,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(2, 8, 4),
)
