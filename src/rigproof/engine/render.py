"""Render a net to samples, faster than it would play, with probes at any row and progress."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from rigproof.engine.loop import run_blocks
from rigproof.engine.moves import LoopEvents, loop_events
from rigproof.engine.schedule import Floats, Schedule, schedule
from rigproof.kinds.base import BLOCK
from rigproof.net.graph import Net
from rigproof.net.timeline import Event

CHUNK_BLOCKS = 256
"""Blocks between two looks at the outside: a third of a second of sound."""


@dataclass(slots=True)
class Player:
    """A running patch. Each call of `play` goes on where the last one stopped."""

    plan: Schedule
    probes: Sequence[int] = ()
    """Rows to record."""
    events: Sequence[Event] = ()
    watch: bool = False
    """Keep the lowest and highest voltage of every row in `lows_v` and `highs_v`."""
    block: int = 0
    lows_v: Floats = field(default_factory=lambda: np.zeros(0))
    highs_v: Floats = field(default_factory=lambda: np.zeros(0))
    _loop: LoopEvents = field(init=False)
    _next_event: int = 0

    def __post_init__(self) -> None:
        """Turn the moves into events of the loop."""
        self._loop = loop_events(self.plan, self.events)
        if self.watch:
            self.lows_v = np.full(len(self.plan.net.rows), math.inf)
            self.highs_v = np.full(len(self.plan.net.rows), -math.inf)

    def play(self, blocks: int) -> Floats:
        """Run so many blocks and return what the probes saw: float64[probes, blocks * 64]. [V]"""
        plan = self.plan
        rows = np.array(self.probes, dtype=np.int64)
        probed_v = np.zeros((len(rows), blocks * BLOCK))
        self._next_event = int(
            run_blocks(
                blocks,
                self.block,
                plan.bus_v,
                plan.addresses,
                plan.part_ends,
                plan.part_loops,
                plan.ins,
                plan.ins_from,
                plan.outs,
                plan.outs_from,
                plan.params,
                plan.params_from,
                plan.state,
                plan.state_from,
                self._loop.block,
                self._loop.row,
                self._loop.value,
                self._loop.step,
                self._next_event,
                self._loop.gliding,
                rows,
                probed_v,
                self.lows_v,
                self.highs_v,
            )
        )
        self.block += blocks
        return probed_v

    def chunks(self, seconds: float) -> Iterator[Floats]:
        """Yield what the probes see, a third of a second at a time, until `seconds` are over."""
        samples = round(seconds * self.plan.rate_hz)
        while samples > 0:
            blocks = min(CHUNK_BLOCKS, -(-samples // BLOCK))
            yield self.play(blocks)[:, : min(samples, blocks * BLOCK)]
            samples -= blocks * BLOCK


@dataclass(frozen=True, slots=True)
class Take:
    """So many of the rows that a player records, one after the other, and who is given what they show."""

    channels: int
    put: Callable[[Floats], object]
    """Is called with float64[channels, samples], again and again. Full scale is 1.0."""
    full_scale_v: float = 1.0


def play_into(
    player: Player, takes: Sequence[Take], seconds: float, tell: Callable[[float], object]
) -> None:
    """Play so many seconds, and deal out what the probes see; `tell` is called with the seconds done."""
    done = 0
    for chunk in player.chunks(seconds):
        at = 0
        for take in takes:
            part = chunk[at : at + take.channels]
            take.put(part if take.full_scale_v == 1.0 else part / take.full_scale_v)
            at += take.channels
        done += chunk.shape[1]
        tell(min(done / player.plan.rate_hz, seconds))


def render(
    net: Net,
    seconds: float,
    *,
    probes: Sequence[int] = (),
    events: Sequence[Event] = (),
    sounds: Mapping[str, Sequence[Any]] | None = None,
) -> Floats:
    """Render `seconds` and return what the probes saw: float64[probes, samples]. [V]"""
    player = Player(schedule(net, sounds=sounds, wanted=probes), probes, events)
    parts = list(player.chunks(seconds))
    return np.concatenate(parts, axis=1) if parts else np.zeros((len(probes), 0))


def ear_rows(net: Net) -> list[int]:
    """Return the rows of what the room hears, the ears' outputs in the order in which the interface lists them."""
    return [row for section in net.ears for row in section.outs]
