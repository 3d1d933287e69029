"""Window comparator: three gates that say whether the input lies inside a window, above it, or below it.

The window lies around `centre` (the knob plus its input, volt for volt) and is `width` wide; its lower edge belongs to
it, its upper edge to what is above. Exactly one gate is high at any time. Leaving `above` or `below` takes `hysteresis`
back into the window, at most half of its width, so that noise at an edge does not fire the gates many times.

Left out: the place between two samples where an edge is really crossed, the circuit's own delay.

Source: definition; a gate of 5 V is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
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
from rigproof.kinds.gate_share import gate_level, share_above

CENTRE_V, WIDTH_V, HYSTERESIS_V, LEVEL_V = 1, 2, 3, 4
IS_ABOVE, IS_BELOW = 0, 1


def window_comparator(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Compare with both edges, sample by sample; every parameter glides."""
    in_v, cv_v = bus_v[ins[0], start:stop], bus_v[ins[1], start:stop]
    inside_v, above_v, below_v = (
        bus_v[outs[0], start:stop],
        bus_v[outs[1], start:stop],
        bus_v[outs[2], start:stop],
    )
    above = state[IS_ABOVE]
    below = state[IS_BELOW]
    for n in range(stop - start):
        at = start + n
        half_v = 0.5 * (params[WIDTH_V, 0] + at * params[WIDTH_V, 1])
        gap_v = clamp(params[HYSTERESIS_V, 0] + at * params[HYSTERESIS_V, 1], 0.0, half_v)
        off_v = clamp(in_v[n], -RAIL_V, RAIL_V) - clamp(cv_v[n], -RAIL_V, RAIL_V)
        off_v -= params[CENTRE_V, 0] + at * params[CENTRE_V, 1]
        above = above if off_v >= half_v - gap_v else 0.0
        above = 1.0 if off_v >= half_v else above
        below = below if off_v < gap_v - half_v else 0.0
        below = 1.0 if off_v < -half_v else below
        level_v = params[LEVEL_V, 0] + at * params[LEVEL_V, 1]
        inside_v[n] = (1.0 - above - below) * level_v
        above_v[n] = above * level_v
        below_v[n] = below * level_v
    state[IS_ABOVE] = above
    state[IS_BELOW] = below


def prepare(setting: Setting) -> list[float]:
    """Start inside."""
    return [0.0, 0.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high the level; less where the input cannot leave a part of the range."""
    off = ins[0].clipped(-RAIL_V, RAIL_V) - ins[1].clipped(-RAIL_V, RAIL_V)
    off = off - setting.span("centre")
    half = setting.span("width").scaled(0.5)
    high, low = setting.span("level"), Span.point(0.0)
    either = high.including(0.0)
    slack_v = 1e-9  # rounding of sums may tip what lies on an edge
    never_above, never_below = off.hi < half.lo - slack_v, off.lo > slack_v - half.lo
    if off.lo > half.hi + slack_v:
        return [low, high, low]
    if off.hi < -half.hi - slack_v:
        return [low, low, high]
    if never_above and never_below:
        return [high, low, low]
    return [either, low if never_above else either, low if never_below else either]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Rectangles that are high for the share of the time that the input spends in each part."""
    centre_v = setting["centre"] + ins[1].clipped(-RAIL_V, RAIL_V).dc_v
    half_v = setting["width"] / 2.0
    source = ins[0].clipped(-RAIL_V, RAIL_V)
    above = share_above(source, centre_v + half_v)
    below = 1.0 - share_above(source, centre_v - half_v)
    inside = max(0.0, 1.0 - above - below)
    return [gate_level(share, setting["level"]) for share in (inside, above, below)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Above and below once for each pulse, if it reaches so far; how often it is inside nobody can say."""
    pulse, centre = ins
    if centre.beat is not Beat.NONE or pulse.beat in (Beat.NONE, Beat.IRREGULAR):
        return [IRREGULAR] * 3
    once = replace(pulse, length_s=None)
    return [IRREGULAR, once, once]


KIND = Kind(
    name="window-comparator",
    doc=__doc__,
    inputs=(
        Port("in", "the voltage that is compared", is_control=True),
        Port("centre", "moves the window, volt for volt", is_control=True),
    ),
    outputs=(
        Port("inside", "high while the input is in the window"),
        Port("above", "high while it is above"),
        Port("below", "high while it is below"),
    ),
    params=(
        Param("centre", "V", -10.0, 10.0, 0.0, "middle of the window"),
        Param("width", "V", 0.0, 20.0, 2.0, "from its lower to its upper edge"),
        Param(
            "hysteresis", "V", 0.0, 2.0, 0.02, "how far back into the window ends above or below"
        ),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a gate"),
    ),
    kernel=window_comparator,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
