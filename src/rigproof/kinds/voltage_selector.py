"""Voltage selector: one of several set voltages, chosen by a knob, a button, a trigger or a voltage.

`way` chooses by number, a press of `button` or a rise of `advance` takes the next and the first after the last, `reset`
goes back to the first, also when it comes with an advance. A voltage at `select` moves further on from there, one way
for each share of `full-scale`, round to the first again; a way is left a tenth past its edge. What comes out follows
the knob of its voltage while it is turned.

Left out: errors of the voltages, which a trimmer sets in life.

Source: definition; threshold of 1 V is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
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
from rigproof.kinds.button_ways import (
    PLACE,
    SIZE,
    first_place,
    look_at_hand,
    nearest_way,
    reachable,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
from rigproof.kinds.pan_laws import averaged
from rigproof.kinds.rhythms import pulses_of_steps
from rigproof.kinds.voltage_ways import way_of, ways_of_level, ways_of_span

WAY, BUTTON, FULL_V, VOLTAGE = 1, 2, 3, 4
ADVANCE_IN, RESET_IN, SELECT_IN = 0, 1, 2
ADVANCE_HIGH, RESET_HIGH, MOVED, WAYS = SIZE, SIZE + 1, SIZE + 2, SIZE + 3
THRESHOLD_V = 1.0
"""Advance and reset are high from here up. Common practice, no source. [V]"""
MOST_WAYS = 8


def voltage_selector(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Follow the hand once a call, trigger and voltage at every sample."""
    ways = int(state[WAYS])
    look_at_hand(state, params[WAY, 0], params[BUTTON, 0], ways)
    advance_v, reset_v = bus_v[ins[ADVANCE_IN], start:stop], bus_v[ins[RESET_IN], start:stop]
    select_v, out_v = bus_v[ins[SELECT_IN], start:stop], bus_v[outs[0], start:stop]
    full_step = params[FULL_V, 1]
    full_v = params[FULL_V, 0] + start * full_step
    place, moved = state[PLACE], state[MOVED]
    advance, reset = state[ADVANCE_HIGH], state[RESET_HIGH]
    for n in range(stop - start):
        next_advance = schmitt(advance_v[n], advance, THRESHOLD_V)
        next_reset = schmitt(reset_v[n], reset, THRESHOLD_V)
        if next_advance > advance:
            place = place + 1.0 if place < ways - 1.0 else 0.0
        if next_reset > reset:
            place = 0.0
        advance = next_advance
        reset = next_reset
        steer_v = clamp(select_v[n], -RAIL_V, RAIL_V)
        moved = way_of(steer_v, full_v + n * full_step, ways, moved)
        row = VOLTAGE + int(place + moved) % ways
        out_v[n] = params[row, 0] + (start + n) * params[row, 1]
    state[PLACE] = place
    state[MOVED] = moved
    state[ADVANCE_HIGH] = advance
    state[RESET_HIGH] = reset


def prepare(setting: Setting) -> list[float]:
    """Stand where the knob does."""
    return [*first_place(setting), 0.0, 0.0, -1.0, float(setting.ways)]


def _bases(can_advance: bool, can_reset: bool, setting: Setting) -> set[int]:
    """Return where hand and triggers can stand, before the voltage moves on from there."""
    if can_advance:
        return set(range(setting.ways))
    return set(reachable(setting)) | ({0} if can_reset else set())


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Every voltage that can be chosen."""
    can_advance, can_reset = (ins[i].hi >= THRESHOLD_V for i in (ADVANCE_IN, RESET_IN))
    bases = _bases(can_advance, can_reset, setting)
    steer = ins[SELECT_IN].clipped(-RAIL_V, RAIL_V)
    moves = ways_of_span(steer, setting.span("full-scale"), setting.ways)
    voltages = setting.all_spans("voltage")
    chosen = [voltages[(base + move) % setting.ways] for base in bases for move in moves]
    return [Span(min(v.lo for v in chosen), max(v.hi for v in chosen))]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Every voltage that triggers and the voltage choose, for as long as the next."""
    base = int(nearest_way(setting["way"], setting.ways))
    is_moving = ins[ADVANCE_IN].hi_v >= THRESHOLD_V
    bases = range(setting.ways) if is_moving else [base]
    moves = ways_of_level(ins[SELECT_IN], setting, setting["full-scale"])
    voltages = setting.all_values("voltage")
    chosen = [voltages[(b + move) % setting.ways] for b in bases for move in moves]
    return [averaged([Level.steady(v) for v in chosen])]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """The rhythm of the voltages that rise through 1 V, one for each advance."""
    advance, reset, select = ins
    if advance.beat is Beat.NONE and select.beat is Beat.NONE:
        return [NO_PULSE]
    if reset.beat is not Beat.NONE or select.beat is not Beat.NONE:
        return [IRREGULAR]
    high = 0.0
    highs = []
    for voltage_v in setting.all_values("voltage") * 2:  # the second turn knows what came before
        high = schmitt(voltage_v, high, THRESHOLD_V)
        highs.append(high)
    turn = highs[setting.ways - 1 :]
    rises = [1 if now > before else 0 for before, now in pairwise(turn)]
    return [pulses_of_steps(rises, advance, division=1)]


KIND = Kind(
    name="voltage-selector",
    doc=__doc__,
    inputs=(
        Port("advance", "a rise moves to the next voltage", is_control=True),
        Port("reset", "a rise goes back to the first", is_control=True),
        Port("select", "moves further on", is_control=True),
    ),
    outputs=(Port("out", "the voltage that is chosen"),),
    params=(
        Param("way", "steps", 1.0, float(MOST_WAYS), 1.0, "number of the voltage"),
        Param("button", "ratio", 0.0, 1.0, 0.0, "a press takes the next", ("off", "on")),
        Param("full-scale", "V", 1.0, 10.0, 5.0, "voltage at `select` that goes all the way round"),
        Param("voltage", "V", -10.0, 10.0, 0.0, "one of the voltages", many=True),
    ),
    kernel=voltage_selector,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(2, MOST_WAYS, 4),
)
