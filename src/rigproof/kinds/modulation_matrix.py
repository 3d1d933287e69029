"""Modulation matrix: a table of sixteen rows, each of which sends one source to one target by a depth and a curve.

A row names a source and a target by number, 0 being none. It takes the source's voltage as a share of `full-scale`,
held between -1 and 1, bends the share by its curve and adds it, times the depth and full scale, to its target; rows
with the same target add up, and the sum stops at the rails. The curves keep the sign and the ends: slow is the square,
fast the square root, `s-shape` 3x^2 - 2x^3. Source, target and curve step; the depth glides.

Left out: the smoothing and the coarse control rate that a module with a small processor may have.

Source: smoothstep as the cubic with level ends (Hermite interpolation, any text on numerical analysis); the table
itself is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, sqrt
from typing import Any

from rigproof.kinds.base import RAIL_V, Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp

ROWS = 16
SOURCES = 16
MOST_TARGETS = 96
CURVES = ("linear", "slow", "fast", "s-shape")
LINEAR, SLOW, FAST, S_SHAPE = range(4)
FULL_V, TABLE = 1, 2
SOURCE, TARGET, DEPTH, CURVE = 0, 1, 2, 3
COLUMNS_OF_ROW = 4


def bent(share: float, curve: int) -> float:
    """Return a share of full scale, from -1 to 1, bent by a curve: odd, rising, its ends and middle kept.

    >>> bent(0.5, SLOW), bent(-0.25, FAST), bent(0.5, S_SHAPE)
    (0.25, -0.5, 0.5)
    """
    size = abs(share)
    if curve == SLOW:
        size = size * size
    elif curve == FAST:
        size = sqrt(size)
    elif curve == S_SHAPE:
        size = size * size * (3.0 - 2.0 * size)
    return size if share >= 0.0 else -size


def modulation_matrix(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Silence all targets, add row after row, stop at the rails."""
    for target in range(outs.shape[0]):
        out_v = bus_v[outs[target], start:stop]
        for n in range(stop - start):
            out_v[n] = 0.0
    full_v = params[FULL_V, 0]
    for row in range(ROWS):
        at = TABLE + COLUMNS_OF_ROW * row
        source = floor(params[at + SOURCE, 0] + 0.5)
        target = floor(params[at + TARGET, 0] + 0.5)
        if source < 1 or source > ins.shape[0] or target < 1 or target > outs.shape[0]:
            continue
        curve = floor(params[at + CURVE, 0] + 0.5)
        step = params[at + DEPTH, 1]
        depth = params[at + DEPTH, 0] + start * step
        in_v = bus_v[ins[source - 1], start:stop]
        out_v = bus_v[outs[target - 1], start:stop]
        for n in range(stop - start):
            share = clamp(in_v[n] / full_v, -1.0, 1.0)
            out_v[n] += (depth + n * step) * full_v * bent(share, curve)
    for target in range(outs.shape[0]):
        out_v = bus_v[outs[target], start:stop]
        for n in range(stop - start):
            out_v[n] = clamp(out_v[n], -RAIL_V, RAIL_V)


def whole(span: Span) -> range:
    """Return the whole numbers that a stepped parameter can be."""
    return range(floor(span.lo + 0.5), floor(span.hi + 0.5) + 1)


