"""The sample voice against sines whose frequency, level and images are known."""

import math
from typing import Any

import numpy as np
import pytest

from rigproof.kinds.base import BLOCK, ZERO, Level, Span
from rigproof.kinds.interpolation import AHEAD, ALMOST, STRETCHES, halved, halved_frames
from rigproof.kinds.sample_voice import KIND, MOST_SOUNDS, check_files
from tests.kinds.running import Floats, play, pulses, rises, setting_of
from tests.kinds.test_catalogue import Bench

RATE = 48_000


def sine(hz: float, seconds: float = 1.0, *, peak: float = 0.5) -> Floats:
    return np.asarray(peak * np.sin(2 * np.pi * hz / RATE * np.arange(int(seconds * RATE))))


def struck(
    sounds: list[Floats],
    samples: int,
    *,
    ins: dict[str, Any] | None = None,
    at: int = 0,
    **values: float,
) -> dict[str, Floats]:
    """One trigger, and what comes out."""
    setting = setting_of(KIND, sounds=sounds, values=values)
    trigger = pulses([at], at + 240, length=240)
    return play(KIND, setting, samples, {"trigger": trigger, **(ins or {})})


def apart_from(wave: Floats, hz: float) -> tuple[float, float]:
    """Peak of the sine at `hz`, and of all else together (as a sine of the same power)."""
    n = np.arange(wave.size)
    basis = np.stack([np.cos(2 * np.pi * hz / RATE * n), np.sin(2 * np.pi * hz / RATE * n)])
    found, *_ = np.linalg.lstsq(basis.T, wave, rcond=None)
    rest = wave - found @ basis
    return float(np.hypot(*found)), float(rest.std() * math.sqrt(2))


def test_untransposed_it_is_the_sound_times_5_volts() -> None:
    sound = np.random.default_rng(1).uniform(-1, 1, (2_000, 2))
    out = struck([sound], 4_000, at=100)
    assert np.array_equal(out["left"][100:2_100], 5.0 * sound[:, 0])
    assert np.array_equal(out["right"][100:2_100], 5.0 * sound[:, 1])
    assert not out["left"][:100].any()
    assert not out["left"][2_100:].any()


@pytest.mark.parametrize(("trigger_v", "is_heard"), [(0.0, False), (0.99, False), (1.0, True)])
def test_it_is_silent_and_told_so_where_no_trigger_reaches_its_threshold(
    trigger_v: float, is_heard: bool
) -> None:
    """The threshold is 1 V; what is played is held against both readings."""
    setting = setting_of(KIND, sounds=[np.ones(100)])
    trigger = pulses([10], 200, length=50, level_v=trigger_v)
    out = play(KIND, setting, 200, {"trigger": trigger})
    spans = [Span(0.0, trigger_v), ZERO, ZERO, Span.point(5.0)]
    levels = [Level(0.0, trigger_v), Level(), Level(), Level.steady(5.0)]
    for side, span, level in zip(
        ("left", "right"), KIND.interval(spans, setting), KIND.level(levels, setting), strict=True
    ):
        assert out[side].any() == is_heard
        assert (span == ZERO) is not is_heard
        assert level.is_silent is not is_heard
        assert level.peak_v == (5.0 if is_heard else 0.0)


def test_a_mono_sound_comes_out_on_both_sides() -> None:
    out = struck([sine(300)], 4_800, tune=-3)
    assert np.array_equal(out["left"], out["right"])
    assert out["left"].any()


@pytest.mark.parametrize(
    ("hz", "pitch_v", "tune"),
    [
        (1000.0, 1.0, 0.0),
        (1000.0, 0.0, 12.0),
        (440.0, -1.0, 0.0),
        (440.0, 0.25, 4.0),
        (9000.0, -0.5, 0.0),
    ],
)
def test_a_volt_is_an_octave(hz: float, pitch_v: float, tune: float) -> None:
    """Definition of 1 V/octave; all that is not the sine lies 60 dB down."""
    out = struck([sine(hz)], 20_000, ins={"pitch": pitch_v}, tune=tune)["left"][100:]
    peak, rest = apart_from(out, hz * 2 ** (pitch_v + tune / 12))
    assert peak == pytest.approx(2.5, rel=0.002)
    assert 20 * math.log10(rest / peak) < -60.0


