"""Our kernels against the nearest kernels of general-purpose libraries, a sample each, measured in turns.

The libraries work on long arrays in one call and know no feedback through cables, no voltage that steers a sample
later; ours run in blocks of 64 with every parameter free to move. A share above 1 means that ours is the faster.
"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median

import numpy as np
from scipy import signal

from benchmarks.bench_kinds import cost_ns
from benchmarks.timing import timed
from rigproof.kinds import KINDS

RATE_HZ = 48_000.0
SAMPLES = 480_000

_chance = np.random.default_rng(3)
_input_v = _chance.uniform(-5.0, 5.0, SAMPLES)
_four_v = _chance.uniform(-5.0, 5.0, (4, SAMPLES))
_phase_turns = np.arange(SAMPLES) * (110.0 / RATE_HZ) * 2.0 * np.pi
_two_poles = signal.butter(2, 1000.0, fs=RATE_HZ, output="sos")

RIVALS: tuple[tuple[str, str, Callable[[], object]], ...] = (
    (
        "slew",
        "scipy.signal.lfilter, one pole",
        lambda: signal.lfilter([0.002], [1.0, -0.998], _input_v),
    ),
    (
        "mixer",
        "numpy, four gains by matrix product",
        lambda: np.array([0.3, 0.2, 0.4, 0.1]) @ _four_v,
    ),
    (
        "state-variable-filter",
        "scipy.signal.sosfilt, two poles",
        lambda: signal.sosfilt(_two_poles, _input_v),
    ),
    (
        "oscillator",
        "scipy.signal.sawtooth, one wave that aliases",
        lambda: signal.sawtooth(_phase_turns),
    ),
    ("noise", "numpy standard_normal, one output", lambda: _chance.standard_normal(SAMPLES)),
    ("vca", "numpy product and clip", lambda: np.clip(_input_v * _four_v[0], -11.0, 11.0)),
)
"""Kind, what stands against it, and the rival's run over `SAMPLES`."""


def main() -> dict[str, tuple[str, float, float]]:
    """Measure: for each kind the rival's name, our and the rival's nanoseconds a sample."""
    found = {}
    for name, rival, run in RIVALS:
        if name not in KINDS:
            continue
        run()
        ours, theirs = [], []
        for _ in range(5):
            ours.append(cost_ns(KINDS[name], by_sample=False, blocks=300, rounds=1))
            theirs.append(timed(run) / SAMPLES * 1e9)
        found[name] = (rival, median(ours), median(theirs))
    return found


if __name__ == "__main__":
    print(f"{'kind':26}{'ours':>8}{'theirs':>8}{'share':>8}   [ns a sample]")
    for name, (rival, ours_ns, theirs_ns) in main().items():
        print(f"{name:26}{ours_ns:8.2f}{theirs_ns:8.2f}{theirs_ns / ours_ns:8.2f}   {rival}")
