"""MIDI findings against the byte times of MIDI 1.0 (IEC 63035:2017, 4.1) and counting."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigproof.checks.midi import FULL_BYTES, LINE_BYTES_S
from rigproof.model.edits import RemoveCable, RemoveMap, SetMap, SetMoveLength
from rigproof.model.patch import Map
from rigproof.model.sheet import Plug
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import fader, mapped, merged, on_channel, swept


def test_byte_time_is_the_published_320_microseconds() -> None:
    """Source: MIDI 1.0 Detailed Specification (IEC 63035:2017, 4.1): 1041.67 three-byte messages a second."""
    byte_s, messages_s = 1.0 / LINE_BYTES_S, LINE_BYTES_S / FULL_BYTES
    assert byte_s == pytest.approx(320e-6)
    assert messages_s == pytest.approx(1041.67, abs=0.01)


def test_the_later_control_gets_a_free_number() -> None:
    found = only("cc-sent-twice", mapped(fader(1, 20), fader(2, 20)))
    assert found.at == "faders.f2"
    assert found.fix is not None
    assert found.fix.edits == (SetMap("faders.f2", 102, 1, 0),)


def test_a_number_in_use_is_not_offered() -> None:
    found = only("cc-number-reserved", mapped(fader(1, 123), fader(2, 102)))
    assert found.at == "faders.f1"
    assert found.fix is not None
    assert found.fix.edits == (SetMap("faders.f1", 103, 1, 0),)


@pytest.mark.parametrize(("cc", "is_fault"), [(119, False), (120, True), (122, True), (127, True)])
def test_numbers_from_120_are_orders(cc: int, is_fault: bool) -> None:
    """122 to 127: MIDI Association, table 3. 120 and 121: from memory."""
    assert bool(findings("cc-number-reserved", mapped(fader(1, cc)))) is is_fault


def test_a_slot_mapped_twice_hears_only_the_last() -> None:
    found = only("map-overruled", mapped(fader(1, 20), fader(2, 21, to="bridge.cc-1")))
    assert found.at == "bridge.cc-1"
    assert found.evidence == {"cc": 21, "channel": 1, "earlier_cc": 20}


def test_two_faders_with_one_number_may_share_a_slot() -> None:
    assert not findings("map-overruled", mapped(fader(1, 20), fader(2, 20, to="bridge.cc-1")))


def test_an_unplugged_line_is_named_with_who_would_hear() -> None:
    found = only("cc-unheard", mapped(fader(1, 20), is_plugged=False))
    assert found.at == "faders.f1"
    assert found.evidence == {"cc": 20, "channel": 1, "listeners": 1}
    assert "bridge.cv-1" in found.message


def test_a_mapping_to_nothing_is_unheard() -> None:
    assert only("cc-unheard", mapped(Map("faders.f1", 20))).evidence["listeners"] == 0


def test_two_full_sweeps_in_three_sixteenths_of_a_second() -> None:
    """2 faders x 127 steps x 3 bytes in 0.1875 s are 4064 bytes/s; the line is busy 243.84 ms, 56.34 ms too long."""
    found = only("midi-line-overrun", swept(0.375))
    assert found.at == "faders.midi to bridge.midi"
    assert found.evidence["demand_bytes_s"] == pytest.approx(2 * 127 * 3 / 0.1875)
    assert found.evidence["late_s"] == pytest.approx(2 * 127 * 960e-6 - 0.1875)


def test_the_moves_take_as_long_as_the_line_needs() -> None:
    """243.84 ms at 120 bpm are 0.48768 beats; in eighths of a beat upwards 0.5."""
    found = only("midi-line-overrun", swept(0.375))
    assert found.fix is not None
    assert found.fix.edits == (SetMoveLength("only", 0, 0.5), SetMoveLength("only", 1, 0.5))


def test_slower_tempo_gives_the_line_time() -> None:
    assert not findings("midi-line-overrun", swept(0.375, tempo_bpm=92.0))
    assert findings("midi-line-overrun", swept(0.375, tempo_bpm=93.0))


def test_usb_is_no_serial_line() -> None:
    """USB carries up to 16 messages a frame of 1 ms (USB-IF, MIDI Devices 1.0), far more than two hands make."""
    project = swept(0.375)
    sheets = {
        "faders": rigs.faders(2, Plug.USB_DEVICE),
        "bridge": rigs.bridge(2, Plug.USB_HOST),
    }
    assert not findings("midi-line-overrun", replace(project, sheets=sheets))


def test_the_channel_of_the_one_that_listens() -> None:
    found = only("midi-channels-differ", on_channel(5))
    assert found.at == "faders.f1"
    assert found.evidence == {"cc": 1, "channel": 5, "listeners": 1}
    assert found.fix is not None
    assert found.fix.edits == (SetMap("faders.f1", 1, 1),)
    assert not findings("cc-unheard", on_channel(5)), "said once"


def test_the_cable_that_closes_a_loop() -> None:
    found = only("midi-loop", merged(is_loop=True))
    assert found.at == "second.out-2 to first.in-2"
    assert found.evidence == {"cables": 2}
    assert found.fix is not None
    assert found.fix.edits == (RemoveCable("second.out-2", "first.in-2"),)


def test_a_mapping_to_nothing_is_taken_away() -> None:
    project = mapped(fader(1, 20), Map("faders.f2", 20))
    found = only("cc-sent-twice", project)
    assert found.fix is not None
    assert found.fix.edits == (RemoveMap("faders.f2"),)
