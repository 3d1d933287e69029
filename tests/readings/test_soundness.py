"""The promise of the volts reading: no sample at any row, of any patch at all, leaves its interval.

The oracle is the sound itself: thousands of random patches of every kind there is, loops, joined outputs, moved
controls and all, are rendered and every row's lowest and highest sample is held against the interval.
"""

from __future__ import annotations

import math
from random import Random
from typing import Any

import numpy as np
import pytest

from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.net.timeline import timeline
from rigproof.readings.volts import SLACK_RATIO, read_volts
from tests.random_patches import USABLE, random_project

PATCHES_EACH = 100
DEFAULT_BATCHES = 24
SLOW_BATCHES = 300


def some_sounds(seed: int) -> list[Any]:
    """Three sounds at full scale, mono and stereo, harsh enough to overshoot in any interpolation."""
    rng = np.random.default_rng(seed)
    return [
        np.sign(rng.standard_normal((300, 1))),
        rng.uniform(-1.0, 1.0, (500, 2)),
        np.sin(np.arange(400.0)[:, None] * 0.3) * np.array([[1.0, -1.0]]),
    ]


def faults(net: Net, seed: int) -> list[str]:
    """What leaves its interval, in words."""
    spans = read_volts(net)
    sounds = {s.name: some_sounds(seed) for s in net.sections if s.kind.name == "sample-voice"}
    every_row = range(len(net.rows))
    player = Player(schedule(net, sounds=sounds), every_row, timeline(net).events, watch=True)
    rng = Random(seed)
    found = []
    for _ in range(2):
        seen_v = player.play(rng.randint(4, 16))
        found += [
            f"seed {seed}: {net.rows[r].name} is not finite"
            for r in np.flatnonzero(~np.isfinite(seen_v).all(axis=1))
        ]
    for row, span, low, high in zip(net.rows, spans, player.lows_v, player.highs_v, strict=True):
        slack_v = SLACK_RATIO * max(span.peak, 1e-3)
        if not (span.lo - slack_v <= low and high <= span.hi + slack_v):
            writer = None if row.writer is None else net.sections[row.writer]
            reads = [] if writer is None else [spans[i] for i in writer.ins]
            kind = "" if writer is None else writer.kind.name
            found.append(
                f"seed {seed}: {row.name} ({kind}) saw {low!r} to {high!r}, proved {span}, from {reads}"
            )
    return found


def check_batch(batch: int) -> None:
    found = []
    for seed in range(batch * PATCHES_EACH, (batch + 1) * PATCHES_EACH):
        found += faults(flatten(random_project(seed)), seed)
    assert not found, "\n" + "\n".join(found[:20])


@pytest.mark.parametrize("batch", range(DEFAULT_BATCHES))
def test_no_sample_leaves_its_interval(batch: int) -> None:
    check_batch(batch)


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(DEFAULT_BATCHES, SLOW_BATCHES))
def test_no_sample_leaves_its_interval_in_tens_of_thousands_of_patches(batch: int) -> None:
    check_batch(batch)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(200))
def test_no_sample_leaves_its_interval_in_large_patches(seed: int) -> None:
    assert not faults(flatten(random_project(1_000_000 + seed, largest=60)), seed)


def test_the_random_patches_hold_what_could_go_wrong() -> None:
    """A soundness test over tame patches would prove little: count what the default run meets."""
    nets = [flatten(random_project(seed)) for seed in range(DEFAULT_BATCHES * 10)]
    kinds = {s.kind.name for net in nets for s in net.sections}
    assert {k.name for k in USABLE} <= kinds
    assert sum(any(part.is_loop for part in net.components) for net in nets) > len(nets) // 10
    assert sum(any(len(node.outputs) > 1 for node in net.nodes) for net in nets) > len(nets) // 10
    assert sum(bool(timeline(net).events) for net in nets) > len(nets) // 4
    assert any(
        any(node.row == 0 and node.outputs for node in net.nodes) for net in nets
    )  # an output shorted to ground by a plug


def test_a_wrong_interval_is_seen() -> None:
    """The test can fail: halve what is proved and the sound must leave it somewhere."""
    seen = 0
    for seed in range(40):
        net = flatten(random_project(seed))
        player = Player(schedule(net), watch=True)
        player.play(8)
        highs = [
            high
            for span, high in zip(read_volts(net), player.highs_v, strict=True)
            if math.isfinite(high) and span.hi > 0.0 and high > span.hi / 2
        ]
        seen += bool(highs)
    assert seen > 10
