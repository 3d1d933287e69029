"""The ladder filter against its linear closed form, and its saturation and whistle."""

import math

import numpy as np
import pytest

from rigproof.kinds.base import RAIL_V, ZERO, Level, Span
from rigproof.kinds.ladder_filter import KIND, SATURATION_V, saturate, solve
from tests.kinds.alone import components_v, gain_db, run
from tests.kinds.running import Floats, setting_of

RATE_HZ = 48_000.0
SMALL_V = 1e-3


def impulse(samples: int, **values: float) -> Floats:
    """Impulse response for a millivolt, over a millivolt: too small to saturate."""
    hit = np.zeros(samples)
    hit[0] = SMALL_V
    return run(KIND, samples, ins={"in": hit}, **values)["out"] / SMALL_V


@pytest.mark.parametrize("cutoff_hz", [300.0, 1000.0, 5000.0, 9000.0])
@pytest.mark.parametrize("resonance", [0.0, 0.25, 0.75, 0.975])
def test_small_voltages_follow_the_closed_form(cutoff_hz: float, resonance: float) -> None:
    """Source: H = 1/((1+S)^4 + k), S = j tan(pi f/fs)/tan(pi fc/fs), within 0.1 dB below a quarter of the rate."""
    response = impulse(1 << 16, cutoff=cutoff_hz, resonance=resonance)
    g = math.tan(math.pi * cutoff_hz / RATE_HZ)
    for hz in np.geomspace(20.0, RATE_HZ / 4, 25):
        s = 1j * math.tan(math.pi * hz / RATE_HZ) / g
        wanted_db = 20 * math.log10(abs(1 / ((1 + s) ** 4 + 4 * resonance)))
        if wanted_db > -90.0:
            assert gain_db(response, float(hz)) == pytest.approx(wanted_db, abs=0.1)


@pytest.mark.parametrize(
    ("k", "at_zero_db", "at_cutoff_db", "peak_db", "peak_ratio"),
    # Source: table of the linear ladder: gain 1/(1+k) at 0 Hz, 1/(4-k) at the cutoff, and the peak.
    [
        (1.0, -6.020600, -9.542425, -3.7209, 0.6155),
        (2.0, -9.542425, -6.020600, -1.7422, 0.8187),
        (3.0, -12.041200, 0.0, 3.5028, 0.9268),
        (3.5, -13.064250, 6.020600, 9.2535, 0.9663),
    ],
)
def test_table_of_the_analogue_ladder(
    k: float, at_zero_db: float, at_cutoff_db: float, peak_db: float, peak_ratio: float
) -> None:
    """At 200 Hz the trapezoidal rule hardly differs."""
    response = impulse(1 << 15, cutoff=200.0, resonance=k / 4.0)
    assert gain_db(response, 0.0) == pytest.approx(at_zero_db, abs=1e-3)
    assert gain_db(response, 200.0) == pytest.approx(at_cutoff_db, abs=1e-3)
    assert gain_db(response, 200.0 * peak_ratio) == pytest.approx(peak_db, abs=0.01)


def test_without_resonance_it_is_three_decibels_down_where_four_poles_are() -> None:
    """Source: k = 0 is -12.041200 dB at fc and -3.0103 dB at 0.434979 fc."""
    response = impulse(1 << 15, cutoff=200.0)
    assert gain_db(response, 200.0) == pytest.approx(-12.041200, abs=1e-4)
    assert gain_db(response, 0.434979 * 200.0) == pytest.approx(-3.0103, abs=1e-3)


@pytest.mark.parametrize("cutoff_hz", [220.0, 1000.0, 4000.0])
def test_it_whistles_at_its_cutoff_above_a_resonance_of_one(cutoff_hz: float) -> None:
    """Source: at k = 4 one pair of poles lies at +/- j wc. With silence at the input; tolerance one per cent, for
    the saturation bends the pitch."""
    out = run(KIND, 192_000, cutoff=cutoff_hz, resonance=1.1)["out"]
    found_v = components_v(out[-48_000:])
    assert int(np.argmax(found_v)) == pytest.approx(cutoff_hz, rel=0.01)
    assert 0.5 < found_v.max() < 5.0
    assert np.abs(out[-4800:]).max() == pytest.approx(np.abs(out[-9600:-4800]).max(), rel=0.01)


def test_it_falls_silent_below_a_resonance_of_one() -> None:
    hit = np.zeros(480_000)
    hit[:100] = 5.0
    out = run(KIND, hit.size, ins={"in": hit}, resonance=0.98)["out"]
    assert np.abs(out[:4800]).max() > 0.01
    assert not out[-1000:].any()


def test_drive_saturates_sooner() -> None:
    """A slow ramp shows the bend: the stages get x / sqrt(1 + (x drive / 10 V)^2)."""
    ramp = np.linspace(0.0, 5.0, 96_000)
    for drive in (0.5, 1.0, 4.0):
        out = run(KIND, ramp.size, ins={"in": ramp}, cutoff=10_000.0, drive=drive)["out"]
        wanted = ramp / np.sqrt(1 + (ramp * drive / SATURATION_V) ** 2)
        np.testing.assert_allclose(out[1000:], wanted[1000:], atol=0.002)


@pytest.mark.parametrize("drive_v", [-50.0, -3.0, 0.0, 0.7, 11.0, 60.0])
@pytest.mark.parametrize("feedback", [0.0, 0.1, 1.0, 5.0])
@pytest.mark.parametrize("ceiling_v", [1.0, 10.0, 100.0])
def test_the_loop_is_solved(drive_v: float, feedback: float, ceiling_v: float) -> None:
    """What comes out, put in again, gives itself."""
    u = solve(drive_v, feedback, ceiling_v)
    assert u == pytest.approx(ceiling_v * saturate((drive_v - feedback * u) / ceiling_v), abs=1e-8)


