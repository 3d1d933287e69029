"""Gesture findings against the clock, MIDI 1.0, Fitts's table and the engine's own queue."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof.checks import Bench
from rigproof.checks.gestures import Sending, lateness, reach_s, sendings, serial_senders
from rigproof.engine.render import render
from rigproof.model.edits import (
    FreeMoveStart,
    GlideSetting,
    SetControl,
    SetMap,
    SetMoveHand,
    SetMoveLength,
    apply_edits,
)
from rigproof.model.patch import Map, Settings
from rigproof.model.project import Project
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.net.timeline import timeline
from tests.checks import play_cases as play
from tests.checks import rigs
from tests.checks.ask import findings, only

RATE_HZ = 48_000

FITTS_MS = (
    (0.25, (392, 484, 580, 731)),
    (0.5, (281, 372, 469, 595)),
    (1.0, (212, 260, 357, 481)),
    (2.0, (180, 203, 279, 388)),
)
"""Widths in inches, times for distances of 2, 4, 8 and 16 inches: P. M. Fitts, J. Exp. Psychology 47 (1954), 1 oz
stylus; the table is from memory."""


def test_the_way_of_a_hand_takes_what_fitts_has_measured() -> None:
    """The straight line through his sixteen cells misses none by more than 60 ms and none on average."""
    away_ms = [
        1e3 * reach_s(distance * 25.4, width * 25.4) - measured_ms
        for width, row in FITTS_MS
        for distance, measured_ms in zip((2.0, 4.0, 8.0, 16.0), row, strict=True)
    ]
    assert max(map(abs, away_ms)) < 60.0
    assert sum(away_ms) / len(away_ms) == pytest.approx(0.0, abs=0.05)


def test_two_moves_of_one_hand_and_the_other_hand_is_free() -> None:
    found = only(
        "hand-at-two-controls", play.played(play.move(1, 0.0, 4.0), play.move(2, 3.0, 4.0))
    )
    assert found.at == "second bar 1 beat 4: faders.f2"
    assert found.evidence["overlap_s"] == pytest.approx(0.5)  # a beat at 120 bpm
    assert found.evidence["overlap_beats"] == pytest.approx(1.0)
    assert found.fix is not None
    assert found.fix.edits == (SetMoveHand("second", 1, "left"),)


def test_two_faders_side_by_side_are_one_hand() -> None:
    moves = (play.move(1, 0.0, 4.0), play.move(2, 3.0, 4.0))
    assert not findings("hand-at-two-controls", play.played(*moves, pitch_mm=28.0))


def test_three_at_once_are_too_many() -> None:
    moves = (play.move(1, 0.0, 4.0), play.move(2, 0.0, 4.0, "left"), play.move(3, 0.0, 4.0))
    found = only("third-hand-needed", play.played(*moves))
    assert found.evidence["hands"] == 3
    assert not findings("third-hand-needed", play.played(*moves, pitch_mm=28.0))


def test_sixty_millimetres_in_a_quarter_second() -> None:
    """27.689 + 111.537 log2(60/10 + 1) = 340.81 ms; 250 are there, so the move before ends 0.25 beats earlier."""
    found = only("reach-too-quick", play.played(play.move(1, 0.0, 4.0), play.move(2, 4.5, 1.0)))
    assert found.evidence["needed_s"] == pytest.approx(0.34081, abs=1e-5)
    assert found.evidence["room_s"] == pytest.approx(0.25)
    assert found.evidence["distance_mm"] == pytest.approx(60.0)
    assert found.fix is not None
    assert found.fix.edits == (SetMoveLength("second", 0, 3.75),)


def test_a_setting_that_jumps_becomes_a_move() -> None:
    project = play.set_at_once(1)
    found = only("control-jumps-in-set", project)
    assert found.at == "second: faders.f1"
    assert found.evidence["jump_ratio"] == 1.0
    assert found.fix is not None
    assert found.fix.edits == (GlideSetting("second", "faders.f1", 1.0, "left"),)
    mended = apply_edits(project, found.fix.edits)
    assert mended.setlist is not None
    passage = mended.setlist.sections[1]
    assert passage.settings == ()
    assert (passage.moves[0].to, passage.moves[0].beats) == (1.0, 1.0)


def test_a_move_that_begins_elsewhere_begins_where_the_control_stands() -> None:
    """The fader is brought to 0.5 in bar 1 and has to be at 0.9 in bar 3."""
    project = play.played(play.move(1, 0.0, 4.0, to=0.5), play.move(1, 8.0, 4.0, to=0.2, start=0.9))
    found = only("control-jumps-in-set", project)
    assert found.evidence["jump_ratio"] == pytest.approx(0.4)
    assert found.fix is not None
    assert found.fix.edits == (FreeMoveStart("second", 1),)


def test_what_a_section_repeats_is_no_jump() -> None:
    assert not findings("control-jumps-in-set", play.played(settings=[Settings("faders.f1", 0.0)]))


def test_the_stranger_is_named_and_shaken_off() -> None:
    found = only("message-moves-a-stranger", play.overheard(20))
    assert found.at == "faders.f1"
    assert "bridge.cv-2" in found.message
    assert found.fix is not None
    assert found.fix.edits == (SetMap("faders.f1", 102),)


# --- the line --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("is_running", "expected_s"), [(False, 0.01536), (True, 0.01056)])
def test_sixteen_messages_at_once_take_as_long_as_bytes_take(
    is_running: bool, expected_s: float
) -> None:
    """Bytes of 320 us: 16 * 3 are 15.36 ms; with running status 3 + 15 * 2 are 10.56 ms (MIDI 1.0, IEC 63035:2017)."""
    sent = [Sending(1.0, f"f{i}") for i in range(16)]
    found = lateness(sent, is_running=is_running)
    assert found is not None
    assert found.worst_s == pytest.approx(expected_s)


def played_on(project: Project, seconds: float) -> tuple[list[float], list[float]]:
    """When messages leave the faders and when they arrive at the bridge in the engine, from 0.1 s on. [s]"""
    net = flatten(project)
    (line,) = net.links
    faders = [s.outs[0] for s in net.sections if s.kind.name == "cc-sender"]
    rows = [*faders, net.sections[line].outs[0]]
    seen = render(net, seconds, probes=rows, events=timeline(net).events)
    times = [[float(n) / RATE_HZ for n in np.flatnonzero(one) if n / RATE_HZ > 0.1] for one in seen]
    return sorted(t for one in times[:-1] for t in one), times[-1]


@pytest.mark.parametrize("count", [1, 3, 8])
def test_the_engines_queue_is_as_late_as_is_said(count: int) -> None:
    """Every message through the engine's line, and through the arithmetic from when the engine's faders sent it."""
    project = play.set_at_once(count)
    sent_s, arrived_s = played_on(project, 4.3)
    queued = lateness([Sending(t, "") for t in sent_s], is_running=False)
    assert queued is not None
    late_s = max(b - a for a, b in zip(sent_s, arrived_s, strict=True))
    assert late_s == pytest.approx(queued.worst_s, abs=1.5 / RATE_HZ)
    found = findings("messages-bunch-up", project)
    assert bool(found) == (count > 1)
    if found:
        # From the set alone the sends are known to a look (1 ms) and a block (1.33 ms) each, and how many to one.
        assert found[0].evidence["late_s"] == pytest.approx(late_s, abs=count * 0.00096 + 0.0025)


def test_the_messages_of_a_sweep_are_sent_when_the_engine_sends_them() -> None:
    """Two faders go up together over two beats: each value within two blocks and a look of the engine's."""
    project = play.played(play.move(1, 0.0, 2.0), play.move(2, 0.0, 2.0, "left"), faders=2)
    bench = Bench.of(project)
    (line,) = bench.net.links
    by_control = serial_senders(bench, line)
    said = sorted(
        s.at_s for leg in bench.readings.legs for s in sendings(by_control[leg.control], leg)
    )
    sent_s, arrived_s = played_on(project, 5.1)
    assert len(said) == len(sent_s) == len(arrived_s) == 254
    assert np.max(np.abs(np.array(said) - np.array(sent_s))) < 2 * 64 / RATE_HZ + 1e-3
    queued = lateness([Sending(t, "") for t in said], is_running=False)
    assert queued is not None
    late_s = max(b - a for a, b in zip(sent_s, arrived_s, strict=True))
    assert late_s == pytest.approx(2 * 0.00096, abs=1.5 / RATE_HZ)
    assert queued.worst_s == pytest.approx(late_s, abs=1.5 / RATE_HZ)


