"""The attenuverter is a product and a sum, and says so."""

import numpy as np
import pytest

from rigproof.kinds.attenuverter import KIND
from rigproof.kinds.base import RAIL_V, Level, Span
from tests.kinds.alone import run
from tests.kinds.running import setting_of


@pytest.mark.parametrize(
    ("gain", "offset_v", "cv_v", "in_v", "out_v"),
    [
        (1.0, 0.0, 0.0, 3.0, 3.0),
        (-1.0, 0.0, 0.0, 3.0, -3.0),
        (0.5, 2.5, 0.0, 5.0, 5.0),
        (0.0, -2.0, 0.0, 5.0, -2.0),
        (0.5, 0.0, 2.5, 4.0, 4.0),  # 0.2 a volt at gain-cv
        (-1.0, 0.0, 5.0, 4.0, 0.0),
        (1.0, 0.0, 5.0, 4.0, 4.0),  # never more than 1
        (1.0, 8.0, 0.0, 5.0, RAIL_V),
    ],
)
def test_gain_then_offset(
    gain: float, offset_v: float, cv_v: float, in_v: float, out_v: float
) -> None:
    out = run(KIND, 8, ins={"in": in_v, "gain-cv": cv_v}, gain=gain, offset=offset_v)["out"]
    np.testing.assert_allclose(out, out_v, atol=1e-12)
    setting = setting_of(KIND, values={"gain": gain, "offset": offset_v})
    [span] = KIND.interval([Span.point(in_v), Span.point(cv_v)], setting)
    assert (span.lo, span.hi) == pytest.approx((out_v, out_v))
    [level] = KIND.level([Level.steady(in_v), Level.steady(cv_v)], setting)
    assert level.dc_v == pytest.approx(out_v)
