"""The stereo delay against the published table of note lengths, geometric series and its own bounds."""

import math
from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import BLOCK, SILENT, ZERO, Level, Span
from rigproof.kinds.clock import KIND as CLOCK
from rigproof.kinds.stereo_delay import KIND, NOTE_NAMES, NOTES, soft_clip
from tests.kinds.running import Floats, play, setting_of

RATE = 48_000

# Source: note lengths, 60000/BPM and fractions. [ms]
TABLE = {
    60: (1000.0, 750.0, 500.0, 666.666667, 333.333333, 250.0, 166.666667),
    90: (666.666667, 500.0, 333.333333, 444.444444, 222.222222, 166.666667, 111.111111),
    100: (600.0, 450.0, 300.0, 400.0, 200.0, 150.0, 100.0),
    120: (500.0, 375.0, 250.0, 333.333333, 166.666667, 125.0, 83.333333),
    140: (428.571429, 321.428571, 214.285714, 285.714286, 142.857143, 107.142857, 71.428571),
}
COLUMNS = ("1/4", "dotted 1/8", "1/8", "1/4 triplet", "1/8 triplet", "1/16", "1/16 triplet")
CELLS = [
    (bpm, name, ms) for bpm, row in TABLE.items() for name, ms in zip(COLUMNS, row, strict=True)
]


def note(name: str) -> float:
    return float(NOTE_NAMES.index(name))


def clocked(bpm: float, ppqn: int, samples: int) -> Floats:
    """The master clock's own pulses."""
    setting = setting_of(CLOCK, values={"tempo": bpm, "times-1": ppqn}, ways=1)
    return play(CLOCK, setting, samples)["out-1"]


def echoes(
    samples: int, ins: dict[str, Any], tempo_bpm: float = 120.0, **values: float
) -> dict[str, Floats]:
    named = {name.replace("_", "-"): value for name, value in values.items()}
    return play(KIND, setting_of(KIND, values=named, tempo_bpm=tempo_bpm), samples, ins)


def impulse(at: int, samples: int) -> Floats:
    wave = np.zeros(samples)
    wave[at] = 5.0
    return wave


@pytest.mark.parametrize("ppqn", [4, 24])
@pytest.mark.parametrize("bpm", TABLE)
def test_echo_times_of_the_published_table(bpm: int, ppqn: int) -> None:
    """After 4 s of clock every first echo lies within one sample of its place, whatever tempo the patch said."""
    at, samples = 4 * RATE, 6 * RATE
    clock, hit = clocked(bpm, ppqn, samples), impulse(at, samples)
    for first, second in zip(COLUMNS, COLUMNS[1:] + COLUMNS[:1], strict=True):
        out = echoes(
            samples,
            {"left": hit, "right": hit, "clock": clock},
            tempo_bpm=97.0,
            ppqn=ppqn,
            beats_left=note(first),
            beats_right=note(second),
            mix=1.0,
            feedback=0.0,
        )
        for side, name in (("left", first), ("right", second)):
            (place,) = np.flatnonzero(out[side])
            ms = TABLE[bpm][COLUMNS.index(name)]
            assert abs(place - at - ms * RATE / 1000) <= 1.0
            assert out[side][place] == pytest.approx(5.0)


@pytest.mark.parametrize(("bpm", "name", "ms"), CELLS)
def test_the_delay_reading_is_the_table(bpm: int, name: str, ms: float) -> None:
    values = {"beats-left": note(name), "mix": 1.0}
    lag = KIND.lags(setting_of(KIND, values=values, tempo_bpm=bpm))[0]
    assert (lag.source, lag.target, lag.is_signal) == ("left", "left", True)
    assert lag.lo_s == pytest.approx(ms / 1000, abs=0.5 / RATE + 1e-9)
    assert lag.hi_s == lag.lo_s


def test_note_lengths_are_what_their_names_say() -> None:
    for name, quarters in NOTES.items():
        length = name.split()[-1] if name.startswith("dotted") else name.split()[0]
        plain = 4 / int(length.split("/")[1])
        factor = 1.5 if name.startswith("dotted") else 2 / 3 if name.endswith("triplet") else 1.0
        assert float(quarters) == pytest.approx(plain * factor)


