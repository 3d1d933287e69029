"""Buffer, matrix mixer and stereo mixer against sums worked out beside them."""

import math

import numpy as np
import pytest

from rigproof.kinds import buffer, matrix_mixer, stereo_mixer
from rigproof.kinds.base import RAIL_V, Level, Span
from rigproof.units import db_from_ratio
from tests.kinds.running import Floats, play, setting_of

RNG = np.random.default_rng(11)
OUTS = ("left", "right", "send-a", "send-b")


def test_every_output_of_a_buffer_is_the_input_within_the_rails() -> None:
    wave = RNG.uniform(-20.0, 20.0, 640)
    out = play(buffer.KIND, setting_of(buffer.KIND, ways=5), 640, {"in": wave})
    assert list(out) == [f"out-{i}" for i in range(1, 6)]
    for copy in out.values():
        np.testing.assert_array_equal(copy, np.clip(wave, -RAIL_V, RAIL_V))


def test_the_matrix_is_a_matrix_product() -> None:
    fed = RNG.uniform(-1.0, 1.0, (3, 640))
    gains = RNG.uniform(-2.0, 2.0, (4, 3))
    masters = RNG.uniform(0.0, 1.0, 4)
    values = {f"to-{o + 1}-{i + 1}": float(gains[o, i]) for o in range(4) for i in range(3)}
    values |= {f"master-{o + 1}": float(masters[o]) for o in range(4)}
    setting = setting_of(matrix_mixer.KIND, ways=3, values=values)
    out = play(matrix_mixer.KIND, setting, 640, {f"in-{i + 1}": fed[i] for i in range(3)})
    np.testing.assert_allclose(list(out.values()), masters[:, None] * (gains @ fed), atol=1e-12)


def test_a_matrix_stops_at_the_rails_and_adds_powers() -> None:
    values = {"to-2-1": 2.0, "to-2-2": -2.0}
    setting = setting_of(matrix_mixer.KIND, ways=2, values=values)
    out = play(matrix_mixer.KIND, setting, 64, {"in-1": 10.0, "in-2": -10.0})
    assert out["out-2"][0] == RAIL_V
    assert out["out-1"][0] == 0.0
    told = matrix_mixer.KIND.level([Level.swing(1.0, crest_ratio=1.0)] * 2, setting)
    assert db_from_ratio(told[1].rms_v / 2.0) == pytest.approx(3.010300, abs=1e-6)
    spans = matrix_mixer.KIND.interval([Span(0.0, 1.0), Span(-1.0, 0.5)], setting)
    assert spans[1] == Span(-1.0, 4.0)


def mixed(ins: dict[str, float], **values: float) -> dict[str, float]:
    """The four outputs for steady inputs."""
    named = {name.replace("_", "-"): value for name, value in values.items()}
    setting = setting_of(stereo_mixer.KIND, ways=2, values=named)
    out = play(stereo_mixer.KIND, setting, 64, ins)
    return {name: float(wave[-1]) for name, wave in out.items()}


def test_a_channel_in_the_middle_is_3_db_down_on_both_sides() -> None:
    """Source: equal power pan, 20 log10 sqrt(1/2) = -3.010300 dB."""
    out = mixed({"in-1": 1.0})
    assert db_from_ratio(out["left"]) == pytest.approx(-3.010300, abs=1e-6)
    assert db_from_ratio(out["right"]) == pytest.approx(-3.010300, abs=1e-6)
    assert out["send-a"] == out["send-b"] == 0.0


def test_sends_before_and_after_the_level() -> None:
    given = {"level_1": 0.5, "send_a_1": 0.8, "send_b_1": 0.6, "send_b_tap": 1.0}
    out = mixed({"in-1": 2.0}, master=0.1, **given)
    assert out["send-a"] == pytest.approx(2.0 * 0.5 * 0.8)
    assert out["send-b"] == pytest.approx(2.0 * 0.6)
    assert out["left"] == pytest.approx(2.0 * 0.5 * math.sqrt(0.5) * 0.1)


def test_a_mute_silences_the_channel_and_its_sends_alone() -> None:
    given = {"send_a_1": 1.0, "send_b_1": 1.0, "send_b_tap": 1.0, "pan_2": -1.0}
    loud, muted = ({"in-1": 2.0, "in-2": 1.0} for _ in range(2))
    assert mixed(loud, **given)["send-b"] == pytest.approx(2.0)
    out = mixed(muted, mute_1=1.0, **given)
    assert out["send-a"] == out["send-b"] == 0.0
    assert out["left"] == pytest.approx(1.0)
    assert out["right"] == pytest.approx(0.0)


def test_returns_reach_their_side_of_the_mix_and_no_send() -> None:
    given = {"return_a": 0.5, "return_b": 2.0, "send_a_1": 1.0}
    out = mixed({"return-a-left": 1.0, "return-b-right": 1.5}, **given)
    assert out == {"left": 0.5, "right": 3.0, "send-a": 0.0, "send-b": 0.0}


def test_a_full_mix_is_the_sum_worked_out_beside_it() -> None:
    ways = 3
    fed = RNG.uniform(-1.0, 1.0, (ways, 640))
    values: dict[str, float] = {}
    left, right = np.zeros(640), np.zeros(640)
    for i in range(ways):
        level, pan = RNG.uniform(0.0, 1.0), RNG.uniform(-1.0, 1.0)
        values |= {f"level-{i + 1}": float(level), f"pan-{i + 1}": float(pan)}
        left += level * math.cos((pan + 1) * math.pi / 4) * fed[i]
        right += level * math.sin((pan + 1) * math.pi / 4) * fed[i]
    setting = setting_of(stereo_mixer.KIND, ways=ways, values=values)
    out = play(stereo_mixer.KIND, setting, 640, {f"in-{i + 1}": fed[i] for i in range(ways)})
    np.testing.assert_allclose(out["left"], left, atol=1e-10)
    np.testing.assert_allclose(out["right"], right, atol=1e-10)


def test_a_gliding_pan_stays_within_a_hundredth_of_a_db_of_its_law() -> None:
    """Straight lines through a block, from the middle to the right in 20 blocks."""
    points = np.linspace(0.0, 1.0, 21).tolist()
    setting = setting_of(stereo_mixer.KIND, ways=1)
    out = play(stereo_mixer.KIND, setting, 1280, {"in-1": 1.0}, glides={"pan-1": points})
    law: Floats = np.sin((np.arange(1280) / 1280 + 1) * np.pi / 4)
    off_db = 20 * np.log10(out["right"] / law)
    assert np.abs(off_db).max() < 0.01


def test_the_level_of_a_mix_is_the_one_heard() -> None:
    """Two tones that know nothing of each other over whole cycles."""
    n = np.arange(48_000)
    tones = [4 * np.sin(2 * np.pi * hz * n / 48_000) for hz in (500, 700)]
    values = {"level-1": 0.7, "pan-1": -0.3, "level-2": 1.1, "send-a-1": 0.9, "send-a-2": 0.4}
    setting = setting_of(stereo_mixer.KIND, ways=2, values=values)
    out = play(stereo_mixer.KIND, setting, n.size, {"in-1": tones[0], "in-2": tones[1]})
    tone = Level.swing(4.0, crest_ratio=math.sqrt(2.0))
    told = stereo_mixer.KIND.level([Level()] * 4 + [tone] * 2, setting)
    for name, level in zip(OUTS, told, strict=True):
        assert level.rms_v == pytest.approx(float(out[name].std()), rel=1e-9, abs=1e-12)