# --- steps -----------------------------------------------------------------------------------------------------------


def test_a_step_of_five_volts_in_127_is_47_cents() -> None:
    """5 V / 127 = 39.370079 mV, at 1 V an octave 47.244094 cents; behind 1 mohm nothing is lost."""
    found = only("steps-will-be-heard", play.stepping(Signal.PITCH))
    assert found.evidence["step_v"] == pytest.approx(0.039370079, rel=1e-6)
    assert found.evidence["step_cents"] == pytest.approx(47.244094, rel=1e-6)
    assert found.evidence["pair_step_cents"] == pytest.approx(47.244094 / 129.0, rel=1e-6)


def test_the_slew_bridges_the_steps_of_the_sweep() -> None:
    """Eight beats at 120 bpm are 4 s, 31.496 ms a step; to three digits upwards 31.5 ms."""
    found = only("steps-will-be-heard", play.stepping(Signal.PITCH))
    assert found.evidence["slew_s"] == pytest.approx(4.0 / 127.0)
    assert found.fix is not None
    assert found.fix.edits == (SetControl("bridge.slew", 0.0315),)


def test_a_linear_amplifier_steps_by_less_than_a_decibel_where_it_is_played() -> None:
    """20 dB down a VCA of 5 V stands at 0.5 V; 39.37 mV more are 0.658 dB, and over 10 V 78.74 mV are 1.270 dB."""
    assert not findings("steps-will-be-heard", play.stepping(Signal.CV))
    found = only("steps-will-be-heard", play.stepping(Signal.CV, hi="10 V"))
    assert found.evidence["step_db"] == pytest.approx(1.2703, abs=1e-4)


def test_a_move_of_which_nothing_is_heard_is_told_with_why() -> None:
    """A shut channel, and an amplifier from which no cable leads."""
    found = only("move-unheard", play.turned("mix.level-2", second_v=0.0))
    assert found.at == "second bar 1 beat 1: mix.level-2"
    assert "what it works on is silent until it moves again" in found.message
    assert found.evidence == {"moves": 1, "at_s": pytest.approx(4.0)}
    assert "no way leads out" in only("move-unheard", play.turned("spare.level-1")).message


def test_a_mapping_that_nobody_hears_is_told_once() -> None:
    """`cc-unheard` says it; the move is not told as well. Beside it a voice sounds."""
    fader = Move("faders.f1", 1.0, 1, 1.0, 4.0)
    sections = (Passage("first", bars=4, moves=(fader,)),)
    project = rigs.project(
        {"faders": rigs.faders(1), "voice": rigs.voice(level_v=2.0), "desk": rigs.interface()},
        [("voice.sine", "desk.in-1")],
        maps=[Map("faders.f1", 20, 1, ())],
        setlist=Setlist("tiny", tempo_bpm=120.0, sections=sections),
    )
    assert findings("cc-unheard", project)
    assert not findings("move-unheard", project)