def test_interval() -> None:
    quiet = setting_of(KIND, values={"resonance": 0.9})
    assert KIND.interval([ZERO, ZERO, ZERO], quiet) == [ZERO]
    whistling = setting_of(KIND, values={"resonance": 1.1})
    assert KIND.interval([ZERO, ZERO, ZERO], whistling) == [Span(-SATURATION_V, SATURATION_V)]
    driven = setting_of(KIND, values={"drive": 4.0, "resonance": 0.5})
    assert KIND.interval([Span(-5.0, 5.0), ZERO, ZERO], driven) == [Span(-2.5, 2.5)]
    high = setting_of(KIND, values={"cutoff": 15_000.0})
    assert KIND.interval([Span(-5.0, 5.0), ZERO, ZERO], high) == [Span(-RAIL_V, RAIL_V)]


def test_level_of_the_pass_band() -> None:
    """A 50 Hz sine well below the cutoff, with the loss that resonance brings: 1/(1+k) of it, saturated a little."""
    n = np.arange(48_000)
    sine = 2.0 * np.sin(2 * np.pi * 50 * n / RATE_HZ)
    out = run(KIND, n.size, ins={"in": sine}, cutoff=5000.0, resonance=0.5)["out"][4800:]
    setting = setting_of(KIND, values={"cutoff": 5000.0, "resonance": 0.5})
    [told] = KIND.level([Level.swing(2.0, crest_ratio=math.sqrt(2.0)), Level(), Level()], setting)
    assert told.rms_v == pytest.approx(out.std(), rel=0.02)


def bisected(drive_v: float, feedback: float, ceiling_v: float) -> float:
    """The same answer by halving, which needs no slopes and no guess."""
    lo_v, hi_v = -ceiling_v, ceiling_v
    for _ in range(100):
        u = (lo_v + hi_v) / 2.0
        if u > ceiling_v * saturate((drive_v - feedback * u) / ceiling_v):
            hi_v = u
        else:
            lo_v = u
    return (lo_v + hi_v) / 2.0


def test_the_loop_is_solved_wherever_it_is_driven() -> None:
    """Oracle: bisection. Every ceiling that `drive` allows, drives past all that inputs and stages can hold."""
    rng = np.random.default_rng(4)
    for _ in range(1500):
        ceiling_v = 10.0 ** rng.uniform(0.0, 2.0)
        feedback = rng.choice([0.0, 1e-9, 5.0, rng.uniform(0.0, 5.0)])
        drive_v = rng.choice([0.0, 10.0 ** rng.uniform(-9.0, 1.0), rng.uniform(-500.0, 500.0)])
        u = solve(drive_v, feedback, ceiling_v)
        assert u == pytest.approx(bisected(drive_v, feedback, ceiling_v), abs=1e-9 * ceiling_v)


def plainly(wave: Floats, cutoff_hz: float, resonance: float, drive: float) -> tuple[Floats, bool]:
    """The same filter with the loop solved from the start in every sample; and whether a stage met its limit."""
    g = math.tan(math.pi * cutoff_hz / RATE_HZ)
    share, a, k = 1.0 / (1.0 + g), g / (1.0 + g), 4.0 * resonance
    stages_v, limit_v, met_limit = [0.0] * 4, 8.0 * RAIL_V, False
    out = np.zeros(wave.size)
    for n, x in enumerate(wave):
        held_v = 0.0
        for s in stages_v:
            held_v = share * s + a * held_v
        spark_v = 1e-6 if k >= 4.0 else 0.0
        low = solve(float(x) + spark_v - k * held_v, k * a**4, SATURATION_V / drive)
        for i, s in enumerate(stages_v):
            low = share * s + a * low
            wanted_v = 2.0 * low - s
            stages_v[i] = min(max(wanted_v, -limit_v), limit_v)
            met_limit |= stages_v[i] != wanted_v
        out[n] = min(max(low, -RAIL_V), RAIL_V)
    return out, met_limit


@pytest.mark.parametrize("resonance", [0.0, 0.9, 1.25])
@pytest.mark.parametrize(("cutoff_hz", "drive"), [(300.0, 1.0), (5000.0, 6.0), (15_000.0, 2.0)])
def test_the_series_gives_what_solving_from_the_start_gives(
    cutoff_hz: float, drive: float, resonance: float
) -> None:
    """Oracle: `solve` in every sample. Noise and a square: jumps too far for the series, and rests within its reach."""
    rng = np.random.default_rng(5)
    wave = np.concatenate([rng.uniform(-5, 5, 1000), np.repeat([5.0, -5.0, 4.0], 300)])
    out = run(KIND, wave.size, ins={"in": wave}, cutoff=cutoff_hz, resonance=resonance, drive=drive)
    wanted, _ = plainly(wave, cutoff_hz, resonance, drive)
    np.testing.assert_allclose(out["out"], wanted, atol=1e-7 * SATURATION_V / drive)


def test_stages_stop_at_their_limit() -> None:
    """A ceiling of 100 V, all the resonance there is, and a square at the cutoff: more than the stages can hold."""
    cutoff_hz = 18_000.0
    wave = 11.0 * np.sign(np.sin(0.3 + 2 * np.pi * cutoff_hz / RATE_HZ * np.arange(500)))
    wanted, met_limit = plainly(wave, cutoff_hz, 1.25, 0.1)
    assert met_limit
    out = run(KIND, wave.size, ins={"in": wave}, cutoff=cutoff_hz, resonance=1.25, drive=0.1)["out"]
    np.testing.assert_allclose(out, wanted, atol=1e-5)
