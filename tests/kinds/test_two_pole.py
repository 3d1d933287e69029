"""The shared two-pole step against the published impulse response and the filter that it is taken from."""

import numpy as np
import pytest

from rigproof.kinds.base import ZERO, Span
from rigproof.kinds.prewarp import quick_gain
from rigproof.kinds.state_variable_filter import KIND as STATE_VARIABLE_FILTER
from rigproof.kinds.two_pole import two_pole, two_pole_spans
from tests.kinds.running import setting_of


def test_impulse_response_of_low() -> None:
    """Source: two poles by the trapezoidal rule, fs 48 kHz, fc 1 kHz, Q 2, computed from the formula by hand."""
    g, first_v, second_v = quick_gain(1000 / 48_000), 0.0, 0.0
    found = []
    for x in np.eye(1, 5)[0]:
        low_v, _, _, first_v, second_v = two_pole(float(x), first_v, second_v, g, 0.5)
        found.append(low_v)
    assert found == pytest.approx(
        [0.004142397, 0.016239146, 0.031444692, 0.045168210, 0.057275973], abs=1e-9
    )


def test_spans_are_those_of_the_state_variable_filter() -> None:
    spans = two_pole_spans(Span(-2.0, 2.0), 700.0, 1.5, 48_000.0)
    setting = setting_of(STATE_VARIABLE_FILTER, values={"cutoff": 700.0, "q": 1.5})
    assert spans == STATE_VARIABLE_FILTER.interval([Span(-2.0, 2.0), ZERO, ZERO], setting)
    assert two_pole_spans(Span(-2.0, 2.0), 10.0, 50.0, 48_000.0) is None  # rings on
