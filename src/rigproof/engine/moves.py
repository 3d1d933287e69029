"""Moves of controls made into events of the compiled loop: glides where a hand glides, steps where a switch steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rigproof.engine.schedule import Floats, Ints, Schedule
from rigproof.kinds.base import BLOCK, LEAD
from rigproof.model.sheet import Control
from rigproof.net.graph import Net, ParamRef
from rigproof.net.timeline import TEMPO, Event

SHORTEST_GLIDE_S = 0.010
"""No hand moves a knob faster than this; it also keeps a jump from clicking. Our choice. [s]"""


@dataclass(slots=True)
class LoopEvents:
    """Events in the loop's own terms, in order of block, and the parameter rows that ever glide."""

    block: Ints
    row: Ints
    value: Floats
    step: Floats
    gliding: Ints


@dataclass(frozen=True, slots=True)
class _Glide:
    """The last move of a control: from which block, over how many, from where to where.

    Column 0 of a bus lies `LEAD` samples before the first sample of a block, and kernels that need no glide read the
    value there. So that this value too lies between the ends, the first block goes at a fraction of the speed.
    """

    at: int
    blocks: int
    start: float
    end: float

    @property
    def step(self) -> float:
        """Its speed after the first block, a sample."""
        return (self.end - self.start) / (LEAD + BLOCK * (self.blocks - 1))

    @property
    def first_step(self) -> float:
        """Its speed in the first block, a sample."""
        return self.step * LEAD / (LEAD + BLOCK)

    def value_at(self, block: int) -> float:
        """Return where the control stands at the edge on which a block begins."""
        done = block - self.at
        if done >= self.blocks:
            return self.end
        if done <= 0:
            return self.start
        return self.start + self.step * (LEAD + BLOCK * (done - 1))


def control_of(net: Net, name: str) -> Control | None:
    """Return the control of a `module.control` name."""
    module, _, control = name.partition(".")
    sheet = net.project.sheets.get(net.project.rig.sheet_names.get(module, ""))
    return sheet.controls.get(control) if sheet is not None else None


def loop_events(plan: Schedule, events: Sequence[Event]) -> LoopEvents:
    """Return the events of a render, whole blocks from its start.

    A glide starts and ends on a block's edge (1.333333 ms at 48 kHz); a value set at 0 s is there from the
    first sample.
    """
    net, rate_hz = plan.net, plan.rate_hz
    made: list[tuple[int, int, int, float, float]] = []
    standing: dict[str, _Glide] = {}
    for order, event in enumerate(sorted(events, key=lambda e: e.at_s)):
        refs: tuple[ParamRef, ...]
        if event.control == TEMPO:
            refs, is_stepped = net.tempo_params, True
        else:
            control = control_of(net, event.control)
            refs, is_stepped = (
                net.controls.get(event.control, ()),
                control is None or control.is_stepped,
            )
        rows = [row for ref in refs if (row := plan.param_row(ref.section, ref.row)) is not None]
        if not rows:
            continue
        at = max(0, round(event.at_s * rate_hz / BLOCK))
        start = event.start
        if start is None:
            last = standing.get(event.control)
            start = float(plan.params[rows[0], 0]) if last is None else last.value_at(at)
        is_jump = is_stepped or (at == 0 and event.glide_s == 0.0)
        glide_s = max(event.glide_s, SHORTEST_GLIDE_S)
        blocks = 0 if is_jump else max(2, math.ceil(glide_s * rate_hz / BLOCK))
        glide = _Glide(at, blocks, start, event.value)
        standing[event.control] = glide
        for row in rows:
            if not is_jump:
                made.append((at, order, row, start, glide.first_step))
                made.append((at + 1, order, row, start, glide.step))
            made.append((at + blocks, order, row, event.value, 0.0))
    made.sort(key=lambda m: (m[0], m[1]))
    made = _without_overtaken(made)
    return LoopEvents(
        np.array([m[0] for m in made], dtype=np.int64),
        np.array([m[2] for m in made], dtype=np.int64),
        np.array([m[3] for m in made], dtype=np.float64),
        np.array([m[4] for m in made], dtype=np.float64),
        np.array(sorted({m[2] for m in made if m[4] != 0.0}), dtype=np.int64),
    )


def _without_overtaken(
    made: list[tuple[int, int, int, float, float]],
) -> list[tuple[int, int, int, float, float]]:
    """Drop the end of a glide when a later move of the same parameter has begun before it."""
    kept = []
    newest: dict[int, int] = {}
    for entry in made:
        _, order, row, _, _ = entry
        if order < newest.get(row, -1):
            continue
        newest[row] = order
        kept.append(entry)
    return kept