@pytest.mark.parametrize("hz", [3_000.0, 9_000.0, 15_000.0, 17_900.0])
def test_images_of_a_slowed_sound_lie_60_db_down(hz: float) -> None:
    """Half speed puts the image of f at (48 kHz - f)/2."""
    out = struck([sine(hz)], 40_000, tune=-12)["left"][100:]
    peak, rest = apart_from(out, hz / 2)
    image, _ = apart_from(out, (RATE - hz) / 2)
    assert peak == pytest.approx(2.5, rel=0.02)
    assert 20 * math.log10(image / 2.5) < -60.0
    assert 20 * math.log10(rest / 2.5) < -60.0


@pytest.mark.parametrize(
    ("hz", "tune"),
    [(16_000.0, 12.0), (20_000.0, 12.0), (23_000.0, 12.0), (9_000.0, 24.0), (22_500.0, 7.0)],
)
def test_what_would_fold_back_lies_60_db_down(hz: float, tune: float) -> None:
    """It would land below 18 kHz at a level of its own without the stretched low pass."""
    folded = abs((hz * 2 ** (tune / 12) + RATE / 2) % RATE - RATE / 2)
    assert folded <= 18_000.0
    out = struck([sine(hz)], 8_000, tune=tune)["left"][400:]
    assert 20 * math.log10(max(np.abs(out).max(), 1e-12) / 2.5) < -60.0


@pytest.mark.parametrize("speed", [1.3, 1.3135, 1.7, 2.001, 2.3, 2.76, 3.99, 4.01, 5.2, 7.9])
def test_nothing_folds_back_below_18_khz_at_any_speed(speed: float) -> None:
    """Sines whose place in the output lies beyond what it can hold, each by the strongest thing below 18 kHz."""
    window = np.hanning(4_096)
    edge = int(18_000 / RATE * window.size)
    worst = 0.0
    for hz in np.linspace(24_050 / speed, 23_900, 24):
        out = struck([sine(hz)], 4_496, tune=12 * math.log2(speed))["left"][400:]
        found = np.abs(np.fft.rfft(out * window))[: edge - 2] / (window.sum() / 2)
        worst = max(worst, float(found.max()))
    assert 20 * math.log10(worst / 2.5) < -60.0


@pytest.mark.parametrize("speed", [1.05, 1.9, 2.1, 3.9, 4.1, 7.7])
@pytest.mark.parametrize("hz", [500.0, 6_000.0, 15_000.0])
def test_what_fits_is_kept_at_any_speed(hz: float, speed: float) -> None:
    """Every copy of the sound, at the ends of where it serves: level within 0.02 dB, all else 60 dB down."""
    out = struck([sine(hz / speed, 2.0)], 8_000, tune=12 * math.log2(speed))["left"][200:]
    peak, rest = apart_from(out, hz)
    assert 20 * math.log10(peak / 2.5) == pytest.approx(0.0, abs=0.02)
    assert 20 * math.log10(rest / peak) < -60.0


