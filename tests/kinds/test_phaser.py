"""The phaser against the closed form of a chain of all-passes and a general-purpose filter library."""

import math

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Span
from rigproof.kinds.phaser import KIND
from tests.kinds.alone import gain_db, run
from tests.kinds.running import Floats, setting_of

RATE_HZ = 48_000.0
STILL = {"rate": 0.0, "depth": 0.0}


def impulse(samples: int, **values: float) -> Floats:
    return run(KIND, samples, ins={"in": np.eye(1, samples)[0]}, **STILL, **values)["out"]


@pytest.mark.parametrize(
    ("choice", "angles_deg"),
    # Source: n stages of 2 atan(tan(pi f / fs) / tan(pi f0 / fs)) each; out of phase where they add up to 180, 540..
    [(0, (45.0,)), (1, (22.5, 67.5)), (2, (15.0, 45.0, 75.0))],
)
@pytest.mark.parametrize("f0_hz", [400.0, 2000.0])
def test_notches(choice: float, angles_deg: tuple[float, ...], f0_hz: float) -> None:
    response = impulse(1 << 14, stages=choice, frequency=f0_hz, feedback=0.0)
    g = math.tan(math.pi * f0_hz / RATE_HZ)
    for angle_deg in angles_deg:
        hz = RATE_HZ / math.pi * math.atan(g * math.tan(math.radians(angle_deg)))
        assert gain_db(response, hz) < -100.0
    assert gain_db(response, 0.0) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("choice", [0, 1, 5])
@pytest.mark.parametrize("feedback", [0.0, 0.7, -0.7])
def test_against_a_filter_library(choice: int, feedback: float) -> None:
    """Second opinion: scipy's bilinear transform of ((w0 - s) / (w0 + s))^n, feedback one sample late."""
    f0_hz = 900.0
    response = impulse(1 << 15, stages=float(choice), frequency=f0_hz, feedback=feedback)
    w0 = 2 * RATE_HZ * math.tan(math.pi * f0_hz / RATE_HZ)
    b, a = signal.bilinear([-1.0, w0], [1.0, w0], RATE_HZ)
    hz = np.geomspace(20.0, 12_000.0, 60)
    _, one = signal.freqz(b, a, hz, fs=RATE_HZ)
    chain = one ** (2 * (choice + 1))
    wanted = 0.5 + 0.5 * chain / (1 - feedback * np.exp(-2j * np.pi * hz / RATE_HZ) * chain)
    for at_hz, h in zip(hz, wanted, strict=True):
        if abs(h) > 1e-3:
            assert gain_db(response, float(at_hz)) == pytest.approx(
                20 * math.log10(abs(h)), abs=0.01
            )


def test_sweep_follows_its_input_in_octaves() -> None:
    hit = np.eye(1, 4096)[0]
    moved = run(
        KIND, 4096, ins={"in": hit, "sweep": 2.0}, frequency=300.0, sweep_depth=0.5, **STILL
    )["out"]
    np.testing.assert_allclose(moved, impulse(4096, frequency=600.0), atol=1e-12)


def test_the_triangle_sweeps_by_its_depth() -> None:
    """A quarter of a turn on, the stages are `depth` octaves higher; three quarters on, as much lower."""
    samples = 48_000
    for at, f0_hz in ((12_000, 1600.0), (36_000, 400.0)):
        tone = np.sin(2 * np.pi * f0_hz * np.arange(samples) / RATE_HZ)
        out = run(
            KIND,
            samples,
            ins={"in": tone},
            rate=1.0,
            depth=1.0,
            frequency=800.0,
            stages=0.0,
            feedback=0.0,
        )["out"]
        here = np.abs(out[at - 240 : at + 240]).max()
        assert here < 0.05  # the notch of two stages lies at their frequency
        assert np.abs(out[23_000:25_000]).max() > 0.3


def test_the_interval_is_reached_by_the_worst_input_and_not_passed() -> None:
    values = {"stages": 1.0, "frequency": 900.0, "feedback": 0.5}
    setting = setting_of(KIND, values={**STILL, **values})
    [span] = KIND.interval([Span(-1.0, 1.0), ZERO], setting)
    response = impulse(4096, **values)
    worst = np.sign(response[::-1])
    reached = run(KIND, 4096, ins={"in": worst}, **STILL, **values)["out"].max()
    assert span.hi - 0.01 < reached <= span.hi < RAIL_V
    assert KIND.interval([ZERO, Span(-5.0, 5.0)], setting) == [ZERO]


def test_it_dies_to_exact_silence() -> None:
    wave = np.zeros(96_000)
    wave[:4800] = 5.0
    out = run(KIND, wave.size, ins={"in": wave}, feedback=0.9)["out"]
    assert out[4800:6000].any()
    assert not out[-1000:].any()
