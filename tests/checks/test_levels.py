"""Level findings against Ohm's law, dB and dBu by their definitions, worked by hand.

Every output is 1 kohm and every input 100 kohm unless a test says otherwise, so one load leaves 100/101 of a voltage.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from rigproof.checks import Bench
from rigproof.checks.fixes import MOST_CREST_RATIO, PEAK_CREST_RATIO, rounded, usual, usual_cv
from rigproof.engine.render import render
from rigproof.kinds.base import Level
from rigproof.model.edits import Edit, SetControl
from rigproof.model.project import Project
from rigproof.model.setlist import Passage, Setlist
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import (
    clocked_envelope,
    held_envelope,
    into_desk,
    into_range,
    looped,
    pitch_line,
    steady_into_desk,
    summed,
    trimmed,
    turned_down,
)

KEPT = 100.0 / 101.0
TEN_DBU_PEAK_V = math.sqrt(2.0) * math.sqrt(0.6) * 10.0 ** (10.0 / 20.0)
"""+10 dBu RMS is 2.449490 V, its sine peaks at 3.464102 V: 0 dBu = sqrt(0.6) V."""


def one_edit(name: str, project: Project) -> Edit:
    finding = only(name, project)
    assert finding.fix is not None
    (edit,) = finding.fix.edits
    return edit


def test_too_much_is_counted_in_decibels() -> None:
    """20 log10(5 x 100/101 / 2.5) = 5.934172 dB."""
    found = only("input-overdriven", into_range(5.0, 2.5))
    assert found.at == "mix.in-1"
    assert found.evidence["over_db"] == pytest.approx(20.0 * math.log10(5.0 * KEPT / 2.5))
    assert found.evidence["typical_v"] == pytest.approx(5.0 * KEPT)


def test_the_volume_is_turned_down_just_enough() -> None:
    """2.5 V behind 100/101 takes 2.525 V; the hand sets 2.52."""
    assert one_edit("input-overdriven", into_range(5.0, 2.5)) == SetControl("voice.level", 2.52)


def test_typical_and_possible_are_told_apart() -> None:
    """The level is 2 V at the start and goes to 4 V in the set: typical fits 2.5 V, possible does not."""
    project = into_range(2.0, 2.5, later_v=4.0)
    found = only("input-can-clip", project)
    assert found.evidence["typical_v"] == pytest.approx(2.0 * KEPT)
    assert found.evidence["possible_v"] == pytest.approx(4.0 * KEPT)
    assert not findings("input-overdriven", project)
    assert not findings("input-can-clip", into_range(5.0, 2.5)), "that is said by the other"


def test_two_times_six_volts_reach_eleven() -> None:
    """12 x 100/101 = 11.88 V against rails of 11 V (common practice, no source)."""
    found = only("output-clips", summed(6.0))
    assert found.at == "mix.out"
    assert found.evidence == {
        "low_v": -11.0,
        "high_v": 11.0,
        "low_limit_v": -11.0,
        "high_limit_v": 11.0,
    }


def test_the_sum_is_turned_down_to_half_a_decibel_below_the_rails() -> None:
    """11 V less 0.5 dB is 10.3847 V; over 11.8812 V that is 0.874."""
    edit = one_edit("output-clips", summed(6.0))
    assert edit == SetControl("mix.master", 0.874)
    master_ratio = 11.0 * 10 ** (-0.5 / 20) / (12.0 * KEPT)
    assert master_ratio == pytest.approx(0.874, abs=1e-3)


def test_a_five_volt_sine_into_plus_ten_dbu() -> None:
    """Full scale +10 dBu peaks at sqrt(12) = 3.464102 V; 5 V behind 100/101 is +3.1012 dBFS."""
    found = only("interface-overloaded", into_desk(5.0))
    assert found.at == "desk.in-1"
    assert found.evidence["full_scale_v"] == pytest.approx(math.sqrt(12.0))
    assert found.evidence["peak_dbfs"] == pytest.approx(
        20.0 * math.log10(5.0 * KEPT / TEN_DBU_PEAK_V)
    )


def test_a_ten_volt_peak_to_peak_sine_fits_eighteen_dbu_by_4_812_db() -> None:
    """10 Vpp into full scale +18 dBu is -4.812412 dBFS (computed from 0 dBu = sqrt(0.6) V; EBU R68)."""
    project = rigs.project(
        {
            "voice": rigs.voice(level_v=5.0 / KEPT),
            "desk": rigs.interface(full_scale_dbu=18.0),
        },
        [("voice.sine", "desk.in-1")],
    )
    assert not findings("interface-overloaded", project)
    (headroom, *_) = Bench.of(project).readings.headroom
    assert headroom.peak_dbfs == pytest.approx(-4.812412, abs=1e-6)


def test_the_desk_is_left_three_decibels() -> None:
    """3.464102 V less 3 dB is 2.452420 V, before the load 2.476944 V; the hand sets 2.47."""
    assert one_edit("interface-overloaded", into_desk(5.0)) == SetControl("voice.level", 2.47)


def test_possible_overload_of_the_desk() -> None:
    """4 V x 100/101 over 3.464102 V is +1.16296 dBFS."""
    found = only("interface-can-clip", into_desk(2.0, later_v=4.0))
    assert found.evidence["possible_dbfs"] == pytest.approx(
        20.0 * math.log10(4.0 * KEPT / TEN_DBU_PEAK_V)
    )


def test_fifty_millivolts_are_too_quiet() -> None:
    """0.05 V x 100/101 over 3.464102 V is -36.8988 dBFS; -12 dBFS takes 0.8788 V, set as 0.879."""
    project = into_desk(0.05)
    found = only("interface-too-quiet", project)
    assert found.evidence["peak_dbfs"] == pytest.approx(
        20.0 * math.log10(0.05 * KEPT / TEN_DBU_PEAK_V)
    )
    assert one_edit("interface-too-quiet", project) == SetControl("voice.level", 0.879)


def test_silence_is_not_called_quiet() -> None:
    assert not findings("interface-too-quiet", into_desk(0.0))


def test_a_steady_volt_at_the_desk() -> None:
    found = only("dc-on-audio", steady_into_desk(1.0))
    assert found.evidence["dc_v"] == pytest.approx(KEPT)
    assert found.evidence["dc_dbfs"] == pytest.approx(20.0 * math.log10(KEPT / TEN_DBU_PEAK_V))


def test_a_third_of_the_range() -> None:
    """5 V x 0.3, each way of 4 V, behind two loads: 1.470444 V of 4 V is 36.76 %."""
    found = only("cv-covers-part-of-range", trimmed(0.3))
    assert found.at == "vca.cv"
    assert found.evidence["covered_ratio"] == pytest.approx(5.0 * 0.3 * KEPT**2 / 4.0)
    assert found.evidence["gain_ratio"] == pytest.approx(4.0 / (5.0 * 0.3 * KEPT**2))
    assert found.evidence["offset_v"] == pytest.approx(0.0)


def test_attenuation_and_offset_that_fit_a_unipolar_input() -> None:
    """+/- 5 V behind one load is 9.90099 V wide; 0 to 5 V before the other load is 0 to 5.05 V.

    Gain 5.05 / 9.90099 = 0.51005, set as 0.51; offset 2.525 V.
    """
    found = only("bipolar-into-unipolar", trimmed(1.0, range_v=(0.0, 5.0)))
    assert found.evidence["lost_ratio"] == pytest.approx(0.5)
    assert found.fix is not None
    assert found.fix.edits == (SetControl("trim.gain", 0.51), SetControl("trim.offset", 2.525))
    assert not findings("cv-overdrives", trimmed(1.0, range_v=(0.0, 5.0))), "said once"


def test_a_fix_that_the_knob_does_not_reach_is_none() -> None:
    """+/- 5 V takes gain 10.1 / 9.90099 = 1.0201 of an attenuverter that stops at 1."""
    found = only("cv-covers-part-of-range", trimmed(0.3, range_v=(-5.0, 5.0)))
    assert found.fix is None
    assert found.evidence["gain_ratio"] > 1.0


def test_how_far_a_cv_goes_too_far() -> None:
    found = only("cv-overdrives", trimmed(1.0))
    over_v = 5.0 * KEPT**2 - 4.0
    assert found.evidence["over_v"] == pytest.approx(over_v)
    assert found.evidence["lost_ratio"] == pytest.approx(over_v / (10.0 * KEPT**2))


def test_a_steady_cv_covers_no_range_and_is_not_asked_to() -> None:
    project = rigs.project(
        {"steady": rigs.steady(1.0), "vca": rigs.vca()}, [("steady.out", "vca.cv")]
    )
    assert not findings("cv-covers-part-of-range", project)


@pytest.mark.parametrize(
    ("loads", "cents"), [(1, 11.8812), (2, 23.5294), (3, 34.9515), (4, 46.1538), (8, 88.8889)]
)
def test_pitch_error_of_a_1_kohm_output(loads: int, cents: float) -> None:
    """1 kohm into n inputs of 100 kohm loses 1200 (1 - 1/(1 + n/100)) cents a volt: computed from Ohm's law."""
    found = only("pitch-line-droop", pitch_line(1_000.0, loads))
    assert found.at == "keys.out"
    assert found.evidence["narrow_cents"] == pytest.approx(cents, abs=1e-4)
    assert found.evidence["inputs"] == loads