@pytest.mark.parametrize(
    ("ratio", "lo_db", "hi_db"),
    [(0.1, -0.001, 0.001), (0.85, -0.01, 0.01), (1.15, -200.0, -75.0), (1.9, -200.0, -75.0)],
)
def test_a_copy_at_half_the_rate_keeps_what_fits_and_no_more(
    ratio: float, lo_db: float, hi_db: float
) -> None:
    """As far as `HALVING_REACH` promises; what passes stands where it stood."""
    hz = ratio * RATE / 4
    sound = sine(hz, 0.25).reshape(-1, 1)
    copy = halved(sound)
    assert copy.shape == (halved_frames(sound.shape[0]), 1)
    heard = copy[AHEAD : AHEAD + sound.shape[0] // 2, 0][100:-100]
    there = sound[::2, 0][100:-100]
    lines = np.hanning(heard.size) * np.exp(-4j * np.pi * hz / RATE * np.arange(heard.size))
    assert lo_db < 20 * math.log10(abs(lines @ heard) / abs(lines @ there)) < hi_db
    if ratio < 1.0:
        np.testing.assert_allclose(heard, there, atol=1e-3)


@pytest.mark.parametrize("copy", [1, 2, 4])
@pytest.mark.parametrize("step", [0, 1, 7, 15])
def test_a_glide_goes_from_one_low_pass_to_the_next_unheard(copy: int, step: int) -> None:
    """Just below and above the speeds at which the next stretch, or the next copy, is taken: 60 dB down."""
    edges = [copy * (1 + (step + ALMOST) / STRETCHES)] + ([copy] if copy > 1 else [])
    for speed in edges:
        sound = sine(5_000 / speed, 2.0)
        below, above = (
            struck([sound], 4_000, tune=12 * math.log2(speed) + aside)["left"][400:]
            for aside in (-1e-6, 1e-6)
        )
        assert 0.0 < np.abs(below - above).max() < 2.5e-3


def test_a_sound_of_one_frame_sounds_at_any_speed() -> None:
    """A single frame through the stretched sinc, whose peak is one over the stretch, and no further than it rings."""
    for octaves in (0.5, 1.0, 2.0, 3.0):
        out = struck([np.ones(1)], 200, tune=12 * octaves)["left"]
        assert out[0] == pytest.approx(5.0 * 2.0**-octaves, rel=0.06)
        assert not out[20:].any()


@pytest.mark.parametrize("speed", [0.7, 1.0, 1.5, 2.0, 3.3, 7.1])
def test_a_stereo_sound_is_two_mono_sounds(speed: float) -> None:
    """Read as it is and from either copy, ends included."""
    sound = np.random.default_rng(3).uniform(-0.7, 0.7, (700, 2))
    tune = 12 * math.log2(speed)
    both = struck([sound[::-1], sound], 1_200, tune=tune, select=2.0)
    for i, side in enumerate(("left", "right")):
        alone = struck([sound[:, i]], 1_200, tune=tune)["left"]
        assert np.array_equal(both[side], alone)
        assert alone.any()


@pytest.mark.parametrize(("speed", "longer"), [(0.7, 1.0), (1.0625, 1.0625), (1.3, 1.3125)])
def test_it_is_the_sum_that_the_source_gives(speed: float, longer: float) -> None:
    """The windowed sinc, as much longer as the next step says, weighed directly at each place; the straight lines
    between 64 places leave out less than half their curve, (pi / 64)^2 / 8 of the sum.
    """
    sound = np.random.default_rng(4).uniform(-0.5, 0.5, 400)
    out = struck([sound], 400, tune=12 * math.log2(speed))["left"][: int(400 / speed)]
    away = (np.arange(400)[None, :] - speed * np.arange(out.size)[:, None]) / longer
    beta = 0.1102 * (65.0 - 8.7)
    window = np.i0(beta * np.sqrt(np.clip(1.0 - (away / 8.0) ** 2, 0.0, None))) / np.i0(beta)
    weights = np.sinc(away) * np.where(np.abs(away) < 8.0, window, 0.0) / longer
    assert np.abs(out - 5.0 * weights @ sound).max() < 5.0 * (math.pi / 64) ** 2 / 8


@pytest.mark.parametrize("piece", [1, 2, 16])
def test_pieces_of_any_length_give_the_same_sound(piece: int) -> None:
    """Against whole blocks: glides over every copy, mono and stereo, over ends and new triggers."""
    samples = 150 * BLOCK
    rng = np.random.default_rng(6)
    bank = [rng.uniform(-1.0, 1.0, shape) for shape in (9_000, (5_000, 2))]
    fed = [
        pulses(range(30, samples, 1_211), samples),
        np.where(np.arange(samples) % 2_000 < 1_000, 0.0, 5.0),
        3.3 * np.sin(np.arange(samples) / 700.0),
        np.full(samples, 5.0),
    ]
    setting = setting_of(KIND, sounds=bank)
    whole, cut = (Bench(KIND, setting, plain=False, block=block) for block in (BLOCK, piece))
    expected = whole.run(fed, samples)
    assert np.abs(expected).max() > 1.0
    np.testing.assert_allclose(cut.run(fed, samples), expected, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(cut.state, whole.state, rtol=1e-9, atol=1e-9)


def test_an_octave_up_keeps_what_fits() -> None:
    out = struck([sine(8_000)], 20_000, tune=12)["left"][100:]
    assert apart_from(out, 16_000)[0] == pytest.approx(2.5, rel=0.02)


def test_decay_falls_60_db_in_its_time() -> None:
    """Definition; hold 100 ms, decay 200 ms, of a steady sound."""
    out = struck([np.ones(RATE)], RATE // 2, hold=0.1, decay=0.2)["left"]
    assert out[4_799] == pytest.approx(5.0)
    assert out[4_800 + 9_600] == pytest.approx(5.0e-3, rel=1e-9)
    assert out[4_800 + 4_800] == pytest.approx(5.0 * 10 ** (-1.5), rel=1e-9)


def test_gated_it_lasts_as_long_as_the_gate() -> None:
    gate = pulses([0], 4_800, length=4_800)
    setting = setting_of(KIND, sounds=[np.ones(RATE)], values={"mode": 1, "decay": 0.1})
    out = play(KIND, setting, RATE // 2, {"trigger": gate})["left"]
    assert np.all(out[:4_801] == 5.0)  # the fall begins with the first low sample
    assert out[4_800 + 4_800] == pytest.approx(5.0e-3, rel=1e-9)
    assert not out[4_800 + 9_601 :].any()  # -120 dB: over


def test_a_new_trigger_fades_the_old_sound_in_a_millisecond() -> None:
    """A steady 4 V cut off at once would jump by 4 V; the fade's largest step is 1/48 of it."""
    low = np.full(RATE, 0.8)
    silence = np.zeros(100)
    setting = setting_of(KIND, sounds=[low, silence])
    select = np.zeros(9_600)
    select[4_000:] = 5.0
    out = play(KIND, setting, 9_600, {"trigger": pulses([0, 4_800], 9_600), "select": select})[
        "left"
    ]
    assert np.abs(np.diff(out[1:])).max() == pytest.approx(4.0 / 48, rel=1e-9)
    assert out[4_800 + 24] == pytest.approx(2.0, rel=0.05)
    assert not out[4_800 + 48 :].any()


def test_a_start_in_the_middle_does_not_click() -> None:
    out = struck([np.full(RATE, 0.8)], 4_800, start=0.5)["left"]
    assert np.abs(np.diff(np.concatenate([[0.0], out]))).max() <= 4.0 / 48 + 1e-9
    assert out[100] == pytest.approx(4.0)
    ramp = np.arange(1000) / 1000
    assert struck([ramp], 400, start=0.25)["left"][200] == pytest.approx(5.0 * 0.45)


def test_five_volts_select_over_the_whole_bank() -> None:
    bank = [np.full(2_000, (i + 1) / 10) for i in range(4)]
    for volts, expected in [(0.0, 1), (1.2, 1), (1.3, 2), (2.6, 3), (3.9, 4), (5.0, 4), (-3.0, 1)]:
        out = struck(bank, 200, ins={"select": volts})["left"]
        assert out[0] == pytest.approx(expected * 0.5)
    assert struck(bank, 200, select=3.0)["left"][0] == pytest.approx(1.5)
    assert struck(bank, 200, select=3.0, ins={"select": 1.25})["left"][0] == pytest.approx(2.0)
    assert struck(bank, 200, select=128.0)["left"][0] == pytest.approx(2.0)


def test_level_and_its_cv() -> None:
    assert struck([np.ones(100)], 50, level=2.0)["left"][0] == pytest.approx(10.0)
    assert struck([np.ones(100)], 50, ins={"level": 2.5})["left"][0] == pytest.approx(2.5)
    assert struck([np.ones(100)], 50, ins={"level": 9.0})["left"][0] == pytest.approx(5.0)
    assert struck([np.full(100, 3.0)], 50)["left"][0] == pytest.approx(
        5.0
    )  # converter's full scale


def test_without_sounds_it_is_silent() -> None:
    out = struck([], 4_800)
    assert not out["left"].any()
    assert not out["right"].any()


def test_broken_frames_are_silence() -> None:
    sound = np.array([0.1, math.nan, math.inf, 0.1])
    assert struck([sound], 10)["left"][:4] == pytest.approx([0.5, 0.0, 0.0, 0.5])


def test_triggers_far_apart_play_the_same() -> None:
    sound = np.random.default_rng(2).uniform(-1, 1, 600)
    setting = setting_of(KIND, sounds=[sound], values={"tune": 5})
    wave = pulses([0, 2_400, 4_800], 7_200)
    assert rises(wave) == [0, 2_400, 4_800]
    out = play(KIND, setting, 7_200, {"trigger": wave})["left"]
    assert np.array_equal(out[:2_400], out[2_400:4_800])


def test_it_crosses_speed_1_without_a_step() -> None:
    """Both ways of reading agree where they meet."""
    sound = sine(5_000)
    below = struck([sound], 4_000, tune=-1e-7)["left"][10:]
    above = struck([sound], 4_000, tune=1e-7)["left"][10:]
    assert np.abs(below - above).max() < 5e-4


def test_a_bank_is_a_list_of_files() -> None:
    assert [o.name for o in KIND.options] == ["files"]
    assert check_files(()) is None
    assert check_files(("samples/bell.wav",) * MOST_SOUNDS) is None
    for wrong in ("samples/bell.wav", 3, (1,), ("samples/bell.wav",) * (MOST_SOUNDS + 1)):
        assert str(MOST_SOUNDS) in (check_files(wrong) or "")
