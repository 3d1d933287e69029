"""The oscillator against Fourier series, equal temperament and the fold at half the sample rate."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from rigproof.kinds.base import RAIL_V, Level
from rigproof.kinds.oscillator import KIND
from rigproof.kinds.waves import AHEAD, OVERSHOOT_RATIO, cosine_of_turn, sine_of_turn
from rigproof.units import cents_from_ratio
from tests.kinds.alone import components_v, run
from tests.kinds.running import Floats, setting_of

SECOND = 48_000
LEAD_IN = 640

# Source: Fourier series of unit waves (any calculus text): saw 2/(pi n), square 4/(pi n) for odd n,
# triangle 8/(pi n)^2 for odd n.
SERIES: dict[str, Callable[[int], float]] = {
    "saw": lambda n: 2 / (math.pi * n),
    "pulse": lambda n: 4 / (math.pi * n) * (n % 2),
    "triangle": lambda n: 8 / (math.pi * n) ** 2 * (n % 2),
    "sine": lambda n: 1.0 if n == 1 else 0.0,
}

# Source: equal temperament, A4 = 440 Hz (ISO 16): C0, A1, C4, A4, A6, C8. [Hz]
PITCHES = [
    (-4.0, 16.351598),
    (-2.25, 55.0),
    (0.0, 261.625565),
    (0.75, 440.0),
    (2.75, 1760.0),
    (4.0, 4186.009045),
]


def second(hz: float, **rest: float) -> dict[str, Floats]:
    """A second of steady waves at a whole number of hertz."""
    return {
        name: wave[LEAD_IN:]
        for name, wave in run(KIND, SECOND + LEAD_IN, ins=None, tune=hz, **rest).items()
    }


@pytest.mark.parametrize(("pitch_v", "hz"), PITCHES)
def test_pitch_is_equal_temperament_at_one_volt_an_octave(pitch_v: float, hz: float) -> None:
    """Frequency from the slope of the sine's phase, fitted over whole seconds."""
    sine = run(KIND, 2 * SECOND, ins={"pitch": pitch_v})["sine"][LEAD_IN:]
    n = np.arange(sine.size)
    basis = np.exp(-2j * np.pi * hz / SECOND * n)
    half = sine.size // 2
    turned = np.angle(np.dot(sine[half:] * np.hanning(half), basis[half : 2 * half])) - np.angle(
        np.dot(sine[:half] * np.hanning(half), basis[:half])
    )
    turned = (turned + math.pi) % (2 * math.pi) - math.pi
    found_hz = hz + turned / (2 * math.pi) / (half / SECOND)
    assert abs(cents_from_ratio(found_hz / hz)) < 0.001


def test_fine_and_fm_count_in_semitones_and_octaves() -> None:
    up = run(KIND, 4800, tune=440.0, fine=12.0)["saw"]
    fm = run(KIND, 4800, tune=440.0, fm_depth=0.5, ins={"fm": 2.0})["saw"]
    plain = run(KIND, 4800, tune=880.0)["saw"]
    np.testing.assert_allclose(up, plain, atol=1e-9)
    np.testing.assert_allclose(fm, plain, atol=1e-9)