def test_418_ohm_are_five_cents() -> None:
    """1200 (1 - 1/(1 + R/100 kohm)) = 5 at R = 418.41 ohm."""
    assert not findings("pitch-line-droop", pitch_line(418.0))
    assert findings("pitch-line-droop", pitch_line(419.0))


def test_two_volts_behind_a_load_do_not_reach_two() -> None:
    found = only("gate-below-threshold", clocked_envelope(2.0))
    assert found.at == "env.gate"
    assert found.evidence == {"possible_v": pytest.approx(2.0 * KEPT), "threshold_v": 2.0}


def test_the_pulse_is_raised_to_one_and_a_half_thresholds() -> None:
    """3 V behind 100/101 takes 3.03 V."""
    assert one_edit("gate-below-threshold", clocked_envelope(2.0)) == SetControl(
        "clock.level", 3.03
    )


def test_a_gate_that_is_always_high() -> None:
    found = only("gate-never-falls", held_envelope(3.0))
    assert found.evidence == {"possible_low_v": pytest.approx(3.0 * KEPT), "threshold_v": 2.0}


def test_gain_round_a_loop() -> None:
    """The mixer's output drives two inputs of 100 kohm: 50/51 is left, times 1.1."""
    found = only("loop-gain-over-one", looped(1.1))
    assert found.evidence["loop_gain_ratio"] == pytest.approx(1.1 * 50.0 / 51.0, rel=1e-6)
    assert not findings("loop-gain-over-one", looped(1.019))
    assert findings("loop-gain-over-one", looped(1.021))


