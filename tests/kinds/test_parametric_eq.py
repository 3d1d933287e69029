"""The equaliser against the analogue prototypes of the published cookbook, by a general-purpose filter library."""

import math
from typing import Any

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Level, Span
from rigproof.kinds.parametric_eq import KIND, LIMIT_V, design
from tests.kinds.alone import gain_db
from tests.kinds.running import Floats, play, setting_of

RATE_HZ = 48_000.0
PEAK, LOW_SHELF, HIGH_SHELF = 0, 1, 2


def prototype(shape: int, db: float, q: float) -> tuple[list[float], list[float]]:
    """Analogue H(s) at 1 rad/s.

    Source: R. Bristow-Johnson, Audio EQ Cookbook, W3C Working Group Note (2021), peakingEQ, lowShelf, highShelf.
    """
    a = 10 ** (db / 40)
    if shape == PEAK:
        return [1.0, a / q, 1.0], [1.0, 1 / (a * q), 1.0]
    low = [a, a * math.sqrt(a) / q, a * a], [a, math.sqrt(a) / q, 1.0]
    return low if shape == LOW_SHELF else (low[0][::-1], low[1][::-1])


def response_of(bands: list[tuple[int, float, float, float]]) -> Floats:
    values: dict[str, float] = {}
    for i, (shape, hz, db, q) in enumerate(bands, 1):
        values |= {f"shape-{i}": shape, f"frequency-{i}": hz, f"gain-{i}": db, f"q-{i}": q}
    setting = setting_of(KIND, ways=len(bands), values=values)
    return play(KIND, setting, 1 << 15, {"in": np.eye(1, 1 << 15)[0]})["out"]


def wanted(bands: list[tuple[int, float, float, float]], hz: Floats) -> Any:
    """Scipy's bilinear transform of every prototype, prewarped at its frequency, multiplied."""
    total = np.ones(hz.size, dtype=complex)
    for shape, f0_hz, db, q in bands:
        w = 2 * RATE_HZ * math.tan(math.pi * f0_hz / RATE_HZ)
        top, bottom = prototype(shape, db, q)
        scale = np.array([1.0, w, w * w])
        b, a = signal.bilinear(np.array(top) * scale, np.array(bottom) * scale, RATE_HZ)
        total *= signal.freqz(b, a, hz, fs=RATE_HZ)[1]
    return np.abs(total)


@pytest.mark.parametrize("shape", [PEAK, LOW_SHELF, HIGH_SHELF])
@pytest.mark.parametrize("db", [-18.0, -3.0, 6.0, 20.0])
@pytest.mark.parametrize(("f0_hz", "q"), [(80.0, 0.707), (1000.0, 3.0), (9000.0, 0.5)])
def test_one_band(shape: int, db: float, f0_hz: float, q: float) -> None:
    bands = [(shape, f0_hz, db, q)]
    response = response_of(bands)
    hz = np.geomspace(20.0, RATE_HZ / 4, 40)
    for at_hz, gain in zip(hz, wanted(bands, hz), strict=True):
        assert gain_db(response, float(at_hz)) == pytest.approx(20 * math.log10(gain), abs=0.1)
    middle_db = db if shape == PEAK else db / 2
    assert gain_db(response, f0_hz) == pytest.approx(middle_db, abs=0.01)


def test_bands_in_a_row_multiply() -> None:
    bands = [
        (LOW_SHELF, 120.0, 4.0, 0.7),
        (PEAK, 900.0, -9.0, 4.0),
        (PEAK, 1400.0, 5.0, 1.0),
        (HIGH_SHELF, 6000.0, -6.0, 0.7),
    ]
    response = response_of(bands)
    hz = np.geomspace(20.0, RATE_HZ / 4, 60)
    for at_hz, gain in zip(hz, wanted(bands, hz), strict=True):
        assert gain_db(response, float(at_hz)) == pytest.approx(20 * math.log10(gain), abs=0.1)


