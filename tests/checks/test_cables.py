"""Cable findings against Ohm's law, distances by Pythagoras and counting."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rigproof.model.edits import AddCable, RemoveCable, SetCableLead, SetCableLength
from rigproof.model.patch import Cable
from rigproof.model.rig import CableStock
from rigproof.model.sheet import Plug, Way
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import (
    at_mm,
    boxed,
    coupled,
    driven,
    ends_in_an_envelope,
    expanded,
    midi_line,
    midi_split,
    mixing,
    reaching,
    stereo_pair,
    usb_tree,
)


def test_two_outputs_six_volts_apart_over_two_kohm_drive_three_milliamps() -> None:
    """Ohm: 6 V / (1 kohm + 1 kohm) = 3 mA."""
    found = only(
        "outputs-joined", mixing(("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-1"))
    )
    assert found.at == "voice-1.sine and voice-2.sine"
    assert found.evidence == {
        "outputs": 2,
        "apart_v": pytest.approx(6.0),
        "current_ma": pytest.approx(3.0),
    }


def test_the_later_cable_is_pulled() -> None:
    found = only(
        "outputs-joined", mixing(("voice-2.sine", "mix.in-1"), ("voice-1.sine", "mix.in-1"))
    )
    assert found.fix is not None
    assert found.fix.edits == (RemoveCable("voice-1.sine", "mix.in-1"),)


def test_a_chain_of_stacked_plugs_is_cut_once() -> None:
    """voice-1 to in-1, in-1 to in-2 and voice-2 to in-2 is one node; without the last cable the outputs are apart."""
    found = only(
        "outputs-joined",
        mixing(
            ("voice-1.sine", "mix.in-1"), ("mix.in-1", "mix.in-2"), ("voice-2.sine", "mix.in-2")
        ),
    )
    assert found.fix is not None
    assert found.fix.edits == (RemoveCable("voice-2.sine", "mix.in-2"),)


def test_one_output_into_two_inputs_is_no_join() -> None:
    assert not findings(
        "outputs-joined", mixing(("voice-1.sine", "mix.in-1"), ("voice-1.sine", "mix.in-2"))
    )


def test_a_stacked_plug_from_a_driven_input_has_a_source() -> None:
    assert not findings(
        "cable-without-source", mixing(("mix.in-1", "mix.in-2"), ("voice-1.sine", "mix.in-1"))
    )


def test_the_second_of_two_like_cables_goes_unasked() -> None:
    found = only(
        "same-cable-twice", mixing(("voice-1.sine", "mix.in-1"), ("voice-1.sine", "mix.in-1"))
    )
    assert found.fix is not None
    assert found.fix.edits == (RemoveCable("voice-1.sine", "mix.in-1", 1),)
    assert found.fix.is_safe


def test_an_open_input_of_an_idle_module_is_no_fault() -> None:
    project = driven(is_plugged=False)
    assert only("needed-input-open", project).at == "amp.in-1"
    idle = rigs.project(dict(project.sheets))
    assert not findings("needed-input-open", idle)


def test_a_mute_voice_is_named_once() -> None:
    project = mixing(("voice-1.sine", "voice-2.pitch"))
    assert only("voice-without-way-out", project).at == "voice-1"
    assert not findings("signal-ends-nowhere", project)


def test_without_an_ear_nothing_is_said_about_what_is_heard() -> None:
    sheets = {"voice": rigs.voice(), "mix": rigs.mixer()}
    project = rigs.project(sheets, [("voice.sine", "mix.in-1")])
    assert not findings("voice-without-way-out", project)
    assert not findings("signal-ends-nowhere", project)


def test_where_a_dead_end_ends() -> None:
    found = only("signal-ends-nowhere", ends_in_an_envelope(is_heard=False))
    assert found.at == "clock.out-1"
    assert "env" in found.message


def test_a_stereo_lead_mends_two_stereo_jacks_only() -> None:
    found = only("mono-plug-in-stereo-jack", stereo_pair(lead="mono-3.5"))
    assert found.at == "source.out to amp.in"
    assert found.fix is not None
    assert found.fix.edits == (SetCableLead("source.out", "amp.in", "stereo-3.5"),)
    source = rigs.sheet(
        "source",
        [rigs.stereo("out", Way.OUT, "osc.sine", "osc.saw")],
        {"osc": ("oscillator", {})},
    )
    half = rigs.project({"source": source, "mix": rigs.mixer()}, [("source.out", "mix.in-1")])
    assert only("mono-plug-in-stereo-jack", half).fix is None


@pytest.mark.parametrize(
    ("source", "target", "lead", "is_fault"),
    [
        (Plug.MIDI_A, Plug.MIDI_A, None, False),
        (Plug.MIDI_B, Plug.MIDI_B, "stereo-3.5", False),
        (Plug.MIDI_A, Plug.MIDI_B, None, True),
        (Plug.MIDI_B, Plug.MIDI_A, "midi-crossed", False),
        (Plug.MIDI_A, Plug.MIDI_A, "midi-crossed", True),
        (Plug.MIDI_A, Plug.MIDI_A, "mono-3.5", True),
        (Plug.MIDI_DIN, Plug.MIDI_DIN, None, False),
    ],
)
def test_which_leads_join_which_types(
    source: Plug, target: Plug, lead: str | None, is_fault: bool
) -> None:
    """MIDI Association RP-054 (2018): type A has DIN pin 5 on the tip, type B on the ring."""
    assert bool(findings("midi-types-crossed", midi_line(source, target, lead))) is is_fault


@pytest.mark.parametrize(
    ("source", "target", "is_fault"),
    [
        (Plug.USB_HOST, Plug.USB_DEVICE, False),
        (Plug.USB_DEVICE, Plug.USB_HOST, False),
        (Plug.USB_HOST, Plug.USB_HOST, True),
        (Plug.USB_DEVICE, Plug.USB_DEVICE, True),
        (Plug.USB_DEVICE, Plug.MIDI_A, True),
        (Plug.MIDI_DIN, Plug.MIDI_DIN, False),
    ],
)
def test_a_usb_cable_has_one_host(source: Plug, target: Plug, is_fault: bool) -> None:
    """USB-IF, Device Class Definition for MIDI Devices 1.0 (1999): the host asks, devices answer."""
    assert bool(findings("usb-ends-alike", midi_line(source, target))) is is_fault


def test_a_split_midi_line_keeps_its_first_cable() -> None:
    """IEC 63035:2017, 4.1: one output drives one input."""
    found = only("midi-line-shared", midi_split(3))
    assert found.at == "sender.midi"
    assert found.evidence == {"cables": 3}
    assert found.fix is not None
    assert found.fix.edits == (
        RemoveCable("sender.midi", "bridge-3.midi"),
        RemoveCable("sender.midi", "bridge-2.midi"),
    )


def test_straight_line_from_row_to_row() -> None:
    """Pythagoras: 30 mm across, 3U = 3 x 44.45 mm = 133.35 mm down (IEC 60297-3-100)."""
    found = only("cable-too-short", reaching(13))
    assert found.at == "out.out to in.in"
    assert found.evidence["straight_mm"] == pytest.approx(math.hypot(30.0, 3 * 44.45))


def test_a_turned_module_has_its_jack_at_the_other_corner() -> None:
    """8 HP wide and 128.5 mm high: (10, 60) goes to (40.64 - 10, 128.5 - 60) = (30.64, 68.5)."""
    project = rigs.project(
        {"out": at_mm(10.0, 60.0, "out"), "in": at_mm(30.64, 68.5, "in")},
        [Cable("out.out", "in.in", cm=1)],
        places={"out": (1, 0), "in": (2, 0)},
        turned=["out"],
    )
    assert only("cable-too-short", project).evidence["straight_mm"] == pytest.approx(133.35)


def test_the_shortest_free_cable_that_reaches_is_taken() -> None:
    """136.68 mm and 20 % make 16.4 cm; the 15 does not reach, of the 18 there is none left, so 25."""
    stock = [
        CableStock("mono-3.5", cm, n) for cm, n in ((13, 1), (15, 5), (18, 0), (25, 2), (40, 9))
    ]
    found = only("cable-too-short", reaching(13, *stock))
    assert found.fix is not None
    assert found.fix.edits == (SetCableLength("out.out", "in.in", 25),)


def test_no_honest_fix_without_a_cable_in_the_box() -> None:
    assert only("cable-too-short", reaching(13, CableStock("mono-3.5", 13, 1))).fix is None


def test_spare_is_counted_from_the_straight_line() -> None:
    found = only("cable-taut", reaching(15))
    assert found.evidence["spare_ratio"] == pytest.approx(150.0 / math.hypot(30.0, 133.35) - 1.0)
    assert not findings("cable-taut", reaching(13)), "too short is said by its own check"


def test_jacks_outside_the_case_have_no_distance() -> None:
    sheets = {"voice": rigs.voice(), "desk": rigs.interface()}
    project = rigs.project(sheets, [Cable("voice.sine", "desk.in-1", cm=1)])
    assert not findings("cable-too-short", project)


def test_one_short_in_the_box() -> None:
    found = only("cable-not-in-stock", boxed(1))
    assert found.at == "mono-3.5 30 cm"
    assert found.evidence == {"used": 2, "stock": 1, "short": 1, "length_cm": 30}
    assert found.fix is not None
    assert found.fix.edits == (SetCableLength("voice-2.sine", "mix.in-2", 60),)


def test_open_lengths_are_counted_together() -> None:
    found = only("cable-not-in-stock", boxed(1, None))
    assert found.at == "mono-3.5"
    assert found.evidence == {"used": 2, "stock": 1, "short": 1}
    assert not findings("cable-not-in-stock", boxed(2, None))


def test_a_rig_without_stock_is_not_judged() -> None:
    sheets = {"voice": rigs.voice(), "mix": rigs.mixer()}
    project = rigs.project(sheets, [Cable("voice.sine", "mix.in-1", cm=30)])
    assert not findings("cable-not-in-stock", project)


def test_a_stereo_lead_of_which_one_side_is_heard_is_no_dead_end() -> None:
    sheets = {
        "source": rigs.sheet(
            "source",
            [rigs.stereo("out", Way.OUT, "osc.sine", "osc.saw")],
            {"osc": ("oscillator", {"level": 3.0})},
        ),
        "amp": rigs.sheet(
            "amp",
            [
                rigs.stereo("in", Way.IN, "out.in-left", "out.in-right"),
                rigs.jack_out("left", "out.out-left"),
            ],
            {"out": ("line-output", {})},
        ),
        "desk": rigs.interface(),
    }
    heard = rigs.project(sheets, [("source.out", "amp.in"), ("amp.left", "desk.in-1")])
    assert not findings("signal-ends-nowhere", heard)


def test_two_short_cables_between_the_same_jacks_are_two_findings() -> None:
    project = reaching(13)
    twice = replace(
        project, patch=replace(project.patch, cables=(*project.patch.cables, *project.patch.cables))
    )
    found = findings("cable-too-short", twice)
    assert [f.at for f in found] == ["out.out to in.in", "out.out to in.in (2)"]
    assert found[1].fix is not None
    assert found[1].fix.edits == (SetCableLength("out.out", "in.in", 30, 1),)


def test_the_one_free_ribbon_is_fitted() -> None:
    found = only("link-not-fitted", expanded(is_fitted=False))
    assert found.at == "outs.ribbon"
    assert found.evidence == {"outputs": 1, "hosts": 1}
    assert found.fix is not None
    assert found.fix.edits == (AddCable(Cable("host.ribbon", "outs.ribbon")),)


def test_a_breakout_that_nobody_uses_needs_no_ribbon() -> None:
    project = expanded(is_fitted=False)
    cables = tuple(c for c in project.patch.cables if not c.source.startswith("outs."))
    assert not findings(
        "link-not-fitted", replace(project, patch=replace(project.patch, cables=cables))
    )


def test_what_a_capacitor_keeps_back() -> None:
    """2.5 V behind 1 kohm into 100 kohm are 2.5 * 100/101 V, all of them steady."""
    found = only("steady-voltage-blocked", coupled(is_ac=True))
    assert found.at == "mix.in"
    assert found.evidence["lost_v"] == pytest.approx(2.5 * 100.0 / 101.0)
    assert "vca.cv" in found.message


def test_sound_may_be_coupled() -> None:
    project = coupled(is_ac=True)
    sheets = {**project.sheets, "voice": rigs.voice()}
    cables = [("voice.sine", "mix.in"), ("mix.out", "vca.cv")]
    assert not findings("steady-voltage-blocked", rigs.project(sheets, cables))


@pytest.mark.parametrize(
    ("draws", "port", "drawn"),
    [((401.0, 100.0), None, 501.0), ((100.0, 200.0, 201.0), None, 501.0), ((101.0,), 100.0, 101.0)],
)
def test_usb_draws_add_up_through_a_hub(
    draws: tuple[float, ...], port: float | None, drawn: float
) -> None:
    """500 mA for a port of which the sheet is silent: USB 2.0 specification, 7.2.1, from memory."""
    found = {f.at: f for f in findings("usb-port-overdrawn", usb_tree(*draws, port_ma=port))}
    given = 500.0 if port is None else port
    assert found["bridge.midi"].evidence == {
        "draw_ma": drawn,
        "given_ma": given,
        "over_ma": drawn - given,
    }


def test_a_hub_with_a_supply_of_its_own_carries_its_devices() -> None:
    project = usb_tree(100.0, 450.0)
    hub = project.sheets["hub"]
    down = replace(hub.jacks["down-1"], usb_ma=500.0)
    sheets = {**project.sheets, "hub": replace(hub, jacks={**hub.jacks, "down-1": down})}
    assert not findings("usb-port-overdrawn", replace(project, sheets=sheets))


def test_a_second_jack_of_the_same_voltage_can_end_nowhere() -> None:
    """Two jacks give the same sine; one is heard and the other one is plugged into what nobody hears."""
    twin = rigs.sheet(
        "twin",
        [rigs.jack_out("one", "osc.sine"), rigs.jack_out("two", "osc.sine")],
        {"osc": ("oscillator", {"level": 2.0})},
    )
    sheets = {"twin": twin, "vca": rigs.vca(), "desk": rigs.interface()}
    cables = [("twin.one", "desk.in-1"), ("twin.two", "vca.in")]
    assert only("signal-ends-nowhere", rigs.project(sheets, cables)).at == "twin.two"
    assert not findings("signal-ends-nowhere", rigs.project(sheets, cables[:1]))


def test_a_coupled_control_jack_takes_its_own_steady_part() -> None:
    plain = rigs.vca()
    cv = replace(plain.jacks["cv"], is_ac_coupled=True)
    vca = replace(plain, jacks={**plain.jacks, "cv": cv})
    project = rigs.project({"steady": rigs.steady(2.5), "vca": vca}, [("steady.out", "vca.cv")])
    assert only("steady-voltage-blocked", project).at == "vca.cv"
