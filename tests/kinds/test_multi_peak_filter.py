"""The multi-peak filter against its formula and a general-purpose filter library."""

import math
from typing import Any

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Span
from rigproof.kinds.elementary import tangent
from rigproof.kinds.multi_peak_filter import KIND
from rigproof.kinds.two_pole import STATE_LIMIT_V, two_pole
from tests.kinds.running import Floats, play, setting_of

RATE_HZ = 48_000.0
FREQUENCIES = {"frequency-1": 300.0, "frequency-2": 1100.0, "frequency-3": 2900.0}
LEVELS = {"level-1": 1.0, "level-2": 0.5, "level-3": -0.8}


def impulse(samples: int, q: float, **ins: float) -> Floats:
    setting = setting_of(KIND, ways=3, values={"q": q, **FREQUENCIES, **LEVELS})
    named = {name.replace("_", "-"): volts for name, volts in ins.items()}
    return play(KIND, setting, samples, {"in": np.eye(1, samples)[0], **named})["out"]


def wanted(hz: Any, frequencies_hz: tuple[float, ...], q: float) -> Floats:
    """The sum of scipy's bilinear transforms of (s / Q) / (s^2 + s / Q + 1), prewarped at each peak."""
    total = np.zeros(hz.size, dtype=complex)
    for f0_hz, gain in zip(frequencies_hz, LEVELS.values(), strict=True):
        w = 2 * RATE_HZ * math.tan(math.pi * f0_hz / RATE_HZ)
        b, a = signal.bilinear([w / q, 0.0], [1.0, w / q, w * w], RATE_HZ)
        total += gain * signal.freqz(b, a, hz, fs=RATE_HZ)[1]
    return np.abs(total)


@pytest.mark.parametrize("q", [1.0, 5.0, 30.0])
def test_the_sum_of_the_peaks(q: float) -> None:
    spectrum = np.fft.rfft(impulse(1 << 15, q))
    hz = np.fft.rfftfreq(1 << 15, 1 / RATE_HZ)
    heard = (hz > 20.0) & (hz < RATE_HZ / 4)
    target = wanted(hz[heard], (300.0, 1100.0, 2900.0), q)
    off_db = 20 * np.log10(np.abs(spectrum[heard]) / target)
    assert np.abs(off_db[target > 1e-3]).max() < 0.1


def test_bandwidth_is_frequency_over_q() -> None:
    """One peak: -3.0103 dB at two frequencies f0 / Q apart, whose geometric mean is f0 (low in the band)."""
    setting = setting_of(KIND, ways=1, values={"q": 5.0, "frequency-1": 200.0})
    out = play(KIND, setting, 1 << 15, {"in": np.eye(1, 1 << 15)[0]})["out"]
    hz = np.arange(150.0, 260.0, 0.02)
    gain = np.abs(np.exp(-2j * np.pi * np.outer(hz, np.arange(8000)) / RATE_HZ) @ out[:8000])
    over = hz[gain >= math.sqrt(0.5)]
    assert over[-1] - over[0] == pytest.approx(200.0 / 5.0, abs=0.1)
    assert math.sqrt(over[-1] * over[0]) == pytest.approx(200.0, abs=0.1)
    assert gain.max() == pytest.approx(1.0, abs=1e-3)


def test_peaks_move_together_and_each_by_itself() -> None:
    spectrum = np.abs(np.fft.rfft(impulse(1 << 15, 8.0, move=1.0, peak_2=-2.0)))
    hz = np.fft.rfftfreq(1 << 15, 1 / RATE_HZ)
    heard = (hz > 20.0) & (hz < RATE_HZ / 4)
    target = wanted(hz[heard], (600.0, 550.0, 5800.0), 8.0)
    off_db = 20 * np.log10(spectrum[heard] / target)
    assert np.abs(off_db[target > 1e-3]).max() < 0.1


def test_the_interval_is_reached_by_the_worst_input_of_one_peak() -> None:
    setting = setting_of(KIND, ways=1, values={"q": 2.0, "frequency-1": 700.0})
    [span] = KIND.interval([Span(-2.0, 2.0), ZERO, ZERO], setting)
    response = play(KIND, setting, 4096, {"in": np.eye(1, 4096)[0]})["out"]
    worst = 2.0 * np.sign(response[::-1])
    reached = play(KIND, setting, 4096, {"in": worst})["out"].max()
    assert span.hi - 0.01 < reached <= span.hi < RAIL_V
    assert KIND.interval([ZERO, Span(0, 5), ZERO], setting) == [ZERO]


def test_a_peak_driven_to_its_limit_is_that_of_the_shared_two_pole() -> None:
    """Second, slower computation. At a Q of 50 a tone of 10 V at the peak would ring up to 500 V: the limit counts."""
    n = np.arange(64 * 40)
    wave_v = 10.0 * np.sin(2.0 * np.pi * 800.0 / 48_000.0 * n)
    setting = setting_of(KIND, ways=1, values={"q": 50.0, "frequency-1": 800.0})
    got_v = play(KIND, setting, n.size, {"in": wave_v})["out"]
    first_v, second_v, wanted_v, highest_v = 0.0, 0.0, [], 0.0
    for x in wave_v:
        _, band_v, _, first_v, second_v = two_pole(
            x, first_v, second_v, tangent(np.pi * 800.0 / 48_000.0), 1.0 / 50.0
        )
        wanted_v.append(min(max(band_v / 50.0, -RAIL_V), RAIL_V))
        highest_v = max(highest_v, abs(first_v), abs(second_v))
    assert highest_v == STATE_LIMIT_V
    assert got_v == pytest.approx(np.array(wanted_v), abs=1e-9)