@pytest.mark.parametrize("name", SERIES)
@pytest.mark.parametrize("hz", [28, 440, 1760, 4186])
def test_harmonics_are_the_fourier_series(name: str, hz: int) -> None:
    """Up to 13 kHz within 0.1 dB: that is how flat the low pass of the jumps is."""
    found_v = components_v(second(hz)[name])
    for n in range(1, 13_000 // hz + 1):
        expected_v = 5.0 * SERIES[name](n)
        if expected_v == 0.0:
            assert found_v[n * hz] < 1e-4
        else:
            assert abs(20 * math.log10(found_v[n * hz] / expected_v)) < 0.1


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_pitch_and_harmonics_hold_at_other_rates(rate_hz: int) -> None:
    """The same pitch and the same series when the render runs at another rate."""
    saw = run(KIND, rate_hz + LEAD_IN, rate_hz=float(rate_hz), tune=1000.0)["saw"][LEAD_IN:]
    found_v = components_v(saw)
    for n in range(1, 12):
        assert abs(20 * math.log10(found_v[1000 * n] / (5.0 * SERIES["saw"](n)))) < 0.1
    assert folded_db(saw, 1000, 5_000) < -90.0


def test_a_narrow_pulse_has_its_series() -> None:
    """Source: Fourier series of a pulse of width d, 4/(pi n) |sin(pi n d)|, mean 2 d - 1."""
    found_v = components_v(second(500, width=0.1)["pulse"])
    assert found_v[0] == pytest.approx(5.0 * 0.8, rel=1e-6)
    for n in (1, 2, 3, 5, 9):
        assert found_v[500 * n] == pytest.approx(
            20 / (math.pi * n) * math.sin(math.pi * n * 0.1), rel=0.003
        )
    assert found_v[5000] < 1e-3  # the tenth is missing


def folded_db(wave_v: Floats, hz: int, below_hz: int) -> float:
    """The strongest component that is no harmonic, below a frequency, against the fundamental."""
    found_v = components_v(wave_v)
    fundamental_v = found_v[hz]
    found_v[::hz] = 0.0
    return float(20 * np.log10(found_v[:below_hz].max() / fundamental_v))


@pytest.mark.parametrize("name", SERIES)
@pytest.mark.parametrize(
    ("hz", "below_hz", "limit_db"),
    [(1760, 5_000, -90.0), (1760, 12_000, -85.0), (4186, 5_000, -90.0), (9001, 9_000, -80.0)],
)
def test_little_folds_down(name: str, hz: int, below_hz: int, limit_db: float) -> None:
    """A6 at 48 kHz must keep what folds to below 5 kHz at -60 dB or less; it does much better."""
    assert folded_db(second(hz)[name], hz, below_hz) < limit_db


def test_the_fold_test_can_fail() -> None:
    """The same measure on a saw without rounding: harmonic 27 folds to 480 Hz, 28.6 dB down."""
    phase = np.arange(SECOND) * 1760 / SECOND % 1.0
    assert -30.0 < folded_db(10 * phase - 5, 1760, 5_000) < -20.0


@pytest.mark.parametrize("name", ["saw", "triangle", "sine", "pulse"])
def test_a_synced_wave_repeats_with_its_master_and_hardly_folds(name: str) -> None:
    """The slave at 2.7 times the master: all that is heard lies on harmonics of the master."""
    master_hz = 375  # 128 samples, so that rounding of the master's rise is the same each time
    n = np.arange(SECOND + LEAD_IN)
    master_v = 5.0 * np.sin(2 * np.pi * (n * master_hz / SECOND - 0.1037))
    wave = run(KIND, n.size, tune=2.7 * master_hz, ins={"sync": master_v})[name][LEAD_IN:]
    np.testing.assert_allclose(wave[:-128], wave[128:], atol=1e-6)
    free = run(KIND, n.size, tune=2.7 * master_hz)[name][LEAD_IN:]
    assert np.abs(wave - free).max() > 1.0


@pytest.mark.parametrize("name", SERIES)
def test_sync_between_samples_folds_little(name: str) -> None:
    """A master whose period is no whole number of samples. The reset is placed between samples: straight
    lines make the crossing exact, and the master's fall is no rise."""
    master_hz = 1370
    n = np.arange(SECOND + LEAD_IN)
    master_v = (n * master_hz / SECOND % 1.0) * 10 - 5
    wave = run(KIND, n.size, tune=2000.0, ins={"sync": master_v})[name][LEAD_IN:]
    assert folded_db(wave, master_hz, 5_000) < -70.0
    late = run(KIND, n.size, tune=2000.0, ins={"sync": np.where(master_v >= 1.0, 5.0, 0.0)})[name]
    assert (
        folded_db(late[LEAD_IN:], master_hz, 5_000) > -45.0
    )  # a gate of whole samples does jitter


def test_a_moving_width_folds_little() -> None:
    """Width swept by a 100 Hz sine on a 1000 Hz pulse: all lines lie on multiples of 100 Hz."""
    n = np.arange(SECOND + LEAD_IN)
    cv = 2.0 * np.sin(2 * np.pi * 100 * n / SECOND)
    wave = run(KIND, n.size, tune=1000.0, ins={"width": cv})["pulse"][LEAD_IN:]
    found_v = components_v(wave)
    found_v[::100] = 0.0
    assert 20 * np.log10(found_v.max() / 5.0) < -70.0
    coarse = np.where(n % 48 / 48 < 0.5 + 0.1 * cv, 5.0, -5.0)[LEAD_IN:]
    assert np.abs(wave - np.roll(coarse, AHEAD))[np.abs(wave) > 4.9].mean() < 0.6


def test_levels_are_crest_factors_of_the_waves() -> None:
    """Source: RMS of saw and triangle peak/sqrt 3, of a sine peak/sqrt 2, of a square its peak; mean 0."""
    setting = setting_of(KIND, values={"tune": 100.0})
    told = KIND.level([Level()] * 4, setting)
    waves = second(100)
    for port, level in zip(KIND.outputs, told, strict=True):
        assert waves[port.name].mean() == pytest.approx(level.dc_v, abs=1e-6)
        assert waves[port.name].std() == pytest.approx(level.rms_v, rel=0.003)
    assert [round(x.rms_v, 6) for x in told] == [2.886751, 2.886751, 3.535534, 5.0]


@pytest.mark.parametrize("hz", [20.0, 261.6256, 1760.0, 5274.0, 9001.0, 15_000.0, 19_999.0])
@pytest.mark.parametrize("width", [0.5, 0.05])
def test_the_stop_for_ringing_is_not_reached_by_steady_waves_below_four_kilohertz(
    hz: float, width: float
) -> None:
    waves = run(KIND, 9600, tune=hz, width=width)
    highest = max(np.abs(w).max() for w in waves.values())
    assert highest <= min(OVERSHOOT_RATIO * 5.0, RAIL_V)
    if hz < 4000.0:
        assert highest < 1.17 * 5.0


def test_waves_are_late_by_the_delay_told() -> None:
    saw = run(KIND, 4800, tune=100.0)["saw"]
    ideal = (np.arange(1, 4801) * 100.0 / SECOND % 1.0) * 10 - 5
    np.testing.assert_allclose(saw[AHEAD + 100 : 400], ideal[100 : 400 - AHEAD], atol=1e-9)
    lags = KIND.lags(setting_of(KIND))
    assert {lag.lo_s for lag in lags} == {AHEAD / SECOND}


def test_sine_of_turn_is_the_sine() -> None:
    turns = np.linspace(0.0, 1.0, 4001)
    assert max(abs(sine_of_turn(t) - math.sin(2 * math.pi * t)) for t in turns) < 1e-11
    assert max(abs(cosine_of_turn(t) - math.cos(2 * math.pi * t)) for t in turns) < 1e-11
    assert max(sine_of_turn(t) for t in turns) <= 1.0
