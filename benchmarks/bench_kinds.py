"""What each section kind costs: nanoseconds a sample, in blocks of 64 and sample by sample, on lively input.

Gates, clocks and triggers stand still, as they do in nearly all blocks of 64 samples: a kind is measured with all of
them high, having risen once before the measuring, and with all of them low, and the dearer of the two counts. Every
other input moves in every sample. Sounds are long enough to play all the while.
"""

from __future__ import annotations

import time

import numpy as np

from rigproof.engine.compile import address
from rigproof.engine.loop import run_blocks
from rigproof.engine.schedule import aligned
from rigproof.kinds import KINDS
from rigproof.kinds.base import BLOCK, COLUMNS, Kind, Setting

GATES = frozenset(
    (
        "trigger",
        "gate",
        "clock",
        "reset",
        "run",
        "restart",
        "sync",
        "hold",
        "freeze",
        "reverse",
        "start",
        "stop",
    )
)
"""Inputs that are read as high or low, by name."""
HIGH_V, LOW_V = 5.0, 0.0
SOUND_FRAMES = 60 * 48_000
DEAREST_NS = 25.0
"""No common kind should cost more in blocks of 64."""


def cost_ns(kind: Kind, *, by_sample: bool, blocks: int = 400, rounds: int = 5) -> float:
    """Return what one section of the kind costs a sample, with its gates high or low, whichever is dearer. [ns]"""
    has_gates = any(port.name in GATES for port in kind.inputs)
    return max(
        cost_at_ns(kind, gates_v, by_sample=by_sample, blocks=blocks, rounds=rounds)
        for gates_v in ((HIGH_V, LOW_V) if has_gates else (LOW_V,))
    )


def cost_at_ns(kind: Kind, gates_v: float, *, by_sample: bool, blocks: int, rounds: int) -> float:
    """Return what one section of the kind costs a sample with its gates at a voltage, best of some rounds. [ns]"""
    ways = kind.ways[2] if kind.ways else 1
    ins, outs = kind.expand_inputs(ways), kind.expand_outputs(ways)
    params = kind.expand_params(ways)
    setting = Setting(
        "it.it",
        {p.name: p.default for p in params},
        options={o.name: o.default for o in kind.options},
        ways=ways,
        sounds=(np.sin(np.arange(SOUND_FRAMES) / 20.0).reshape(-1, 1),),
    )
    bus_v = aligned((len(ins) + len(outs), COLUMNS))
    chance = np.random.default_rng(7)
    for i, port in enumerate(ins):
        if port.name in GATES:
            bus_v[i] = gates_v
        elif not port.is_midi:
            bus_v[i] = chance.uniform(-4.0, 4.0, COLUMNS).cumsum() / 8.0
    values = np.zeros((1 + len(params), 2))
    values[0, 0] = setting.rate_hz
    values[1:, 0] = [p.default for p in params]
    state = np.asarray(kind.prepare(setting), dtype=np.float64).reshape(-1)
    none_i, none_f = np.zeros(0, dtype=np.int64), np.zeros(0)

    def run(count: int) -> None:
        run_blocks(
            count,
            0,
            bus_v,
            np.array([address(kind.kernel)]),
            np.array([1]),
            np.array([by_sample]),
            np.arange(len(ins)),
            np.array([0, len(ins)]),
            np.arange(len(ins), len(ins) + len(outs)),
            np.array([0, len(outs)]),
            values,
            np.array([0, len(values)]),
            state,
            np.array([0, len(state)]),
            none_i,
            none_i,
            none_f,
            none_f,
            0,
            none_i,
            none_i,
            np.zeros((0, count * BLOCK)),
            none_f,
            none_f,
        )

    run(20)
    times = []
    for _ in range(rounds):
        began_s = time.perf_counter()
        run(blocks)
        times.append(time.perf_counter() - began_s)
    return min(times) / blocks / BLOCK * 1e9


def main() -> dict[str, tuple[float, float]]:
    """Measure every kind: in blocks, sample by sample. [ns]"""
    return {
        name: (cost_ns(kind, by_sample=False), cost_ns(kind, by_sample=True))
        for name, kind in sorted(KINDS.items())
    }


if __name__ == "__main__":
    print(f"{'kind':26}{'blocks of 64':>14}{'by sample':>12}   [ns a sample]")
    for name, (block_ns, sample_ns) in main().items():
        print(
            f"{name:26}{block_ns:14.2f}{sample_ns:12.2f}{'   dear' if block_ns > DEAREST_NS else ''}"
        )
