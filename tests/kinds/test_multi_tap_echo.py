"""The multi-tap echo: places to the sample, geometric repeats, hold and reverse."""

from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import SILENT, ZERO, Level, Span
from rigproof.kinds.clock import KIND as CLOCK
from rigproof.kinds.multi_tap_echo import KIND
from rigproof.kinds.stereo_delay import NOTE_NAMES
from tests.kinds.running import Floats, play, setting_of

RATE = 48_000


def echoes(
    samples: int, ins: dict[str, Any], ways: int = 1, tempo_bpm: float = 120.0, **values: float
) -> dict[str, Floats]:
    named = {"mix": 1.0, "feedback": 0.0, "longest": 2.0}
    named |= {name.replace("_", "-"): value for name, value in values.items()}
    setting = setting_of(KIND, ways=ways, values=named, tempo_bpm=tempo_bpm)
    return play(KIND, setting, samples, ins)


def impulse(at: int, samples: int) -> Floats:
    wave = np.zeros(samples)
    wave[at] = 5.0
    return wave


def test_taps_lie_at_their_places_with_their_levels_and_sides() -> None:
    out = echoes(
        RATE,
        {"in": impulse(0, RATE)},
        ways=3,
        sync=1.0,
        time=0.05,
        place_2=5.0,
        level_1=1.0,
        level_2=-0.5,
        level_3=0.8,
        pan_1=-1.0,
        pan_2=0.0,
        pan_3=0.5,
    )
    assert list(np.flatnonzero(out["left"])) == [2400, 7200, 12_000]
    assert list(np.flatnonzero(out["right"])) == [7200, 12_000]
    np.testing.assert_allclose(out["left"][[2400, 7200, 12_000]], [5.0, 2.0, -2.5])
    np.testing.assert_allclose(out["right"][[7200, 12_000]], [4.0, -2.5])


@pytest.mark.parametrize(
    ("bpm", "note", "ms"),
    # Source: note lengths, 60000/BPM and fractions.
    [(90, "1/8", 333.333333), (120, "dotted 1/8", 375.0), (140, "1/16", 107.142857)],
)
@pytest.mark.parametrize("ppqn", [4, 24])
def test_a_step_is_the_note_length_of_the_clock(bpm: int, note: str, ms: float, ppqn: int) -> None:
    """After 4 s of clock the echo lies within one sample of its place, whatever tempo the patch said."""
    setting = setting_of(CLOCK, values={"tempo": bpm, "times-1": ppqn}, ways=1)
    clock = play(CLOCK, setting, 5 * RATE)["out-1"]
    ins = {"in": impulse(4 * RATE, 5 * RATE), "clock": clock}
    step = float(NOTE_NAMES.index(note))
    out = echoes(5 * RATE, ins, tempo_bpm=97.0, ppqn=ppqn, step=step, level_1=1.0)["left"]
    (place,) = np.flatnonzero(out)
    assert abs(place - 4 * RATE - ms * RATE / 1000) <= 1.0
    lag = KIND.lags(
        setting_of(KIND, ways=1, values={"step": step, "mix": 1.0}, tempo_bpm=float(bpm))
    )[0]
    assert lag.lo_s == lag.hi_s == pytest.approx(ms / 1000, abs=0.6 / RATE)


def test_repeats_fall_by_the_feedback() -> None:
    """Closed form: repeat k of a steady voltage adds feedback^(k-1); the low pass passes a steady voltage whole."""
    out = echoes(RATE, {"in": 1.0}, sync=1.0, time=0.1, feedback=0.5, tone=20_000.0, level_1=1.0)[
        "left"
    ]
    for k in range(1, 9):
        assert out[4_800 * k + 4_700] == pytest.approx(sum(0.5**i for i in range(k)), rel=1e-9)


def test_held_it_goes_round_unchanged_and_hears_nothing_new() -> None:
    rng = np.random.default_rng(5)
    wave = rng.uniform(-5.0, 5.0, 2 * RATE)
    hold = np.where(np.arange(2 * RATE) < RATE, 0.0, 5.0)
    out = echoes(
        2 * RATE, {"in": wave, "hold": hold}, ways=2, sync=1.0, time=0.1, level_1=0.0, level_2=1.0
    )["left"]
    kept = wave[RATE - 9600 : RATE]
    for turn in range(5):
        start = RATE + 9600 * turn
        np.testing.assert_array_equal(out[start : start + 9600], kept)


