"""Logic: one gate made of several by a truth table, and its opposite.

An input is high from 1 V up. `and`: all are high; `or`: at least one; `xor`: an odd number; `nand`, `nor` and `xnor`
are their opposites. An input without a cable is low, so use as many ways as there are cables, or normal the others.

Left out: the gates' own delay (nanoseconds), glitches when two inputs change at once.

Source: truth tables; an odd number for the exclusive or of several inputs is parity (IEC 60617-12, from memory); the
threshold of 1 V and a gate of 5 V are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.edges import schmitt
from rigproof.kinds.gate_share import gate_level, share_above

FUNCTION, LEVEL_V = 1, 2
FUNCTIONS = ("and", "or", "xor", "nand", "nor", "xnor")
AND, OR, XOR = 0, 1, 2
THRESHOLD_V = 1.0
"""An input is high from here up. Common practice, no source. [V]"""


def logic(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Count the inputs that are high, way by way, then read the table."""
    ways = ins.shape[0]
    out_v, inverse_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    function = int(params[FUNCTION, 0] + 0.5)
    level_step = params[LEVEL_V, 1]
    level_0 = params[LEVEL_V, 0] + start * level_step
    for way in range(ways):
        in_v = bus_v[ins[way], start:stop]
        high = state[way]
        for n in range(stop - start):
            high = schmitt(in_v[n], high, THRESHOLD_V)
            out_v[n] = high if way == 0 else out_v[n] + high
        state[way] = high
    law = function % 3
    is_inverse = function >= 3
    fewest = float(ways) if law == AND else 1.0
    for n in range(stop - start):
        count = out_v[n]
        odd = count - 2.0 * math.floor(0.5 * count)
        reached = 1.0 if count >= fewest else 0.0
        true = odd if law == XOR else reached
        true = 1.0 - true if is_inverse else true
        level_v = level_0 + n * level_step
        out_v[n] = true * level_v
        inverse_v[n] = (1.0 - true) * level_v


def prepare(setting: Setting) -> list[float]:
    """Every input low."""
    return [0.0] * setting.ways


def _outcomes(ins: Sequence[Span], function: int) -> set[bool]:
    """Return what a function can come to."""
    low = [span.lo < THRESHOLD_V for span in ins]  # can be low
    high = [span.hi >= THRESHOLD_V for span in ins]
    found = set()
    if function % 3 == XOR:
        if any(a and b for a, b in zip(low, high, strict=True)):
            found = {False, True}
        else:
            found = {sum(high) % 2 == 1}
    elif function % 3 == AND:
        found = ({True} if all(high) else set()) | ({False} if any(low) else set())
    else:
        found = ({True} if any(high) else set()) | ({False} if all(low) else set())
    return {not outcome for outcome in found} if function >= 3 else found


def _functions(setting: Setting) -> list[int]:
    """Return the functions that the switch can stand at."""
    span = setting.span("function")
    return list(range(int(span.lo + 0.5), int(span.hi + 0.5) + 1))


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; only one of them where the inputs leave no choice."""
    outcomes: set[bool] = set()
    for function in _functions(setting):
        outcomes |= _outcomes(ins, function)
    high = setting.span("level")
    spans = {
        frozenset({True}): (high, Span.point(0.0)),
        frozenset({False}): (Span.point(0.0), high),
        frozenset({True, False}): (high.including(0.0),) * 2,
    }
    return list(spans[frozenset(outcomes)])


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle, high as often as chance makes it when the inputs know nothing of each other."""
    shares = [share_above(x, THRESHOLD_V) for x in ins]
    function = round(setting["function"])
    if function % 3 == AND:
        share = math.prod(shares)
    elif function % 3 == OR:
        share = 1.0 - math.prod(1.0 - s for s in shares)
    else:
        share = 0.5 * (1.0 - math.prod(1.0 - 2.0 * s for s in shares))
    share = 1.0 - share if function >= 3 else share
    share = min(max(share, 0.0), 1.0)
    return [gate_level(share, setting["level"]), gate_level(1.0 - share, setting["level"])]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One input's pulses, if the others let them through; of several together nobody can say."""
    beating = [pulse for pulse in ins if pulse.beat is not Beat.NONE]
    if not beating:
        return [NO_PULSE] * 2
    if len(beating) > 1:
        return [IRREGULAR] * 2
    same, opposite = beating[0], replace(beating[0], length_s=None)
    return [opposite, same] if round(setting["function"]) >= 3 else [same, opposite]


KIND = Kind(
    name="logic",
    doc=__doc__,
    inputs=(Port("in", "a gate", is_control=True, many=True),),
    outputs=(
        Port("out", "what the function makes of the inputs"),
        Port("inverse", "its opposite"),
    ),
    params=(
        Param("function", "ratio", 0.0, len(FUNCTIONS) - 1.0, 0.0, "the truth table", FUNCTIONS),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a gate"),
    ),
    kernel=logic,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(2, 8, 2),
)
