"""Rhythm findings against arithmetic, closed forms and the rendered sound."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.model.edits import AddCable, RemoveCable, Replug, SetControl, apply_edits
from rigproof.model.patch import Cable
from rigproof.net.flatten import flatten
from tests.checks import play_cases as play
from tests.checks.ask import findings, only

RATE_HZ = 48_000


def test_the_open_reset_is_named_and_fed() -> None:
    found = only("reset-left-open", play.two_steppers(both=False))
    assert found.at == "two.reset"
    assert found.fix is not None
    assert found.fix.edits == (AddCable(Cable("clock.reset", "two.reset")),)


def test_a_lag_of_ten_milliseconds_is_late_by_the_charge_of_a_capacitor() -> None:
    """To 1 V of 5 * 100/101 V through 10 ms: -10 ms ln(1 - 1/4.95050) = 2.2564 ms."""
    found = only("reset-after-clock", play.lagging(reset=True, clock=False))
    high_v = 5.0 * 100.0 / 101.0
    assert found.evidence["late_s"] == pytest.approx(-0.010 * math.log(1.0 - 1.0 / high_v))
    assert found.evidence["late_s"] == pytest.approx(2.2564e-3, rel=1e-4)
    assert found.fix is not None
    assert found.fix.edits == (Replug("lag-2.out", "seq.reset", "clock.reset", "seq.reset"),)


def test_the_late_reset_is_as_late_in_the_sound() -> None:
    """The engine's pulse rises through 1 V at the jack within a sample or two; the second load is the input's own."""
    project = play.lagging(reset=True, clock=False)
    net = flatten(project)
    rows = [net.contact("seq.clock").row, net.contact("seq.reset").row]
    heard_v = render(net, 0.05, probes=rows)
    first = [int(np.argmax(v >= 1.0)) for v in heard_v]
    late_s = only("reset-after-clock", project).evidence["late_s"]
    assert (first[1] - first[0]) / RATE_HZ == pytest.approx(late_s, abs=1e-4)


def test_400_ms_are_25_ms_off_a_dotted_eighth() -> None:
    """At 120 bpm a dotted eighth takes 0.75 * 500 = 375 ms: 25 ms, 0.05 beats."""
    found = only("echo-off-the-grid", play.free_echo("400 ms", 120.0))
    assert found.evidence["off_s"] == pytest.approx(0.025)
    assert found.evidence["off_beats"] == pytest.approx(0.05)
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.time", 0.375),)


def test_with_two_tempi_the_echo_is_locked() -> None:
    found = only("echo-off-the-grid", play.free_echo("375 ms", 120.0, 132.0))
    assert found.evidence["tempo_bpm"] == 132.0
    assert found.fix is not None
    assert found.fix.edits == (SetControl("echo.sync", "clock"),)


def test_a_clocked_echo_is_on_the_grid() -> None:
    project = play.free_echo("400 ms", 120.0)
    locked = replace(project, patch=replace(project.patch, settings=project.patch.settings[1:]))
    assert not findings("echo-off-the-grid", locked)


def test_four_steps_by_threes_meet_the_bar_after_three() -> None:
    """4 * 3 sixteenths = 3/4 of a bar of 16: three bars hold four turns."""
    found = only("division-slides-pattern", play.divided(3, "x..."))
    assert found.evidence == {"turn_bars": 0.75, "meets_bars": 3, "division": 3}
    assert found.fix is not None
    assert found.fix.edits == (SetControl("seq.division", 2),)


def test_every_third_sixteenth_meets_the_bar_after_three() -> None:
    """16 sixteenths a bar: 48 = 3 * 16. Two and four fit and are as near; the smaller is taken."""
    found = only("division-slides-pattern", play.divider(3))
    assert found.at == "box.out"
    assert found.evidence == {"turn_bars": 3.0 / 16.0, "meets_bars": 3, "division": 3}
    assert found.fix is not None
    assert found.fix.edits == (SetControl("box.division", 2),)
    assert not findings("division-slides-pattern", play.divider(4))


def test_what_is_swung_twice_is_swung_once() -> None:
    found = only("swing-applied-twice", play.swung(0.6, 0.62))
    assert found.evidence == {"first_swing_ratio": 0.6, "second_swing_ratio": 0.62}
    assert found.fix is not None
    assert found.fix.edits == (SetControl("box.swing", 0.5),)
    assert not findings("swing-applied-twice", play.swung(0.6, 0.5))


def test_a_second_swing_is_later_in_the_sound_than_one() -> None:
    """Sixteenths at 120 bpm are 125 ms apart: swung to 0.6 the second comes 150 ms after the first; swung again, later
    still. A sample or two are for the threshold.
    """
    second_s = []
    for again in (0.5, 0.6):
        net = flatten(play.swung(0.6, again))
        high = render(net, 2.2, probes=[net.contact("env.gate").row])[0] > 1.0
        rises = np.flatnonzero(high[1:] & ~high[:-1]) + 1
        pair = rises[(rises > RATE_HZ) & (rises < 1.24 * RATE_HZ)]  # 1 s is the first of a pair
        second_s.append((pair[0] - RATE_HZ) / RATE_HZ)
    assert second_s[0] == pytest.approx(0.150, abs=1e-4)
    assert second_s[1] > second_s[0] + 0.01


def test_a_written_odd_length_is_left_alone() -> None:
    assert not findings("division-slides-pattern", play.divided(2, "x...."))


def test_four_hits_of_a_third_stay_away_in_a_fifth_of_all_shows() -> None:
    """0.67^4 = 0.20151121; 4 * 0.33 = 1.32 come on average, 0.33 a bar; 1 - 0.2^(1/4) = 0.33126, up to 0.332."""
    found = only("pattern-may-stay-away", play.by_chance(0.33))
    assert found.evidence["silent_ratio"] == pytest.approx(0.20151121)
    assert found.evidence["expected_hits"] == pytest.approx(1.32)
    assert found.evidence["expected_hits_a_bar"] == pytest.approx(0.33)
    assert found.fix is not None
    assert found.fix.edits == (SetControl("seq.chance", 0.332),)


def test_steps_with_rules_are_not_counted_as_if_they_had_none() -> None:
    """A step that plays in every second turn has half the hits; the check says that it does not look."""
    assert not findings("pattern-may-stay-away", play.by_chance(0.33, conditions=("1:2",)))
    assert not findings("pattern-may-stay-away", play.by_chance(0.33, chances=(0.5,)))
    assert findings("pattern-may-stay-away", play.by_chance(0.33, chances=()))


def test_the_share_of_silent_shows_is_that_of_the_sound() -> None:
    """400 stretches of four bars at 960 bpm; the standard error of a share of 0.2 is 0.02, three are allowed."""
    project = play.by_chance(0.33)
    quick = replace(project, patch=replace(project.patch, tempo_bpm=960.0), setlist=None)
    net = flatten(quick)
    gate_v = render(net, 400 * 16 * 60.0 / 960.0, probes=[net.contact("seq.gate").row])[0]
    silent = (gate_v.reshape(400, -1).max(axis=1) < 1.0).mean()
    assert silent == pytest.approx(0.2015, abs=0.06)


def test_an_exponential_duck_comes_back_by_its_closed_form() -> None:
    """Gain 1 - 0.9 h; -3 dB where h = (1 - 10^(-3/20)) / 0.9, reached after 2 ms + decay ln(1/h) / ln 1000."""
    found = only("duck-stays-down", play.ducking(3.1))
    for down_db, key in ((3.0, "within_3_db_after_s"), (1.0, "within_1_db_after_s")):
        height = (1.0 - 10.0 ** (-down_db / 20.0)) / 0.9
        back_s = 0.002 + 3.1 * math.log(1.0 / height) / math.log(1000.0)
        assert found.evidence[key] == pytest.approx(back_s, rel=1e-6)
    assert found.evidence["depth_db"] == pytest.approx(-20.0)
    assert found.evidence["next_hit_s"] == pytest.approx(0.5)
    assert found.evidence["next_hit_beats"] == 1.0


def test_a_linear_duck_comes_back_by_its_closed_form() -> None:
    """Straight down: 2 ms + decay (1 - h) with h = 0.324504."""
    found = only("duck-stays-down", play.ducking(0.8, curve="linear"))
    assert found.evidence["within_3_db_after_s"] == pytest.approx(
        0.002 + 0.8 * (1.0 - 0.324504), rel=1e-5
    )


def test_the_duck_is_as_deep_and_as_long_in_the_sound() -> None:
    """The gain of the amplifier, heard: its control voltage over 5 V, from the first hit on; within 0.2 ms."""
    project = play.ducking(0.45)
    net = flatten(project)
    push_v = render(net, 0.4, probes=[net.section("duck.push").outs[0]])[0]
    gain = np.clip(push_v / 5.0, 0.0, 1.0)
    lowest = int(np.argmin(gain))
    assert gain[lowest] == pytest.approx(0.1, abs=1e-3)
    back = lowest + int(np.argmax(gain[lowest:] >= 10.0 ** (-3.0 / 20.0)))
    height = (1.0 - 10.0 ** (-3.0 / 20.0)) / 0.9
    began = int(np.argmax(gain < 1.0 - 1e-9)) - 1
    expected_s = 0.002 + 0.45 * math.log(1.0 / height) / math.log(1000.0)
    assert (back - began) / RATE_HZ == pytest.approx(expected_s, abs=2e-4)


def test_a_clock_that_nobody_stops_is_given_the_gate_of_the_other() -> None:
    found = only("run-left-open", play.running(both=False))
    assert found.at == "two.run"
    assert found.fix is not None
    assert found.fix.edits == (AddCable(Cable("pedal.out", "two.run")),)


def test_without_any_run_gate_all_clocks_go_on_together() -> None:
    project = apply_edits(play.running(both=False), [RemoveCable("pedal.out", "one.run")])
    assert not findings("run-left-open", project)


def test_a_clock_that_drives_nothing_may_run() -> None:
    project = apply_edits(play.running(both=False), [RemoveCable("two.out", "env-2.gate")])
    assert not findings("run-left-open", project)