def test_reversed_a_tap_plays_pieces_of_its_own_length_backwards() -> None:
    rng = np.random.default_rng(6)
    wave = rng.uniform(-5.0, 5.0, RATE)
    at, length, fade = 9600, 4800, 240
    reverse = np.where(np.arange(RATE) < at, 0.0, 5.0)
    out = echoes(RATE, {"in": wave, "reverse": reverse}, sync=1.0, time=0.1, level_1=1.0)["left"]
    for piece in range(3):
        start = at + piece * length
        backwards = wave[start - length : start][::-1]
        np.testing.assert_array_equal(
            out[start + fade : start + length - fade], backwards[fade : length - fade]
        )
    assert abs(out[at + length]) < 5.0 / fade + 1e-9  # joints are silent


@pytest.mark.parametrize("at", [24_000, 25_234, 26_001, 27_777])
def test_let_go_anywhere_in_a_piece_it_turns_round_without_a_click(at: int) -> None:
    """A slow wave moves by its own slope, and by a fade of 5 ms (240 samples) between two of its values."""
    n = np.arange(RATE)
    slow = 5.0 * np.sin(2 * np.pi * 20 * n / RATE)
    ins = {"in": slow, "reverse": np.where((n >= 9600) & (n < at), 5.0, 0.0)}
    out = echoes(RATE, ins, sync=1.0, time=0.1, level_1=1.0)["left"]
    slope = 5.0 * 2 * np.pi * 20 / RATE
    assert np.abs(np.diff(out[9600:])).max() < slope + 10.0 / 240 + 1e-9
    assert not np.allclose(out[at - 240 : at], slow[at - 240 - 4800 : at - 4800], atol=0.1)
    np.testing.assert_allclose(out[at + 240 :], slow[at + 240 - 4800 : -4800], atol=1e-9)


def test_a_new_time_fades_in_without_a_click() -> None:
    blocks = RATE // 64
    edges = [0.1 if b < blocks // 2 else 0.13 for b in range(blocks + 1)]
    values = {"sync": 1.0, "time": 0.1, "mix": 1.0, "feedback": 0.0, "level-1": 1.0}
    setting = setting_of(KIND, ways=1, values=values)
    slow = 5.0 * np.sin(2 * np.pi * 20 * np.arange(RATE) / RATE)
    out = play(KIND, setting, RATE, {"in": slow}, glides={"time": edges})["left"]
    slope = 5.0 * 2 * np.pi * 20 / RATE
    assert np.abs(np.diff(out[9600:])).max() < slope + 10.0 / 480 + 1e-9
    np.testing.assert_allclose(out[-4800:], slow[-4800 - 6240 : -6240], atol=1e-9)


def test_feedback_over_one_sings_but_stays_bounded_and_silence_comes_back() -> None:
    wave = np.where(np.arange(4 * RATE) < 4800, 5.0, 0.0)
    loud = echoes(4 * RATE, {"in": wave}, sync=1.0, time=0.05, feedback=1.1, level_1=1.0)["left"]
    assert 4.0 < np.abs(loud[-4800:]).max() < 11.0
    soft = echoes(4 * RATE, {"in": wave}, sync=1.0, time=0.01, feedback=0.5)["left"]
    assert soft[4800:9600].any()
    assert not soft[-4800:].any()


def test_interval_and_level() -> None:
    values = {"mix": 1.0, "feedback": 0.5, "level-1": 0.5, "level-2": -0.25, "pan-1": -1.0}
    setting = setting_of(KIND, ways=2, values=values)
    spans = KIND.interval([Span(0.0, 3.0), Span(0, 5), ZERO, ZERO], setting)
    for span, (lo, hi) in zip(spans, ((-1.5, 3.0), (-1.5, 0.0)), strict=True):
        assert [span.lo, span.hi] == pytest.approx([lo, hi], abs=1e-9)
    noise = np.random.default_rng(2).normal(0.0, 1.0, 4 * RATE)
    values = {"level_1": 0.5, "level_2": 0.8, "level_3": -0.3, "feedback": 0.4, "tone": 20_000.0}
    heard = echoes(4 * RATE, {"in": noise}, ways=3, sync=1.0, **values)["left"][2 * RATE :]
    named = {name.replace("_", "-"): value for name, value in values.items()}
    told = KIND.level(
        [Level.swing(4.0, crest_ratio=4.0), SILENT, SILENT, SILENT],
        setting_of(KIND, ways=3, values={"mix": 1.0, "sync": 1.0, **named}),
    )[0]
    assert told.rms_v == pytest.approx(heard.std(), rel=0.05)