def test_before_the_clock_is_measured_the_tempo_of_the_patch_holds() -> None:
    out = echoes(RATE, {"left": impulse(0, RATE)}, beats_left=note("1/4"), mix=1.0, feedback=0.0)
    assert list(np.flatnonzero(out["left"])) == [24_000]


def test_free_time_and_its_cv() -> None:
    for volts, samples in [(0.0, 4_800), (1.0, 2_400), (-1.0, 9_600), (-11.0, 96_000)]:
        ins = {"left": impulse(9_600, 3 * RATE), "time": volts}
        out = echoes(3 * RATE, ins, sync=1.0, time=0.1, mix=1.0, feedback=0.0)
        assert list(np.flatnonzero(out["left"])) == [9_600 + samples]  # at most the memory's 2 s


def test_repeats_fall_by_the_feedback() -> None:
    """Closed form: repeat k of a slow wave is feedback^(k-1); the low pass passes a steady voltage whole."""
    step = np.full(RATE, 1.0)
    out = echoes(RATE, {"left": step}, sync=1.0, time=0.1, mix=1.0, feedback=0.5, tone=20_000.0)[
        "left"
    ]
    for k in range(1, 9):
        assert out[4_800 * k + 4_700] == pytest.approx(sum(0.5**i for i in range(k)), rel=1e-9)


def test_every_time_round_is_darker() -> None:
    """Six decibels an octave above the tone, and -3 dB at it."""
    hit = impulse(0, RATE)
    out = echoes(RATE, {"left": hit}, sync=1.0, time=0.25, mix=1.0, feedback=1.0, tone=1_000.0)[
        "left"
    ]
    first, second = out[12_000:23_900], out[24_000:35_900]
    ratio = np.abs(np.fft.rfft(second, RATE)) / np.abs(np.fft.rfft(first, RATE))
    assert ratio[0] == pytest.approx(1.0, rel=1e-6)
    assert 20 * math.log10(ratio[1_000]) == pytest.approx(-3.01, abs=0.3)
    assert 20 * math.log10(ratio[4_000] / ratio[2_000]) == pytest.approx(-5.3, abs=0.5)


def test_feedback_over_one_sings_but_stays_bounded() -> None:
    rng = np.random.default_rng(3)
    wave = np.zeros(6 * RATE)
    wave[:4_800] = rng.uniform(-5, 5, 4_800)
    ins = {"left": wave, "right": -wave}
    out = echoes(6 * RATE, ins, sync=1.0, time=0.1, mix=1.0, feedback=1.1, tone=20_000.0)
    late = out["left"][-4_800:]
    assert 4.0 < np.abs(late).max() < 11.0
    assert np.std(late) > np.std(out["left"][4_800:9_600]) * 0.5


def test_the_soft_clip_is_a_line_up_to_6_v_and_a_tanh_beyond() -> None:
    """Against Python's own tanh, within what the formula promises; below the knee to the bit."""
    for volts in np.linspace(-60.0, 60.0, 12_001):
        over = max(0.0, abs(volts) - 6.0)
        bent = math.copysign(min(abs(volts), 6.0) + 5.0 * math.tanh(over / 5.0), volts)
        assert soft_clip(volts) == pytest.approx(bent, rel=0.0, abs=1e-12 if over > 0.0 else 0.0)
    assert soft_clip(24.0) < 11.0  # the most that can come: 11 V in, and 11 V round at 1.1


def test_a_time_half_way_between_two_samples_is_rounded_up() -> None:
    """0.375 s halved five times is 562.5 samples: whatever the last bit of a power of two, 563."""
    ins = {"left": impulse(0, 2 * RATE), "time": 5.0}
    out = echoes(2 * RATE, ins, sync=1.0, time=0.375, mix=1.0, feedback=0.0)
    assert np.flatnonzero(out["left"])[-1] <= 18_000  # the fade from the knob's time to the CV's
    ins["left"] = impulse(RATE, 2 * RATE)
    out = echoes(2 * RATE, ins, sync=1.0, time=0.375, mix=1.0, feedback=0.0)
    assert list(np.flatnonzero(out["left"])) == [RATE + 563]


