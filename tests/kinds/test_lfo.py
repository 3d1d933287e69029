"""The LFO's speed, waves, lock to a clock and reset."""

from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.base import Beat, Level, Pulse, Span
from rigproof.kinds.lfo import KIND, RATIOS
from tests.kinds.alone import run
from tests.kinds.running import play, pulses, rises, setting_of

RATE_HZ = 48_000
SINE, TRIANGLE, SAW, SQUARE = "sine", "triangle", "saw", "square"


def ratio(name: str) -> float:
    return float(RATIOS.index(name))


@pytest.mark.parametrize(
    ("hz", "cv_v", "depth", "expected_hz"),
    [
        (2.0, 0.0, 1.0, 2.0),
        (2.0, 3.0, 1.0, 16.0),
        (2.0, -1.0, 1.0, 1.0),
        (8.0, 2.0, 0.5, 16.0),
        (0.5, 0.0, 1.0, 0.5),
    ],
)
def test_free_speed(hz: float, cv_v: float, depth: float, expected_hz: float) -> None:
    """`rate-depth` octaves a volt: twice for each octave."""
    saw = run(KIND, 4 * RATE_HZ, ins={"rate": cv_v}, rate=hz, rate_depth=depth)[SAW]
    steps = np.diff(saw)
    turns = np.where(steps < -1.0, steps + 10.0, steps).sum() / 10.0
    assert turns / (steps.size / RATE_HZ) == pytest.approx(expected_hz, rel=1e-9)


def test_waves_start_together_and_have_their_shapes() -> None:
    """One cycle against the closed forms."""
    out = run(KIND, 4800, rate=10.0)
    p = np.arange(1, 4800) / 4800
    np.testing.assert_allclose(out[SINE][:-1], 5 * np.sin(2 * np.pi * p), atol=1e-9)
    np.testing.assert_allclose(out[SAW][:-1], 10 * p - 5, atol=1e-9)
    np.testing.assert_allclose(
        out[TRIANGLE][:-1], 5 * 2 / np.pi * np.arcsin(np.sin(2 * np.pi * p)), atol=1e-6
    )
    away = np.abs(p - 0.5) > 1e-3
    np.testing.assert_array_equal(out[SQUARE][:-1][away], np.where(p < 0.5, 5.0, -5.0)[away])


@pytest.mark.parametrize("polarity", [0.0, 1.0])
def test_levels_are_measured(polarity: float) -> None:
    """Source: RMS of a sine peak/sqrt 2, triangle and saw peak/sqrt 3, square its peak; unipolar half of it,
    about half the level."""
    out = run(KIND, RATE_HZ, rate=10.0, polarity=polarity)
    setting = setting_of(KIND, values={"polarity": polarity})
    told = KIND.level([Level()] * 3, setting)
    [span] = set(KIND.interval([Span(0.0, 0.0)] * 3, setting))
    assert (span.lo, span.hi) == ((0.0, 5.0) if polarity else (-5.0, 5.0))
    for port, level in zip(KIND.outputs, told, strict=True):
        wave = out[port.name]
        assert level.dc_v == pytest.approx(wave.mean(), abs=0.002)
        assert level.rms_v == pytest.approx(wave.std(), rel=1e-3)
        assert (wave.min(), wave.max()) == pytest.approx((level.lo_v, level.hi_v), abs=0.005)


@pytest.mark.parametrize("name", ["1/4", "1/3", "1/2", "2/3", "1", "3/2", "2", "3", "4", "16"])
@pytest.mark.parametrize("period", [1000, 1237])
def test_a_steady_clock_is_met_exactly(name: str, period: int) -> None:
    """Cycles of the saw over many pulses are the ratio, and cycles start on a pulse."""
    count = 36
    samples = count * period
    clock = pulses(range(0, samples, period), samples)
    saw = run(KIND, samples, ins={"clock": clock}, sync=1.0, ratio=ratio(name), rate=0.37)[SAW]
    settled = 12 * period
    starts = np.flatnonzero(np.diff(saw) < -5.0) + 1
    starts = starts[starts >= settled]
    gap = period / float(Fraction(name))
    assert starts.size == pytest.approx((samples - settled) / gap, abs=1.0)
    off = (starts + gap / 2) % gap - gap / 2
    assert np.abs(off).max() <= 1.001  # a sample, for the cycle starts between two of them


def test_a_slowing_clock_is_followed_without_jumps() -> None:
    """The sine never moves faster than a clamped speed allows, and is in phase again two pulses later."""
    places = [*range(0, 10_000, 1000), *range(10_000, 40_000, 1500)]
    clock = pulses(places, 40_000)
    sine = run(KIND, 40_000, ins={"clock": clock}, sync=1.0)[SINE]
    assert np.abs(np.diff(sine[2000:])).max() < 5 * 2 * np.pi / 1000 * 1.01
    for place in places[-12:]:
        assert abs(sine[place]) < 0.05


def test_reset_starts_a_cycle() -> None:
    out = run(KIND, 9600, ins={"reset": pulses([3000], 9600)}, rate=10.0)
    assert out[SAW][3000] == -5.0
    assert out[SINE][3000] == 0.0
    np.testing.assert_allclose(
        out[SAW][3000:7000], out[SAW][3000] + np.arange(4000) / 480, atol=1e-9
    )


def test_reset_moves_where_a_slow_cycle_starts() -> None:
    """At a quarter of the clock, a reset together with the sixth pulse makes that pulse the first of four."""
    clock = pulses(range(0, 40_000, 1000), 40_000)
    out = run(
        KIND,
        40_000,
        ins={"clock": clock, "reset": pulses([6000], 40_000)},
        sync=1.0,
        ratio=ratio("1/4"),
    )
    starts = [i + 1 for i in np.flatnonzero(np.diff(out[SAW]) < -5.0)]
    assert [s for s in starts if s > 7000][:3] == pytest.approx([10_000, 14_000, 18_000], abs=1)


@pytest.mark.parametrize(
    ("name", "per_quarter"), [("1/4", Fraction(1)), ("1", Fraction(4)), ("3", Fraction(12))]
)
def test_rate_told_is_the_rate_heard(name: str, per_quarter: Fraction) -> None:
    """Four pulses a quarter at 120 BPM, 6000 samples apart at 48 kHz."""
    setting = setting_of(KIND, values={"sync": 1.0, "ratio": ratio(name)})
    told = KIND.rate([Pulse(), Pulse.steady(Fraction(4)), Pulse()], setting)
    assert told is not None
    clock = pulses(range(0, 96_000, 6000), 96_000)
    square = play(KIND, setting, 96_000, {"clock": clock})[SQUARE]
    heard = rises(square[48_000:])  # two quarters
    for out in told:
        assert out.per_quarter == per_quarter
    assert len(heard) == pytest.approx(2 * float(per_quarter), abs=1.0)
    free = KIND.rate([Pulse()] * 3, setting_of(KIND, values={"rate": 2.0}))
    assert free is not None
    assert (free[3].beat, free[3].hz, free[3].length_s) == (Beat.FREE, 2.0, 0.25)
