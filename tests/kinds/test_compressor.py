"""The compressor's static curve, its times and its bounds."""

import math

import numpy as np
import pytest

from rigproof.kinds.base import ZERO, Level, Span
from rigproof.kinds.compressor import KIND
from tests.kinds.alone import run
from tests.kinds.running import setting_of

RATE = 48_000


def static_db(in_db: float, threshold_db: float, ratio: float, knee_db: float) -> float:
    """Output level for an input level.

    Source: D. Giannoulis, M. Massberg, J. D. Reiss, J. Audio Eng. Soc. 60(6), 2012, the static curve with a soft knee
    (from memory).
    """
    if 2 * (in_db - threshold_db) < -knee_db:
        return in_db
    if 2 * abs(in_db - threshold_db) <= knee_db:
        bend = (in_db - threshold_db + knee_db / 2) ** 2 / (2 * knee_db) if knee_db else 0.0
        return in_db + (1 / ratio - 1) * bend
    return threshold_db + (in_db - threshold_db) / ratio


@pytest.mark.parametrize("ratio", [1.0, 2.0, 4.0, 20.0, 100.0])
@pytest.mark.parametrize("knee_db", [0.0, 6.0, 18.0])
def test_static_curve_of_a_tone(ratio: float, knee_db: float) -> None:
    """A 1 kHz sine from -30 dB to +14 dB about 2 V: peaks follow the curve within 0.2 dB."""
    n = np.arange(RATE // 2)
    tone = np.sin(2 * np.pi * 1000.0 * n / RATE)
    for in_db in (-30.0, -10.0, -4.0, -1.0, 0.0, 1.0, 4.0, 8.0, 14.0):
        wave = 2.0 * 10 ** (in_db / 20) * tone
        out = run(
            KIND,
            n.size,
            ins={"left": wave, "right": wave},
            threshold=2.0,
            ratio=ratio,
            knee=knee_db,
            attack=0.001,
            release=0.3,
        )
        for side in ("left", "right"):
            out_db = 20 * math.log10(np.abs(out[side][-4800:]).max() / 2.0)
            assert out_db == pytest.approx(static_db(in_db, 0.0, ratio, knee_db), abs=0.2)


def test_attack_and_release_are_time_constants() -> None:
    """Ratio 100 and no knee: below the threshold the gain is 1; above, the level read off the gain rises as an RC's.

    Source: Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1: 1 - 1/e after one time constant.
    """
    key = np.zeros(3 * RATE)
    key[:RATE] = 8.0
    out = run(
        KIND,
        key.size,
        ins={"left": 1.0, "sidechain": key},
        threshold=0.1,
        ratio=2.0,
        knee=0.0,
        attack=0.02,
        release=0.2,
        key=1.0,
    )["left"]
    level_v = 0.1 / np.minimum(out, 1.0) ** 2  # ratio 2: gain = sqrt(threshold / level)
    assert level_v[959] == pytest.approx(8.0 * (1 - 1 / math.e), rel=1e-3)
    # Letting go, the held peak falls with 200 ms and the level follows 20 ms behind: two poles in a row.
    t = 0.4
    wanted_v = 8.0 * (0.2 * math.exp(-t / 0.2) - 0.02 * math.exp(-t / 0.02)) / (0.2 - 0.02)
    assert level_v[RATE + round(t * RATE) - 1] == pytest.approx(wanted_v, rel=2e-3)


def test_sides_move_together_and_makeup_follows() -> None:
    ins = {"left": 8.0, "right": 1.0}
    out = run(KIND, RATE, ins=ins, threshold=2.0, ratio=4.0, knee=0.0, makeup=6.0)
    gain = 10 ** ((12.0412 / 4 - 12.0412 + 6.0) / 20)
    assert out["left"][-1] == pytest.approx(8.0 * gain, rel=1e-3)
    assert out["right"][-1] == pytest.approx(1.0 * gain, rel=1e-3)


def test_the_key_is_the_sidechain_only_when_asked() -> None:
    ins = {"left": 1.0, "sidechain": 10.0}
    assert run(KIND, 4800, ins=ins, threshold=2.0)["left"][-1] == pytest.approx(1.0)
    assert run(KIND, 4800, ins=ins, threshold=2.0, key=1.0)["left"][-1] < 0.5


def test_interval_is_as_loud_as_open_and_as_soft_as_the_loudest_key() -> None:
    values = {"threshold": 1.0, "ratio": 100.0, "knee": 0.0, "key": 1.0, "makeup": 6.0}
    setting = setting_of(KIND, values=values)
    makeup = 10 ** (6 / 20)
    spans = KIND.interval([Span(2.0, 2.0), ZERO, Span(0.0, 10.0)], setting)
    least = makeup * 10 ** (-20 * 0.99 / 20)
    assert [spans[0].lo, spans[0].hi] == pytest.approx([2 * least, 2 * makeup])
    assert spans[1] == ZERO
    key = np.where(np.arange(RATE) < 100, 0.0, 10.0)
    out = run(
        KIND,
        RATE,
        ins={"left": 2.0, "sidechain": key},
        threshold=1.0,
        ratio=100.0,
        knee=0.0,
        key=1.0,
        makeup=6.0,
        attack=0.001,
    )["left"]
    assert out.max() == pytest.approx(spans[0].hi)
    assert out.min() == pytest.approx(spans[0].lo, rel=1e-6)


def test_level_is_what_is_heard() -> None:
    tone = 8.0 * np.sin(2 * np.pi * 1000.0 * np.arange(RATE) / RATE)
    heard = run(KIND, RATE, ins={"left": tone}, attack=0.001, release=0.5)["left"][-4800:]
    setting = setting_of(KIND, values={"attack": 0.001, "release": 0.5})
    told = KIND.level([Level.swing(8.0, crest_ratio=math.sqrt(2)), Level(), Level()], setting)[0]
    assert told.rms_v == pytest.approx(heard.std(), rel=0.02)
