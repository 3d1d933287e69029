"""The demo rig: how many times faster than it plays one core renders the whole set, and how fast kernels are loaded.

Rendered as `rigproof render` does it, less the writing of the file and the measuring of loudness.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from statistics import median

import rigproof.demo
from rigproof.cli.loading import open_project
from rigproof.cli.rendering import mix_rows, player_for, stretch_of
from rigproof.engine.render import Player
from rigproof.engine.schedule import feeding
from rigproof.kinds.base import BLOCK

FOLDER = Path(rigproof.demo.__file__).parent / "lowtide"
PIECE_S = 30.0
"""The set is measured in pieces, so that one short interruption does not spoil all of it. [s]"""
LOADS = 5
LOAD_CODE = """
import sys, time
from pathlib import Path
from rigproof.cli.loading import open_project
opened = open_project(Path(sys.argv[1]))
import numba
began_s = time.perf_counter()
from rigproof.engine.compile import prepare_kernels
prepare_kernels([s.kind.kernel for s in opened.net.sections])
print(time.perf_counter() - began_s)
"""
"""Run in a fresh process: loads every kernel of the demo from the disk cache and prints the seconds."""


def kernels_load_s() -> float:
    """Return how long a fresh process takes to load the demo's kernels from the disk cache, median of several. [s]"""
    times = []
    for _ in range(LOADS):
        done = subprocess.run(
            [sys.executable, "-c", LOAD_CODE, str(FOLDER)],
            check=True,
            capture_output=True,
            text=True,
            env=os.environ,
        )
        times.append(float(done.stdout))
    return median(times)


def piece_times_s(player: Player, seconds: float) -> list[tuple[float, float, float]]:
    """Play so long, piece by piece; return what each piece lasts, takes by the clock, and takes of the core. [s]"""
    rate_hz = player.plan.rate_hz
    blocks = round(seconds * rate_hz / BLOCK)
    a_piece = round(PIECE_S * rate_hz / BLOCK)
    found = []
    while blocks > 0:
        count = min(a_piece, blocks)
        began_s, began_core_s = time.perf_counter(), time.thread_time()
        player.play(count)
        core_s = time.thread_time() - began_core_s
        found.append((count * BLOCK / rate_hz, time.perf_counter() - began_s, core_s))
        blocks -= count
    return found


def main() -> dict[str, float]:
    """Measure and return the figures."""
    opened = open_project(FOLDER)
    stretch = stretch_of(opened)
    rows = mix_rows(opened)
    began_s = time.perf_counter()
    player = player_for(opened, stretch.events, stretch.seconds, rows=rows)
    ready_s = time.perf_counter() - began_s
    heard = feeding(opened.net, rows)
    loops = [c for c in opened.net.components if c.is_loop and not heard.isdisjoint(c.sections)]
    pieces = piece_times_s(player, stretch.seconds)
    lasts_s, took_s, core_s = (sum(times) for times in zip(*pieces, strict=True))
    return {
        "set (s)": lasts_s,
        "sections in the net": float(len(opened.net.sections)),
        "sections that are heard, and so run": float(len(player.plan.addresses)),
        "loops of cables among them": float(len(loops)),
        "sections in loops": float(sum(len(c.sections) for c in loops)),
        "whole set, times real time": lasts_s / took_s,
        "whole set, times real time, by the core's own time": lasts_s / core_s,
        "slowest 30 s, times real time": min(length / took for length, took, _ in pieces),
        "fastest 30 s, times real time": max(length / took for length, took, _ in pieces),
        "ready to play: samples, kernels, loop (s)": ready_s,
        "kernels from the disk cache, fresh process (s)": kernels_load_s(),
    }


if __name__ == "__main__":
    for name, value in main().items():
        print(f"{name:54}{value:12.3f}")