def test_a_boost_and_the_same_cut_undo_each_other() -> None:
    response = response_of([(PEAK, 700.0, 9.0, 2.0), (PEAK, 700.0, -9.0, 2.0)])
    np.testing.assert_allclose(response, np.eye(1, 1 << 15)[0], atol=1e-12)


def test_at_zero_db_nothing_changes_a_bit() -> None:
    noise = np.random.default_rng(3).uniform(-5, 5, 4800)
    out = play(KIND, setting_of(KIND), 4800, {"in": noise})["out"]
    np.testing.assert_allclose(out, noise, atol=1e-12)
    assert KIND.interval([Span(-3.0, 2.0)], setting_of(KIND)) == [Span(-3.0, 2.0)]


def test_the_interval_is_reached_by_the_worst_input_and_not_passed() -> None:
    bands = [(PEAK, 900.0, 9.0, 2.0), (HIGH_SHELF, 4000.0, -6.0, 0.7)]
    values: dict[str, float] = {}
    for i, (shape, hz, db, q) in enumerate(bands, 1):
        values |= {f"shape-{i}": shape, f"frequency-{i}": hz, f"gain-{i}": db, f"q-{i}": q}
    setting = setting_of(KIND, ways=2, values=values)
    [span] = KIND.interval([Span(-1.0, 1.0)], setting)
    worst = np.sign(response_of(bands)[:4096][::-1])
    reached = play(KIND, setting, 4096, {"in": worst})["out"].max()
    assert span.hi - 0.01 < reached <= span.hi < RAIL_V
    assert KIND.interval([ZERO], setting) == [ZERO]


def test_level_of_a_wide_boost() -> None:
    """Two shelves that meet raise everything by 6 dB, within what a meeting of shelves ripples."""
    values = {"shape-1": 1.0, "shape-2": 2.0, "gain-1": 6.0, "gain-2": 6.0}
    setting = setting_of(KIND, ways=2, values=values)
    told = KIND.level([Level.swing(2.0, crest_ratio=2.0)], setting)[0]
    assert 20 * math.log10(told.rms_v) == pytest.approx(6.0, abs=0.5)


def test_the_cookbook_peak_by_hand() -> None:
    """Source: the same cookbook's digital formulas; f0 = fs / 4, so cos = 0, sin = 1, and Q 0.5 makes alpha 1."""
    a = 10 ** (12.0 / 40)
    made = design(PEAK, 0.25, 12.0, 0.5)
    over = 1 + 1 / a
    assert made == pytest.approx(((1 + a) / over, 0.0, (1 - a) / over, 0.0, (1 - 1 / a) / over))


def test_bands_driven_to_their_limit_stop_there() -> None:
    """Second, slower computation. Four bands of 24 dB would ring up to 10 V times 63,000: the limit counts."""
    samples = 64 * 40
    wave_v = 10.0 * np.sin(2.0 * np.pi * 1000.0 / 48_000.0 * np.arange(samples))
    values = {f"gain-{i}": 24.0 for i in range(1, 5)} | {f"q-{i}": 2.0 for i in range(1, 5)}
    got_v = play(KIND, setting_of(KIND, ways=4, values=values), samples, {"in": wave_v})["out"]
    b0, b1, b2, a1, a2 = design(PEAK, 1000.0 / 48_000.0, 24.0, 2.0)
    band_v, highest_v = wave_v, 0.0
    for _ in range(4):
        first_v, second_v, passed_v = 0.0, 0.0, []
        for n, x in enumerate(band_v):
            v = b0 * x + first_v
            first_v = min(max(b1 * x - a1 * v + second_v, -LIMIT_V), LIMIT_V)
            second_v = b2 * x - a2 * v
            if n % 64 == 63:
                second_v = min(max(second_v, -LIMIT_V), LIMIT_V)
            highest_v = max(highest_v, abs(first_v))
            passed_v.append(v)
        band_v = np.array(passed_v)
    assert highest_v == LIMIT_V
    assert got_v == pytest.approx(np.clip(band_v, -RAIL_V, RAIL_V), abs=1e-7)