def bent_span(source: Span, full: Span, curves: range) -> Span:
    """Return what a source can become, before the depth. Every curve rises, so its ends are those of the source."""
    ends = [
        full_v * bent(clamp(v / full_v, -1.0, 1.0), curve)
        for v in (source.lo, source.hi)
        for full_v in (full.lo, full.hi)
        for curve in curves
    ]
    span = Span.around(*ends)
    if full.is_point:
        return span
    # A fast curve is steepest at the middle: between two full scales it lies no further out than full scale allows.
    return span.including(0.0).hull(
        Span(-full.hi if source.lo < 0 else 0.0, full.hi if source.hi > 0 else 0.0)
    )


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Rows that may be at work add up; a row whose source or target can move may also be silent."""
    totals = [Span.point(0.0)] * setting.ways
    full = setting.span("full-scale")
    for row in range(1, ROWS + 1):
        sources = whole(setting.span(f"source-{row}"))
        targets = whole(setting.span(f"target-{row}"))
        curves = whole(setting.span(f"curve-{row}"))
        live = [ins[s - 1] for s in sources if 1 <= s <= len(ins)]
        if not live:
            continue
        added = bent_span(live[0], full, curves)
        for source in live[1:]:
            added = added.hull(bent_span(source, full, curves))
        added = added * setting.span(f"depth-{row}")
        if len(sources) > 1 or len(targets) > 1:
            added = added.including(0.0)
        for target in targets:
            if 1 <= target <= setting.ways:
                totals[target - 1] = totals[target - 1] + added
    return [total.clipped(-RAIL_V, RAIL_V) for total in totals]


def bent_level(source: Level, full_v: float, curve: int, depth: float) -> Level:
    """Return a source bent by a row: ends and mean by the curve, the RMS by its slope from the mean to the ends."""
    held = source.clipped(-full_v, full_v)
    lo, mid, hi = (full_v * bent(v / full_v, curve) for v in (held.lo_v, held.dc_v, held.hi_v))
    span_v = held.hi_v - held.lo_v
    slope = (hi - lo) / span_v if span_v > 0.0 else 0.0
    rms_v = min(held.rms_v * slope, max(hi - mid, mid - lo))
    return Level(lo, hi, mid, rms_v).scaled(depth)


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Rows add: ends and means plainly, powers as of unlike signals."""
    rows: list[list[Level]] = [[] for _ in range(setting.ways)]
    for row in range(1, ROWS + 1):
        source, target, curve = (
            floor(setting[f"{name}-{row}"] + 0.5) for name in ("source", "target", "curve")
        )
        if 1 <= source <= len(ins) and 1 <= target <= setting.ways:
            rows[target - 1].append(
                bent_level(ins[source - 1], setting["full-scale"], curve, setting[f"depth-{row}"])
            )
    return [
        Level(
            sum(x.lo_v for x in parts),
            sum(x.hi_v for x in parts),
            sum(x.dc_v for x in parts),
            sqrt(sum(x.rms_v**2 for x in parts)),
        ).clipped(-RAIL_V, RAIL_V)
        for parts in rows
    ]


def delay(setting: Setting) -> list[Lag]:
    """At once, along the rows that may be at work."""
    pairs = {
        (source, target): None
        for row in range(1, ROWS + 1)
        for source in whole(setting.span(f"source-{row}"))
        for target in whole(setting.span(f"target-{row}"))
        if 1 <= source <= SOURCES and 1 <= target <= setting.ways
    }
    return [Lag(f"in-{source}", f"out-{target}") for source, target in pairs]


def table() -> tuple[Param, ...]:
    """Return the parameters of all rows."""
    rows: list[Param] = []
    for row in range(1, ROWS + 1):
        rows += [
            Param(f"source-{row}", "steps", 0.0, SOURCES, 0.0, "number of the source; 0 is none"),
            Param(
                f"target-{row}", "steps", 0.0, MOST_TARGETS, 0.0, "number of the target; 0 is none"
            ),
            Param(f"depth-{row}", "ratio", -1.0, 1.0, 0.0, "how much of the source is added"),
            Param(f"curve-{row}", "ratio", 0.0, 3.0, 0.0, "how the source is bent", CURVES),
        ]
    return tuple(rows)


KIND = Kind(
    name="modulation-matrix",
    doc=__doc__,
    inputs=tuple(Port(f"in-{i}", "a source") for i in range(1, SOURCES + 1)),
    outputs=(Port("out", "what is added to a target", many=True),),
    params=(
        Param("full-scale", "V", 1.0, 10.0, 5.0, "voltage that counts as the whole of a source"),
        *table(),
    ),
    kernel=modulation_matrix,
    interval=interval,
    level=level,
    delay=delay,
    ways=(1, MOST_TARGETS, 8),
)