def test_short_echoes_shorter_than_a_block_repeat_to_the_sample() -> None:
    """48 samples, then 24 and 1: a series of hits, each its feedback times the one before."""
    for volts, late in ((0.0, 48), (1.0, 24), (6.0, 1)):
        ins = {"left": impulse(9_600, 10_600), "time": volts}
        out = echoes(10_600, ins, sync=1.0, time=0.001, mix=1.0, feedback=0.5, tone=20_000.0)[
            "left"
        ]
        # The low pass lets 1 - exp(-2 pi 20/48) of a hit through at once.
        passed = 1.0 - math.exp(-2.0 * math.pi * 20.0 / 48.0)
        assert not out[9_600 : 9_600 + late].any()
        assert out[9_600 + late] == pytest.approx(5.0)
        if late > 1:
            assert out[9_600 + 2 * late] == pytest.approx(2.5 * passed, rel=1e-9)
            assert out[9_600 + 3 * late] == pytest.approx(1.25 * passed**2, rel=1e-9)


def test_feedback_cv_adds_a_fifth_a_volt() -> None:
    hit = impulse(0, 20_000)
    values = {"sync": 1.0, "time": 0.1, "mix": 1.0}
    by_knob = echoes(20_000, {"left": hit}, feedback=0.6, **values)["left"]
    by_cv = echoes(20_000, {"left": hit, "feedback": 2.0}, feedback=0.2, **values)["left"]
    assert by_cv == pytest.approx(by_knob, abs=1e-12)


def test_crossed_a_side_answers_the_other() -> None:
    values = {"sync": 1.0, "time": 0.1, "mix": 1.0, "feedback": 0.5, "path": 1.0, "tone": 20_000.0}
    out = echoes(20_000, {"left": impulse(0, 20_000)}, **values)
    assert np.flatnonzero(np.abs(out["left"]) > 0.5)[0] == 4_800
    assert np.flatnonzero(np.abs(out["right"]) > 0.5)[0] == 9_600
    assert not out["right"][:9_600].any()
    lags = KIND.lags(setting_of(KIND, values=values))
    (across,) = [lag for lag in lags if (lag.source, lag.target) == ("left", "right")]
    assert across.lo_s == pytest.approx(0.2)


def test_mix_goes_from_dry_to_wet() -> None:
    hit = impulse(0, 9_600)
    for mix in (0.0, 0.25, 1.0):
        out = echoes(9_600, {"left": hit}, sync=1.0, time=0.1, mix=mix, feedback=0.0)["left"]
        assert out[0] == pytest.approx(5.0 * (1 - mix))
        assert out[4_800] == pytest.approx(5.0 * mix)


def test_a_new_time_fades_in_without_a_click() -> None:
    """A steady 5 V is the same at every time: nothing may dip. A slow sine may not jump."""
    samples = 2 * RATE
    time = np.zeros(samples)
    time[RATE:] = 0.3
    flat = echoes(samples, {"left": 5.0, "time": time}, sync=1.0, time=0.2, mix=1.0, feedback=0.0)[
        "left"
    ]
    assert flat[RATE:] == pytest.approx(np.full(RATE, 5.0), rel=1e-12)
    slow = 5.0 * np.sin(2 * np.pi * 20 * np.arange(samples) / RATE)
    out = echoes(samples, {"left": slow, "time": time}, sync=1.0, time=0.2, mix=1.0, feedback=0.0)[
        "left"
    ]
    slope = 5.0 * 2 * np.pi * 20 / RATE
    assert np.abs(np.diff(out[RATE:])).max() < slope + 10.0 / 480 + 1e-9


def test_a_steady_clock_leaves_the_time_alone() -> None:
    """Once measured, the time does not hunt: a sine comes out with no trace of a fade."""
    samples = 10 * RATE
    wave = np.sin(2 * np.pi * 997 * np.arange(samples) / RATE)
    clock = clocked(140.0, 4, samples)
    out = echoes(
        samples,
        {"left": wave, "clock": clock},
        tempo_bpm=140.0,
        beats_left=note("1/4"),
        mix=1.0,
        feedback=0.0,
    )["left"]
    tail = out[6 * RATE :]
    for late in (20_570, 20_571, 20_572):
        if np.allclose(tail, wave[6 * RATE - late : samples - late], atol=1e-9):
            break
    else:
        pytest.fail("the delay moved")


