"""The Sallen-Key filter against published part values, the two-pole table and a general-purpose filter library."""

import math

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Span
from rigproof.kinds.sallen_key_filter import KIND, equal_parts_gain, part_values
from tests.kinds.alone import gain_db, run
from tests.kinds.running import Floats, setting_of

RATE_HZ = 48_000.0


def impulse(samples: int, **values: float) -> Floats:
    return run(KIND, samples, ins={"in": np.eye(1, samples)[0]}, **values)["out"]


@pytest.mark.parametrize(
    ("c1_nf", "c2_nf", "q"),
    # Source: unity gain, equal R: C1 = C2 gives Q 0.5, C1 = 2 C2 gives 0.707107.
    [(10.0, 10.0, 0.5), (20.0, 10.0, 0.707107), (22.0, 10.0, 0.741620)],
)
def test_unity_gain_parts(c1_nf: float, c2_nf: float, q: float) -> None:
    assert part_values(10e3, 10e3, c1_nf * 1e-9, c2_nf * 1e-9)[1] == pytest.approx(q, abs=1e-6)


def test_equal_parts() -> None:
    """Source: Q = 1 / (3 - K): Butterworth at K 1.585786; it sings at 3."""
    assert equal_parts_gain(math.sqrt(0.5)) == pytest.approx(1.585786, abs=1e-6)
    assert equal_parts_gain(1e9) == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("q", "at_cutoff_db", "peak_db", "peak_ratio"),
    # Source: two-pole table: gain at f0 = Q, peak = Q / sqrt(1 - 1/(4 Q^2)) at f0 sqrt(1 - 1/(2 Q^2)).
    [(1.0, 0.0, 1.249387, 0.707107), (5.0, 13.979400, 14.023048, 0.989949)],
)
def test_resonance_at_a_low_cutoff_is_the_analogue_one(
    q: float, at_cutoff_db: float, peak_db: float, peak_ratio: float
) -> None:
    response = impulse(1 << 15, cutoff=200.0, q=q)
    assert gain_db(response, 200.0) == pytest.approx(at_cutoff_db, abs=1e-4)
    assert gain_db(response, 200.0 * peak_ratio) == pytest.approx(peak_db, abs=0.01)


@pytest.mark.parametrize("cutoff_hz", [60.0, 1000.0, 9000.0])
@pytest.mark.parametrize("q", [0.5, math.sqrt(0.5), 8.0])
@pytest.mark.parametrize("build", [0.0, 1.0])
@pytest.mark.parametrize("high", [0.0, 1.0])
def test_against_a_filter_library(cutoff_hz: float, q: float, build: float, high: float) -> None:
    """Second opinion: the analogue H(s) put through scipy's bilinear transform, prewarped at the cutoff."""
    w = 2 * RATE_HZ * math.tan(math.pi * cutoff_hz / RATE_HZ)
    gain = 3.0 - 1.0 / q if build else 1.0
    top = [gain, 0.0, 0.0] if high else [gain * w * w]
    b, a = signal.bilinear(top, [1.0, w / q, w * w], RATE_HZ)
    hz = np.geomspace(20.0, RATE_HZ / 4, 50)
    _, wanted = signal.freqz(b, a, hz, fs=RATE_HZ)
    response = impulse(1 << 14, cutoff=cutoff_hz, q=q, build=build, response=high)
    for at_hz, h in zip(hz, wanted, strict=True):
        if abs(h) > 1e-3:
            assert gain_db(response, float(at_hz)) == pytest.approx(
                20 * math.log10(abs(h)), abs=0.1
            )


def test_cutoff_and_q_follow_their_inputs() -> None:
    hit = np.eye(1, 4096)[0]
    moved = run(
        KIND, 4096, ins={"in": hit, "cutoff": 2.0, "q": 1.5}, cutoff=250.0, q=0.5, q_depth=1.0
    )["out"]
    np.testing.assert_allclose(moved, impulse(4096, cutoff=1000.0, q=2.0), atol=1e-12)


@pytest.mark.parametrize("high", [0.0, 1.0])
@pytest.mark.parametrize("build", [0.0, 1.0])
def test_the_interval_is_reached_by_the_worst_input_and_not_passed(
    high: float, build: float
) -> None:
    values = {"cutoff": 800.0, "q": 1.5, "response": high, "build": build}
    [span] = KIND.interval([Span(-1.0, 1.0), ZERO, ZERO], setting_of(KIND, values=values))
    worst = np.sign(impulse(4096, **values)[::-1])
    reached = run(KIND, 4096, ins={"in": worst}, **values)["out"].max()
    assert span.hi - 0.01 < reached <= span.hi < RAIL_V
