"""Signal router: one input reaches one of several outputs, the next one at each rise of `advance`.

The sequential switch the other way round. `reset` goes back to the first output, also when it comes with an advance.
`steps` says how many outputs take part, from the first; 0 is all. An output that is not chosen falls to 0 V, or with
`rest` at hold keeps the last voltage it had. The change is at once and may click when sound runs through it.

Left out: the resistance of the switch, what leaks to the open ways, droop of a held voltage.

Source: definition; threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RAIL_V,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import is_steady, schmitt
from rigproof.kinds.pan_laws import averaged
from rigproof.kinds.sequential_switch import inputs_used

STEPS, REST = 1, 2
IN, ADVANCE_IN, RESET_IN = 0, 1, 2
ADVANCE_HIGH, RESET_HIGH, PLACE, HELD_V = 0, 1, 2, 3
THRESHOLD_V = 1.0
"""Advance and reset are high from here up. Common practice, no source. [V]"""


def signal_router(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Move on at a rise; let the chosen output follow the input."""
    ways = outs.shape[0]
    used = inputs_used(params[STEPS, 0], ways)
    is_hold = params[REST, 0] >= 0.5
    in_v = bus_v[ins[IN], start:stop]
    advance_v, reset_v = bus_v[ins[ADVANCE_IN], start:stop], bus_v[ins[RESET_IN], start:stop]
    advance, reset = state[ADVANCE_HIGH], state[RESET_HIGH]
    place = int(state[PLACE])
    if place >= used:
        place = 0
    if is_steady(advance_v, advance, THRESHOLD_V) and is_steady(reset_v, reset, THRESHOLD_V):
        for o in range(ways):
            out_v = bus_v[outs[o], start:stop]
            if o == place:
                for n in range(stop - start):
                    out_v[n] = clamp(in_v[n], -RAIL_V, RAIL_V)
                state[HELD_V + o] = out_v[stop - start - 1]
            else:
                rest_v = state[HELD_V + o] if is_hold else 0.0
                for n in range(stop - start):
                    out_v[n] = rest_v
    else:
        for n in range(stop - start):
            next_advance = schmitt(advance_v[n], advance, THRESHOLD_V)
            next_reset = schmitt(reset_v[n], reset, THRESHOLD_V)
            if next_advance > advance:
                place += 1
            if place >= used or next_reset > reset:
                place = 0
            advance = next_advance
            reset = next_reset
            for o in range(ways):
                bus_v[outs[o], start + n] = state[HELD_V + o] if is_hold else 0.0
            passed_v = clamp(in_v[n], -RAIL_V, RAIL_V)
            state[HELD_V + place] = passed_v
            bus_v[outs[place], start + n] = passed_v
    state[ADVANCE_HIGH] = advance
    state[RESET_HIGH] = reset
    state[PLACE] = float(place)


def prepare(setting: Setting) -> list[float]:
    """Stand at the first output, nothing held."""
    return [0.0] * (HELD_V + setting.ways)


def _most_used(setting: Setting) -> int:
    steps = setting.span("steps")
    return max(inputs_used(steps.lo, setting.ways), inputs_used(steps.hi, setting.ways))


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """The input, and 0 V where an output can be left alone."""
    passed = ins[IN].clipped(-RAIL_V, RAIL_V)
    if _most_used(setting) == 1 or ins[ADVANCE_IN].hi < THRESHOLD_V:
        return [passed, *[Span.point(0.0)] * (setting.ways - 1)]
    moved = [passed.including(0.0)] * _most_used(setting)
    return moved + [Span.point(0.0)] * (setting.ways - len(moved))


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Each output in turn, for as long as the next; a held voltage is spread as the input is."""
    source = ins[IN].clipped(-RAIL_V, RAIL_V)
    used = inputs_used(setting["steps"], setting.ways)
    if used == 1 or ins[ADVANCE_IN].hi_v < THRESHOLD_V:
        return [source, *[Level()] * (setting.ways - 1)]
    heard = source
    if setting["rest"] < 0.5:
        heard = averaged([source, *[Level()] * (used - 1)])
    return [heard] * used + [Level()] * (setting.ways - used)


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """All the pulses at the first output while nothing advances; else nobody can say which go where."""
    others = setting.ways - 1
    used = inputs_used(setting["steps"], setting.ways)
    if used == 1 or ins[ADVANCE_IN].beat is Beat.NONE:
        return [ins[IN], *[NO_PULSE] * others]
    if ins[IN].beat is Beat.NONE:
        return [NO_PULSE] * setting.ways
    return [IRREGULAR] * used + [NO_PULSE] * (setting.ways - used)


KIND = Kind(
    name="signal-router",
    doc=__doc__,
    inputs=(
        Port("in", "what is passed on"),
        Port("advance", "a rise moves to the next output", is_control=True),
        Port("reset", "a rise goes back to the first", is_control=True),
    ),
    outputs=(Port("out", "one of the ways", many=True),),
    params=(
        Param("steps", "steps", 0.0, 8.0, 0.0, "outputs that take part; 0 is all"),
        Param("rest", "ratio", 0.0, 1.0, 0.0, "an output that is not chosen", ("zero", "hold")),
    ),
    kernel=signal_router,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(2, 8, 4),
)
