"""The stereo filter against a general-purpose filter library, side by side."""

import math

import numpy as np
import pytest
from scipy import signal

from rigproof.kinds.base import RAIL_V, ZERO, Span
from rigproof.kinds.stereo_filter import KIND, RESPONSES
from tests.kinds.alone import gain_db, run
from tests.kinds.running import setting_of

RATE_HZ = 48_000.0
HIT = np.eye(1, 1 << 14)[0]


@pytest.mark.parametrize("response", range(4), ids=RESPONSES)
@pytest.mark.parametrize(("cutoff_hz", "q", "spread"), [(1000.0, 0.7, 0.0), (2000.0, 6.0, 2.0)])
def test_both_sides_against_a_filter_library(
    response: int, cutoff_hz: float, q: float, spread: float
) -> None:
    """Second opinion: the analogue H(s) put through scipy's bilinear transform, prewarped at each side's cutoff."""
    out = run(
        KIND,
        HIT.size,
        ins={"left": HIT, "right": HIT},
        response=float(response),
        cutoff=cutoff_hz,
        q=q,
        spread=spread,
    )
    hz = np.geomspace(20.0, RATE_HZ / 4, 50)
    for side, way in (("left", -0.5), ("right", 0.5)):
        w = 2 * RATE_HZ * math.tan(math.pi * cutoff_hz * 2 ** (way * spread) / RATE_HZ)
        top = ([w * w], [w / q, 0.0], [1.0, 0.0, 0.0], [1.0, 0.0, w * w])[response]
        b, a = signal.bilinear(top, [1.0, w / q, w * w], RATE_HZ)
        _, wanted = signal.freqz(b, a, hz, fs=RATE_HZ)
        for at_hz, h in zip(hz, wanted, strict=True):
            if abs(h) > 1e-3:
                assert gain_db(out[side], float(at_hz)) == pytest.approx(
                    20 * math.log10(abs(h)), abs=0.1
                )


def test_sides_do_not_hear_each_other_and_follow_the_same_voltages() -> None:
    ins = {"left": HIT, "cutoff": 1.0, "q": 2.0}
    out = run(KIND, HIT.size, ins=ins, cutoff=500.0, q=0.5)
    assert not out["right"].any()
    plain = run(KIND, HIT.size, ins={"left": HIT}, cutoff=1000.0, q=2.5)
    np.testing.assert_allclose(out["left"], plain["left"], atol=1e-12)


@pytest.mark.parametrize("response", range(4), ids=RESPONSES)
def test_the_interval_is_reached_by_the_worst_input_and_not_passed(response: int) -> None:
    values = {"cutoff": 900.0, "q": 2.0, "spread": 1.0, "response": float(response)}
    spans = KIND.interval(
        [Span(-1.0, 1.0), Span(-1.0, 1.0), ZERO, ZERO], setting_of(KIND, values=values)
    )
    plain = run(KIND, 4096, ins={"left": HIT, "right": HIT}, **values)
    for side, span in zip(("left", "right"), spans, strict=True):
        worst = np.sign(plain[side][::-1])
        reached = run(KIND, 4096, ins={side: worst}, **values)[side].max()
        assert span.hi - 0.01 < reached <= span.hi < RAIL_V


def test_silence_on_one_side_is_silence() -> None:
    spans = KIND.interval([ZERO, Span(-5, 5), Span(0, 5), ZERO], setting_of(KIND))
    assert spans == [ZERO, Span(-RAIL_V, RAIL_V)]
