"""The state-variable filter against closed forms, published figures and a general-purpose filter library."""

import math

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Span
from rigproof.kinds.state_variable_filter import KIND, integrator_gain
from tests.kinds.alone import gain_db, run
from tests.kinds.running import Floats, setting_of

RATE_HZ = 48_000.0
OUTPUTS = ("low", "band", "high", "notch")


def impulse(samples: int, **values: float) -> dict[str, Floats]:
    """Impulse response for 1 V, well below the rails."""
    hit = np.zeros(samples)
    hit[0] = 1.0
    return run(KIND, samples, ins={"in": hit}, **values)


def test_impulse_response_of_the_low_output() -> None:
    """Source: two poles by the trapezoidal rule, fs 48 kHz, fc 1 kHz, Q 2, computed from the formula by hand."""
    expected = [0.004142397, 0.016239146, 0.031444692, 0.045168210, 0.057275973]
    np.testing.assert_allclose(impulse(64, cutoff=1000.0, q=2.0)["low"][:5], expected, atol=5e-10)


@pytest.mark.parametrize(
    ("cutoff_hz", "rate_hz", "g"),
    # Source: g = tan(pi fc / fs).
    [(1000, 44_100, 0.071358681), (5000, 48_000, 0.339454259), (10_000, 96_000, 0.339454259)],
)
def test_integrator_gain(cutoff_hz: float, rate_hz: float, g: float) -> None:
    assert integrator_gain(cutoff_hz, rate_hz) == pytest.approx(g, abs=1e-9)


@pytest.mark.parametrize(
    ("output", "expected_db"),
    # Source: the same filter at 100, 500, 1000, 2000, 5000 Hz, from S = j tan(pi f / fs) / g.
    [
        ("low", (0.076016, 2.036549, 6.020600, -10.093398, -28.283515)),
        ("band", (-19.936275, -3.993365, 6.020600, -4.035404, -13.998477)),
        ("high", (-39.948566, -10.023278, 6.020600, 2.022591, 0.286560)),
    ],
)
def test_gains_in_the_table(output: str, expected_db: tuple[float, ...]) -> None:
    response = impulse(8192, cutoff=1000.0, q=2.0)[output]
    for hz, wanted_db in zip((100, 500, 1000, 2000, 5000), expected_db, strict=True):
        assert gain_db(response, hz) == pytest.approx(wanted_db, abs=1e-5)


@pytest.mark.parametrize("cutoff_hz", [50.0, 440.0, 1000.0, 5000.0, 10_000.0])
@pytest.mark.parametrize("q", [0.5, math.sqrt(0.5), 2.0, 10.0])
def test_against_a_filter_library(cutoff_hz: float, q: float) -> None:
    """Second opinion: the analogue H(s) put through scipy's bilinear transform, prewarped at the cutoff."""
    w = 2 * RATE_HZ * math.tan(math.pi * cutoff_hz / RATE_HZ)
    tops = {"low": [w * w], "band": [w, 0.0], "high": [1.0, 0.0, 0.0], "notch": [1.0, 0.0, w * w]}
    hz = np.geomspace(20.0, RATE_HZ / 4, 60)
    got = impulse(1 << 15, cutoff=cutoff_hz, q=q)
    spectrum_hz = np.fft.rfftfreq(1 << 15, 1 / RATE_HZ)
    for output, top in tops.items():
        b, a = signal.bilinear(top, [1.0, w / q, w * w], RATE_HZ)
        bins = np.unique(np.searchsorted(spectrum_hz, hz))
        _, wanted = signal.freqz(b, a, spectrum_hz[bins], fs=RATE_HZ)
        found = np.fft.rfft(got[output])[bins]
        heard = np.abs(wanted) > 1e-3
        off_db = 20 * np.log10(np.abs(found[heard]) / np.abs(wanted[heard]))
        assert np.abs(off_db).max() < 0.1, (output, np.abs(off_db).max())


