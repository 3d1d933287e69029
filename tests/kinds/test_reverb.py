"""The reverb: decay over octave bands, lossless hold, power and times."""

import math

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Level, Span
from rigproof.kinds.reverb import KIND, LINE_S, decay_s_at, line_samples
from tests.kinds.alone import run
from tests.kinds.running import Floats, setting_of

RATE = 48_000
OCTAVES_HZ = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)


def room(decay_s: float, **values: float) -> dict[str, Floats]:
    """The answer to a click, left, as long as the decay needs to fall by 60 dB and more."""
    samples = round(1.3 * decay_s * RATE)
    hit = 5.0 * np.eye(1, samples)[0]
    return run(KIND, samples, ins={"left": hit}, decay=decay_s, mix=1.0, **values)


def measured_decay_s(answer: Floats, hz: float) -> float:
    """Decay of an octave band: the slope of the energy still to come, from -5 to -35 dB, carried on to 60 dB.

    Source: M. R. Schroeder, New Method of Measuring Reverberation Time, J. Acoust. Soc. Am. 37, 1965, 409-412, and the
    range of T30 in ISO 3382 (both from memory).
    """
    band = signal.butter(
        3, [hz / math.sqrt(2), hz * math.sqrt(2)], "bandpass", fs=RATE, output="sos"
    )
    energy = np.cumsum((np.asarray(signal.sosfilt(band, answer)) ** 2)[::-1])[::-1]
    db = 10.0 * np.log10(energy / energy[0] + 1e-30)
    first, last = int(np.argmax(db < -5.0)), int(np.argmax(db < -35.0))
    slope = np.polyfit(np.arange(first, last) / RATE, db[first:last], 1)[0]
    return float(-60.0 / slope)


@pytest.mark.parametrize(("decay_s", "size"), [(0.5, 1.0), (2.0, 1.0), (1.0, 0.3), (2.0, 3.0)])
def test_every_octave_dies_within_a_tenth_of_the_setting(decay_s: float, size: float) -> None:
    out = room(decay_s, colour=1.0, size=size, pre_delay=0.0)
    for side in ("left", "right"):
        for hz in OCTAVES_HZ:
            assert measured_decay_s(out[side], hz) == pytest.approx(decay_s, rel=0.1)


def test_colour_shortens_the_highs_as_the_closed_form_says() -> None:
    """An octave band is no single frequency, so up to 4 kHz, where the decay varies little over the band."""
    out = room(2.0, colour=0.3)["left"]
    for hz in OCTAVES_HZ[:-1]:
        wanted_s = np.mean([decay_s_at(hz, 2.0, 0.3, line_s) for line_s in LINE_S])
        assert measured_decay_s(out, hz) == pytest.approx(wanted_s, rel=0.1)
    assert decay_s_at(0.0, 2.0, 0.3, LINE_S[0]) == pytest.approx(2.0)
    assert decay_s_at(RATE / 2, 2.0, 0.3, LINE_S[0]) == pytest.approx(0.6)


def test_hold_loses_nothing_and_lets_nothing_in() -> None:
    """A matrix with rows at right angles keeps its power for ever."""
    rng = np.random.default_rng(6)
    wave = np.where(np.arange(8 * RATE) < RATE, rng.normal(0.0, 1.0, 8 * RATE), 0.0)
    wave[4 * RATE : 5 * RATE] = 9.0  # must not be heard
    hold = np.where(np.arange(8 * RATE) < RATE, 0.0, 5.0)
    out = run(KIND, 8 * RATE, ins={"left": wave, "hold": hold}, decay=0.5, mix=1.0)["left"]
    early, late = out[2 * RATE : 4 * RATE].std(), out[6 * RATE :].std()
    assert early > 0.2
    assert late == pytest.approx(early, rel=0.03)


@pytest.mark.parametrize("decay_s", [0.5, 2.0, 5.0])
def test_steady_noise_comes_out_as_loud_as_it_goes_in(decay_s: float) -> None:
    rng = np.random.default_rng(7)
    left, right = rng.normal(0.0, 1.0, (2, 10 * RATE))
    ins = {"left": left, "right": right}
    out = run(KIND, left.size, ins=ins, decay=decay_s, colour=1.0, mix=1.0)
    told = KIND.level(
        [Level.swing(4.0, crest_ratio=4.0)] * 2 + [Level()], setting_of(KIND, values={"mix": 1.0})
    )
    for side, level in zip(("left", "right"), told, strict=True):
        heard_v = out[side][5 * RATE :].std()
        assert 20 * math.log10(heard_v) == pytest.approx(0.0, abs=1.0)
        assert 20 * math.log10(level.rms_v) == pytest.approx(20 * math.log10(heard_v), abs=1.0)


def test_sides_differ_and_mix_is_dry_to_wet() -> None:
    out = room(1.0)
    assert abs(np.corrcoef(out["left"], out["right"])[0, 1]) < 0.2
    noise = np.random.default_rng(1).uniform(-5, 5, 4800)
    np.testing.assert_array_equal(run(KIND, 4800, ins={"left": noise}, mix=0.0)["left"], noise)


def test_the_first_of_the_room_comes_when_the_delay_reading_says() -> None:
    values = {"pre-delay": 0.02, "mix": 1.0, "colour": 1.0}
    setting = setting_of(KIND, values=values)
    lag = KIND.lags(setting)[0]
    out = room(1.0, pre_delay=0.02, colour=1.0)["left"]
    assert int(np.flatnonzero(out)[0]) == round(lag.lo_s * RATE)
    assert lag.lo_s == lag.hi_s
    lengths = line_samples(setting)
    assert len(set(lengths)) == 8
    assert all(math.gcd(a, b) == 1 for a in lengths for b in lengths if a != b)


def test_it_dies_to_exact_silence() -> None:
    samples = 4 * RATE
    hit = 5.0 * np.eye(1, samples)[0]
    out = run(KIND, samples, ins={"left": hit}, decay=0.2)["left"]
    assert out[2000:4000].any()
    assert not out[-100:].any()


def test_interval() -> None:
    setting = setting_of(KIND, values={"mix": 0.25})
    assert KIND.interval([ZERO, ZERO, Span(0, 5)], setting) == [ZERO, ZERO]
    spans = KIND.interval([Span(-2.0, 4.0), ZERO, ZERO], setting)
    assert spans[0] == Span(-1.5 - RAIL_V / 4, 3.0 + RAIL_V / 4)
    assert spans[1] == Span(-RAIL_V / 4, RAIL_V / 4)
