"""Kinds that remember: the same sound whatever is done at a time, over many turns of their memories."""

import numpy as np
import pytest

from rigproof.kinds import KINDS
from rigproof.kinds.base import BLOCK
from tests.kinds.running import pulses, setting_of
from tests.kinds.test_catalogue import Bench

SAMPLES = 300 * BLOCK
CASES = {
    "clocked sides": ("stereo-delay", {"longest": 0.05, "ppqn": 24.0, "feedback": 0.9}),
    "free sides": ("stereo-delay", {"longest": 0.07, "sync": 1.0, "time": 0.05}),
    "shortest sides": ("stereo-delay", {"longest": 0.05, "sync": 1.0, "time": 0.001}),
    "crossed sides": ("stereo-delay", {"longest": 0.06, "path": 1.0, "sync": 1.0, "time": 0.03}),
    "clocked taps": ("multi-tap-echo", {"longest": 0.05, "ppqn": 24.0, "feedback": 0.9}),
    "free taps": ("multi-tap-echo", {"longest": 0.05, "sync": 1.0, "time": 0.011}),
    "shortest taps": (
        "multi-tap-echo",
        {"longest": 0.05, "sync": 1.0, "time": 0.001, **{f"place-{i}": 1.0 for i in range(1, 5)}},
    ),
    "a room": ("reverb", {"pre-delay": 0.0}),
    "a small room": ("reverb", {"size": 0.2, "decay": 20.0, "pre-delay": 0.1}),
}


@pytest.mark.parametrize("case", CASES)
def test_pieces_of_any_length_give_the_same_sound(case: str) -> None:
    """Whole blocks against single samples, and against blocks cut into halves, eighths and single samples by turns."""
    name, values = CASES[case]
    kind = KINDS[name]
    rng = np.random.default_rng(11)
    setting = setting_of(kind, values=values)
    fed = [rng.uniform(-5.0, 5.0, SAMPLES) for _ in kind.inputs]
    for i, port in enumerate(kind.inputs):
        if port.name == "clock":  # a tempo that changes half way
            fed[i] = pulses([*range(100, 9600, 500), *range(9600, SAMPLES, 430)], SAMPLES)
        elif port.name in ("hold", "reverse"):
            fed[i] = pulses(range(700 * i, SAMPLES, 1777 * i), SAMPLES, length=601)
        elif port.name == "time":
            fed[i] = np.repeat(rng.uniform(-1.0, 1.0, SAMPLES // 96), 96)
    whole, single, mixed = (Bench(kind, setting, plain=False, block=n) for n in (BLOCK, 1, BLOCK))
    expected = whole.run(fed, SAMPLES)
    assert np.abs(expected).max() > 1.0
    np.testing.assert_allclose(single.run(fed, SAMPLES), expected, rtol=1e-9, atol=1e-9)
    for turn, at in enumerate(range(0, SAMPLES, 5 * BLOCK)):
        mixed.block = (BLOCK, 1, BLOCK // 2, BLOCK // 8)[turn % 4]
        part = slice(at, at + 5 * BLOCK)
        got = mixed.run([wave[part] for wave in fed], 5 * BLOCK)
        np.testing.assert_allclose(got, expected[:, part], rtol=1e-9, atol=1e-9)
    for other in (single, mixed):
        np.testing.assert_allclose(other.state, whole.state, rtol=1e-9, atol=1e-9)
