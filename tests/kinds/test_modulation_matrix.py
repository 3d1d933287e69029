"""The modulation matrix: its curves by hand, its rows as a matrix product, its readings against its sound."""

import numpy as np
import pytest

from rigproof.kinds.base import RAIL_V, ZERO, Level, Span
from rigproof.kinds.modulation_matrix import CURVES, FAST, KIND, ROWS, S_SHAPE, SLOW, SOURCES, bent
from tests.kinds.running import play, setting_of

LINEAR = 0


def row(
    number: int, source: float, target: float, depth: float, curve: float = LINEAR
) -> dict[str, float]:
    """One row of the table."""
    return {
        f"source-{number}": source,
        f"target-{number}": target,
        f"depth-{number}": depth,
        f"curve-{number}": curve,
    }


@pytest.mark.parametrize(
    ("curve", "share", "expected"),
    [
        # By hand: 0.6^2, sqrt(0.36), 3 x 0.04 - 2 x 0.008 (the cubic with level ends, Hermite).
        (LINEAR, 0.3, 0.3),
        (SLOW, 0.6, 0.36),
        (SLOW, -0.6, -0.36),
        (FAST, 0.36, 0.6),
        (S_SHAPE, 0.2, 0.104),
        (S_SHAPE, -0.2, -0.104),
    ],
)
def test_curves(curve: int, share: float, expected: float) -> None:
    assert bent(share, curve) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("curve", range(len(CURVES)))
def test_every_curve_rises_keeps_its_ends_and_is_odd(curve: int) -> None:
    shares = np.linspace(-1.0, 1.0, 401)
    values = np.array([bent(float(x), curve) for x in shares])
    assert (values[0], values[200], values[-1]) == (-1.0, 0.0, 1.0)
    assert (np.diff(values) > 0.0).all()
    np.testing.assert_allclose(values, -values[::-1], atol=1e-12)


def test_linear_rows_are_a_matrix_product() -> None:
    """Oracle: numpy's own product of the same table written as a matrix."""
    rng = np.random.default_rng(4)
    matrix = np.zeros((5, SOURCES))
    values: dict[str, float] = {}
    for number in range(1, ROWS + 1):
        source, target = int(rng.integers(1, SOURCES + 1)), int(rng.integers(1, 6))
        depth = float(rng.uniform(-0.3, 0.3))
        values |= row(number, source, target, depth)
        matrix[target - 1, source - 1] += depth
    fed = rng.uniform(-5.0, 5.0, (SOURCES, 256))
    got = play(
        KIND,
        setting_of(KIND, ways=5, values=values),
        256,
        {f"in-{i + 1}": fed[i] for i in range(SOURCES)},
    )
    np.testing.assert_allclose(
        [got[f"out-{i}"] for i in range(1, 6)],
        np.clip(matrix @ fed, -RAIL_V, RAIL_V),
        atol=1e-12,
    )


def test_an_empty_table_and_rows_without_an_end_are_silent() -> None:
    values = {**row(1, 0, 1, 1.0), **row(2, 1, 0, 1.0), **row(3, 1, 60, 1.0)}
    got = play(KIND, setting_of(KIND, ways=2, values=values), 64, {"in-1": 5.0})
    assert not any(wave.any() for wave in got.values())
    assert KIND.interval([Span(-5.0, 5.0)] * SOURCES, setting_of(KIND, ways=2, values=values)) == [
        ZERO,
        ZERO,
    ]


def test_a_source_counts_up_to_full_scale_and_the_sum_stops_at_the_rails() -> None:
    values = {**row(1, 1, 1, 1.0), **row(2, 2, 2, 1.0), **row(3, 2, 2, 1.0), **row(4, 2, 2, 1.0)}
    got = play(KIND, setting_of(KIND, ways=2, values=values), 64, {"in-1": 8.0, "in-2": 5.0})
    assert got["out-1"][-1] == 5.0
    assert got["out-2"][-1] == RAIL_V


def test_a_gliding_depth_has_no_steps() -> None:
    setting = setting_of(KIND, ways=1, values=row(1, 1, 1, 0.0))
    out = play(KIND, setting, 640, {"in-1": 5.0}, glides={"depth-1": [i / 10 for i in range(11)]})[
        "out-1"
    ]
    np.testing.assert_allclose(np.diff(out), 5.0 / 640, atol=1e-9)


def test_interval_by_hand() -> None:
    """0 to 2.5 V of 5, squared, is 0 to 1.25 V; at a depth of -1 it is -1.25 to 0 V, plus 2 V from another row."""
    values = {**row(1, 1, 1, -1.0, SLOW), **row(2, 2, 1, 0.5)}
    spans = [Span(0.0, 2.5), Span.point(4.0), *[ZERO] * (SOURCES - 2)]
    assert KIND.interval(spans, setting_of(KIND, ways=1, values=values)) == [Span(0.75, 2.0)]


def test_a_row_whose_target_moves_may_be_silent() -> None:
    setting = setting_of(KIND, ways=2, values=row(1, 1, 1, 1.0), spans={"target-1": Span(1.0, 2.0)})
    spans = [Span(2.0, 3.0), *[ZERO] * (SOURCES - 1)]
    assert KIND.interval(spans, setting) == [Span(0.0, 3.0), Span(0.0, 3.0)]
    assert {(lag.source, lag.target) for lag in KIND.lags(setting)} == {
        ("in-1", "out-1"),
        ("in-1", "out-2"),
    }


@pytest.mark.parametrize("curve", [LINEAR, SLOW, S_SHAPE, FAST])
def test_level_of_a_sine_through_a_curve(curve: int) -> None:
    """The ends told are those heard, to 0.1 %; the RMS is exact when linear and within 3 dB when bent."""
    wave = 4.0 * np.sin(2 * np.pi * 1000 * np.arange(48_000) / 48_000)
    setting = setting_of(KIND, ways=1, values=row(1, 1, 1, -0.5, curve))
    out = play(KIND, setting, wave.size, {"in-1": wave})["out-1"]
    sine = Level.swing(4.0, crest_ratio=2.0**0.5)
    told = KIND.level([sine, *[Level()] * (SOURCES - 1)], setting)[0]
    assert (told.lo_v, told.hi_v) == pytest.approx((out.min(), out.max()), rel=1e-3)
    tolerance = 1e-6 if curve == LINEAR else 10 ** (3 / 20) - 1
    assert told.rms_v == pytest.approx(out.std(), rel=tolerance)