def echoing_loop(gain: float, time: str) -> Project:
    """A soft voice into a mixer whose sum comes back through an echo that runs free."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=0.01),
            "echo": rigs.echo(),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [
            ("voice.sine", "mix.in-1"),
            ("mix.out", "echo.left-in"),
            ("echo.left", "mix.in-2"),
            ("mix.out", "desk.in-1"),
        ],
        settings={
            "mix.level-2": gain,
            "echo.sync": "free",
            "echo.time": time,
            "echo.feedback": 0.0,
        },
    )


def test_a_loop_without_delay_grows_at_once() -> None:
    found = only("loop-gain-over-one", looped(1.1))
    assert "round_s" not in found.evidence
    assert "dB, at once." in found.message


def test_how_fast_a_loop_grows_is_how_fast_the_sound_does() -> None:
    """The engine plays it: from the ninth round to the tenth, 50 ms later, it has grown by what was told, within 2 %
    for the tone of the echo and the first rounds, which still count a little."""
    project = echoing_loop(1.6, "50 ms")
    found = only("loop-gain-over-one", project)
    assert found.evidence["round_s"] == pytest.approx(0.050, rel=1e-3)
    net = flatten(project)
    (played_v,) = render(net, 0.6, probes=[net.contact("desk.in-1").row])
    rms_v = [
        float(np.sqrt(np.mean(played_v[round(a * 48_000) : round((a + 0.05) * 48_000)] ** 2)))
        for a in (0.45, 0.50)
    ]
    doubles_s = 0.050 / math.log2(rms_v[1] / rms_v[0])
    assert doubles_s == pytest.approx(found.evidence["doubles_after_s"], rel=0.02)
    assert found.evidence["rails_after_s"] == pytest.approx(math.log2(1e4) * doubles_s, rel=0.02)


def test_nine_tenths_are_left_to_come_back() -> None:
    """0.9 / (50/51) = 0.918."""
    edit = one_edit("loop-gain-over-one", looped(1.1))
    assert isinstance(edit, SetControl)
    assert edit.control == "mix.level-2"
    assert edit.value == pytest.approx(0.918, abs=1e-3)


@pytest.mark.parametrize(
    ("value", "up", "expected"),
    [(0.123456, False, 0.123), (0.123456, True, 0.124), (2.525, False, 2.52), (100.0, True, 100.0)],
)
def test_a_hand_sets_three_digits(value: float, up: bool, expected: float) -> None:
    assert rounded(value, up=up) == expected


def test_how_often_a_normal_sum_goes_further_than_it_is_taken_for() -> None:
    """Share of time beyond k sigma, erfc(k / sqrt 2): 63 in a million beyond 4, 27 in ten thousand beyond 3."""
    beyond_peak = math.erfc(PEAK_CREST_RATIO / math.sqrt(2.0))
    beyond_most = math.erfc(MOST_CREST_RATIO / math.sqrt(2.0))
    assert beyond_peak == pytest.approx(6.334e-5, rel=1e-3)
    assert beyond_most == pytest.approx(2.700e-3, rel=1e-3)


@pytest.mark.parametrize(
    ("level", "peak_v"),
    [
        (Level.swing(5.0, crest_ratio=math.sqrt(2.0)), 5.0),  # a sine is taken at its peak
        (Level.swing(5.0, crest_ratio=math.sqrt(3.0)), 5.0),  # so are saw and triangle
        (Level.swing(10.0, crest_ratio=10.0), 4.0),  # ten volts that meet seldom: 4 x 1 V
        (Level(-10.0, 10.0, 3.0, 1.0), 7.0),  # about the mean
        (Level.steady(8.0), 8.0),
        (Level(0.0, 5.0, 1.0, 0.0), 5.0),  # nobody says how much it moves
    ],
)
def test_usual_peaks(level: Level, peak_v: float) -> None:
    assert usual(level).peak_v == pytest.approx(peak_v)


def test_a_sum_of_many_bursts_is_not_called_clipping() -> None:
    """Thirty-two sines of 0.9 V make 28.8 V if all peaks meet, but an RMS of sqrt(32) x 0.9 / sqrt 2 = 3.6 V.

    Four times that is 14.4 V and clips at 11 V; of 0.65 V each it is 10.4 V and does not, though 20.8 V could meet.
    """
    names = [f"voice-{i}" for i in range(1, 33)]

    def choir(level_v: float) -> Project:
        sheets = {name: rigs.voice(name, level_v) for name in names}
        return rigs.project(
            {**sheets, "mix": rigs.mixer("mix", 32)},
            [
                *((f"{name}.sine", f"mix.in-{i}") for i, name in enumerate(names, start=1)),
                ("mix.out", "voice-1.pitch"),
            ],
        )

    assert findings("output-clips", choir(0.9))
    assert not findings("output-clips", choir(0.65))


def test_what_comes_out_again_need_not_fill_a_range() -> None:
    project = rigs.project(
        {"lfo": rigs.lfo(), "one": rigs.attenuverter("one"), "two": rigs.attenuverter("two")},
        [("lfo.sine", "one.in"), ("one.out", "two.in")],
        settings={"one.gain": 0.1},
    )
    assert not findings("cv-covers-part-of-range", project)


def test_what_clips_with_all_up_is_named_in_the_order_of_the_sound() -> None:
    """Two voices of 2 V that go to 6 V: 12 x 100/101 V reach the rails of the mixer; the desk bears 20 dBu, 10.95 V."""
    plain = summed(2.0)
    both = rigs.playing("voice-1.level", 6.0).sections[0].moves[0]
    moves = (both, replace(both, control="voice-2.level"))
    played = Setlist("tiny", sections=(Passage("only", moves=moves),))
    found = only("clips-with-all-up", replace(plain, setlist=played))
    assert found.at == "patch"
    assert found.evidence == {"outputs": 1, "inputs": 0}
    assert "mix.out clips" in found.message
    assert not findings("output-clips", replace(plain, setlist=played))


def test_a_desk_that_clips_with_all_up() -> None:
    """4 V x 100/101 over 3.464102 V is +1.16296 dBFS."""
    found = only("clips-with-all-up", into_desk(2.0, later_v=4.0))
    assert found.evidence["peak_dbfs"] == pytest.approx(
        20.0 * math.log10(4.0 * KEPT / TEN_DBU_PEAK_V)
    )


def test_a_fader_that_is_down_at_the_start_is_not_too_quiet() -> None:
    assert findings("interface-too-quiet", into_desk(0.05))
    assert not findings("interface-too-quiet", into_desk(0.05, later_v=2.0))


def test_a_cv_that_a_hand_opens_covers_what_it_covers_when_open() -> None:
    project = trimmed(0.1)
    assert findings("cv-covers-part-of-range", project)
    opened = replace(project, setlist=rigs.playing("trim.gain", 0.1, 0.8))
    assert not findings("cv-covers-part-of-range", opened)


def test_an_output_that_stops_at_zero_does_not_clip_at_rest() -> None:
    """An envelope of 0 to 5 V behind an output that gives 0 to 8 V; 10 V would be cut."""

    def through(peak_v: float) -> Project:
        env = rigs.sheet(
            "env",
            [
                rigs.jack_in("gate", "env.gate", signal=Signal.GATE, range_v=(0.0, 10.0)),
                rigs.jack_out("cv", "env.cv", Signal.CV, clamp_v=(0.0, 8.0)),
            ],
            {"env": ("ad-envelope", {"peak": peak_v})},
        )
        vca = rigs.vca(cv_range_v=(0.0, 10.0))
        return rigs.project(
            {"clock": rigs.clock((1, 1)), "env": env, "vca": vca},
            [("clock.out-1", "env.gate"), ("env.cv", "vca.cv")],
        )

    assert not findings("output-clips", through(5.0))
    assert only("output-clips", through(10.0)).evidence["high_limit_v"] == 8.0


def test_noise_is_drawn_in_and_an_envelope_is_not() -> None:
    """The same ends: noise of 1 V about 0 V is taken at 3 V; an envelope that is mostly at rest peaks at each hit."""
    assert usual_cv(Level(-5.0, 5.0, 0.0, 1.0)).hi_v == pytest.approx(3.0)
    assert usual_cv(Level(0.0, 5.0, 0.5, 0.8)).hi_v == 5.0


def test_a_quiet_rig_is_turned_up_by_what_it_lacks_with_everything_up() -> None:
    """+10 dBu is a peak of sqrt(2) * 0.7746 V * 10^(10/20) = 3.464 V, 12 dB below it are 870 mV. The set takes the
    voice from 1 to 2 V, and two outputs work into 100 kohm each: 2 V * (100/101)^2 * master = 870 mV, so master
    = 0.4438."""
    sheets = {
        "voice": rigs.voice(level_v=1.0),
        "mix": rigs.mixer(ways=1),
        "desk": rigs.interface(full_scale_dbu=10.0),
    }
    project = rigs.project(
        sheets,
        [("voice.sine", "mix.in-1"), ("mix.out", "desk.in-1")],
        settings={"mix.master": 0.01},
        setlist=rigs.playing("voice.level", 1.0, 2.0),
    )
    assert one_edit("interface-too-quiet", project) == SetControl("mix.master", 0.444)


def test_silence_is_told_with_where_sound_is_last() -> None:
    """A voice of 2 V through a mixer that is shut: 2 V / sqrt 2, loaded, come as far as the mixer."""
    found = only("way-out-silent", turned_down(0.0))
    assert found.at == "desk.in-1"
    assert "the last sound on the way is at mix.in-1" in found.message
    assert found.evidence["last_v"] == pytest.approx(2.0 / math.sqrt(2.0) * KEPT)
    assert found.fix is None


def test_a_rig_in_which_nothing_sounds_yet_is_not_told_that_it_is_silent() -> None:
    assert not findings("way-out-silent", into_desk(0.0))
    unplugged = rigs.project({"voice": rigs.voice(level_v=2.0), "desk": rigs.interface()})
    assert not findings("way-out-silent", unplugged)


def test_what_the_set_opens_is_not_silent() -> None:
    """Open in one section of the set and shut before and after it, wherever its end lies."""
    assert not findings("way-out-silent", turned_down(0.0, later=0.5))
    assert not findings("way-out-silent", turned_down(0.5, later=0.0))
