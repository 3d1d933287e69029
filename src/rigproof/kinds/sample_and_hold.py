"""Sample and hold: keeps the voltage that stood at its input when a trigger came; or follows while a gate is high.

`sample` takes the input at the very sample at which the trigger rises through 1 V. `track` follows while the gate is
high and keeps the last voltage before it goes low. Until the first trigger it holds 0 V.

Left out: droop of the held voltage, the time to charge the capacitor, feed-through of the trigger.

Source: definition; the threshold of 1 V is common practice, no source.
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
from rigproof.kinds.edges import schmitt

MODE = 1
SAMPLE, TRACK = 0, 1
IS_HIGH, HELD_V = 0, 1
THRESHOLD_V = 1.0
"""The trigger is high from here up. Common practice, no source. [V]"""


def sample_and_hold(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Take the input at a rise, or while high."""
    in_v, trigger_v = bus_v[ins[0], start:stop], bus_v[ins[1], start:stop]
    out_v = bus_v[outs[0], start:stop]
    is_track = params[MODE, 0] >= 0.5
    held_v = state[HELD_V]
    was_high = state[IS_HIGH]
    for n in range(stop - start):
        x = clamp(in_v[n], -RAIL_V, RAIL_V)
        high = schmitt(trigger_v[n], was_high, THRESHOLD_V)
        takes = high > 0.0 if is_track else high > was_high
        held_v = x if takes else held_v
        was_high = high
        out_v[n] = held_v
    state[HELD_V] = held_v
    state[IS_HIGH] = was_high


def prepare(setting: Setting) -> list[float]:
    """Hold 0 V."""
    return [0.0, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """What the input can be, and the 0 V before the first trigger; the latter alone where none can come."""
    if ins[1].hi < THRESHOLD_V:
        return [Span.point(0.0)]
    source = ins[0].clipped(-RAIL_V, RAIL_V)
    if setting.span("mode").lo >= 0.5 and ins[1].lo >= THRESHOLD_V:
        return [source]  # follows from the first sample on
    return [source.including(0.0)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """What is taken now and then is spread as the input is."""
    return [ins[0].clipped(-RAIL_V, RAIL_V) if ins[1].hi_v >= THRESHOLD_V else Level()]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Steps of a voltage are no pulses; nobody can say what becomes of pulses that are held or cut."""
    is_pulsing = ins[0].beat is not Beat.NONE and ins[1].beat is not Beat.NONE
    if is_pulsing:
        return [IRREGULAR]
    return [ins[0] if round(setting["mode"]) == TRACK else NO_PULSE]


KIND = Kind(
    name="sample-and-hold",
    doc=__doc__,
    inputs=(
        Port("in", "the voltage to take"),
        Port("trigger", "a rise takes it, or a high gate follows it", is_control=True),
    ),
    outputs=(Port("out", "the voltage held"),),
    params=(
        Param(
            "mode", "ratio", 0.0, 1.0, 0.0, "when the input is taken", choices=("sample", "track")
        ),
    ),
    kernel=sample_and_hold,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