@pytest.mark.parametrize(
    ("q", "at_cutoff_db", "peak_db", "peak_ratio"),
    # Source: two-pole table: gain at f0 = Q, peak = Q / sqrt(1 - 1/(4 Q^2)) at f0 sqrt(1 - 1/(2 Q^2)).
    [
        (1.0, 0.0, 1.249387, 0.707107),
        (2.0, 6.020600, 6.300887, 0.935414),
        (10.0, 20.0, 20.010871, 0.997497),
    ],
)
def test_resonance_at_a_low_cutoff_is_the_analogue_one(
    q: float, at_cutoff_db: float, peak_db: float, peak_ratio: float
) -> None:
    """At 200 Hz the band is hardly squeezed: within 0.01 dB of the analogue filter."""
    response = impulse(1 << 15, cutoff=200.0, q=q)["low"]
    assert gain_db(response, 200.0) == pytest.approx(at_cutoff_db, abs=1e-4)
    assert gain_db(response, 200.0 * peak_ratio) == pytest.approx(peak_db, abs=0.01)


def test_cutoff_and_q_follow_their_inputs() -> None:
    hit = np.zeros(4096)
    hit[0] = 1.0
    moved = run(
        KIND, 4096, ins={"in": hit, "cutoff": 2.0, "q": 1.5}, cutoff=250.0, q=0.5, q_depth=1.0
    )
    plain = impulse(4096, cutoff=1000.0, q=2.0)
    for output in OUTPUTS:
        np.testing.assert_allclose(moved[output], plain[output], atol=1e-12)


def test_a_cutoff_swept_at_audio_rate_stays_in_bounds() -> None:
    n = np.arange(24_000)
    tone = 5.0 * np.sign(np.sin(2 * np.pi * 110 * n / RATE_HZ))
    sweep = 3.0 * np.sin(2 * np.pi * 700 * n / RATE_HZ)
    out = run(KIND, n.size, ins={"in": tone, "cutoff": sweep}, cutoff=800.0, q=20.0)
    assert all(np.abs(out[o]).max() <= RAIL_V for o in OUTPUTS)
    silent = run(
        KIND,
        96_000,
        ins={"in": np.where(np.arange(96_000) < 24_000, np.resize(tone, 96_000), 0.0)},
        q=20.0,
    )
    assert all(not silent[o][-100:].any() for o in OUTPUTS)


@pytest.mark.parametrize(
    ("cutoff_hz", "q"), [(200.0, 0.5), (1000.0, 1.0), (9000.0, 2.0), (300.0, 3.0)]
)
def test_the_interval_is_reached_by_the_worst_input_and_not_passed(
    cutoff_hz: float, q: float
) -> None:
    """The worst input is the impulse response's signs backwards; it comes within 0.01 V of the bound."""
    setting = setting_of(KIND, values={"cutoff": cutoff_hz, "q": q})
    spans = KIND.interval([Span(-2.0, 2.0), ZERO, ZERO], setting)
    samples = 4096
    responses = impulse(samples, cutoff=cutoff_hz, q=q)
    for output, span in zip(OUTPUTS, spans, strict=True):
        worst = 2.0 * np.sign(responses[output][::-1])
        reached = run(KIND, samples, ins={"in": worst}, cutoff=cutoff_hz, q=q)[output].max()
        assert reached <= span.hi < RAIL_V
        assert reached > span.hi - 0.01


def test_interval_says_rails_when_the_cutoff_moves_and_nothing_for_silence() -> None:
    setting = setting_of(KIND)
    assert (
        KIND.interval([Span(-5.0, 5.0), Span(0.0, 1.0), ZERO], setting)
        == [Span(-RAIL_V, RAIL_V)] * 4
    )
    assert KIND.interval([ZERO, Span(-5.0, 5.0), Span(-5.0, 5.0)], setting) == [ZERO] * 4