@pytest.mark.parametrize("swing", [0.5, 0.58, 0.75])
def test_swing_does_not_move_the_echo(swing: float) -> None:
    """A swung clock of 112 BPM: the mean of two periods is the straight one; nothing hunts."""
    samples = 10 * RATE
    setting = setting_of(CLOCK, values={"tempo": 112.0, "times-1": 4, "swing-1": swing}, ways=1)
    clock = play(CLOCK, setting, samples)["out-1"]
    wave = np.sin(2 * np.pi * 997 * np.arange(samples) / RATE)
    out = echoes(
        samples, {"left": wave, "clock": clock}, beats_left=note("1/4"), mix=1.0, feedback=0.0
    )
    tail = out["left"][6 * RATE :]
    true = 60 / 112 * RATE
    found = [
        late
        for late in range(round(true) - 2, round(true) + 3)
        if np.allclose(tail, wave[6 * RATE - late : samples - late], atol=1e-9)
    ]
    assert len(found) == 1
    assert abs(found[0] - true) <= 1.0


def test_a_creeping_tempo_is_followed_to_a_percent() -> None:
    """From 100 to 125 BPM in a straight line over 20 s, then a hit: 480 ms, give or take a percent."""
    blocks = 20 * RATE // BLOCK
    edges = [100.0 + 25.0 * b / blocks for b in range(blocks + 1)]
    setting = setting_of(CLOCK, values={"tempo": 100.0, "times-1": 4}, ways=1)
    clock = play(CLOCK, setting, blocks * BLOCK, glides={"tempo": edges})["out-1"]
    hit = impulse(blocks * BLOCK - 1, 21 * RATE)
    out = echoes(
        21 * RATE, {"left": hit, "clock": clock}, beats_left=note("1/4"), mix=1.0, feedback=0.0
    )
    place = int(np.argmax(out["left"]))
    assert (place - blocks * BLOCK + 1) / 23_040 == pytest.approx(1.0, abs=0.01)


def test_a_new_tempo_is_followed() -> None:
    slow, fast = clocked(100.0, 4, 4 * RATE), clocked(125.0, 4, 6 * RATE)
    clock = np.concatenate([slow, fast])
    hit = impulse(8 * RATE, 10 * RATE)
    out = echoes(
        10 * RATE, {"left": hit, "clock": clock}, beats_left=note("1/4"), mix=1.0, feedback=0.0
    )
    (place,) = np.flatnonzero(out["left"])
    assert abs(place - 8 * RATE - 23_040) <= 1  # 480 ms


def test_echoes_end_in_exact_silence() -> None:
    out = echoes(4 * RATE, {"left": impulse(0, 4 * RATE)}, sync=1.0, time=0.01, feedback=0.5)[
        "left"
    ]
    assert out[4_800] != 0.0
    assert not out[-RATE:].any()


def test_the_interval_is_the_geometric_series() -> None:
    def spans(values: dict[str, float], left: Span, cv: Span = ZERO) -> Span:
        ins = [left, ZERO, Span(0, 5), ZERO, cv]
        return KIND.interval(ins, setting_of(KIND, values=values))[0]

    assert spans({"mix": 1.0, "feedback": 0.0}, Span(-2, 3)) == Span(-2, 3)
    assert spans({"mix": 1.0, "feedback": 0.5}, Span(0, 3)) == Span(0, 6)
    assert spans({"mix": 0.5, "feedback": 0.5}, Span(0, 3)) == Span(0, 4.5)
    assert spans({"mix": 1.0, "feedback": 0.5}, Span(0, 3), Span(0, 5)) == Span(0, 11)
    assert spans({"mix": 0.0, "feedback": 1.1}, Span(-4, 3)) == Span(-4, 3)


def test_the_level_said_is_the_level_heard() -> None:
    rng = np.random.default_rng(4)
    wave = rng.normal(0.0, 0.5, 6 * RATE)
    out = echoes(6 * RATE, {"left": wave}, sync=1.0, time=0.1, mix=0.5, feedback=0.6, tone=20_000.0)
    given = Level(-2.0, 2.0, 0.0, 0.5)
    setting = setting_of(KIND, values={"sync": 1.0, "mix": 0.5, "feedback": 0.6})
    said = KIND.level([given, SILENT, SILENT, SILENT, SILENT], setting)[0]
    heard = float(out["left"][2 * RATE :].std())
    assert 20 * math.log10(heard / said.rms_v) == pytest.approx(0.0, abs=0.5)
