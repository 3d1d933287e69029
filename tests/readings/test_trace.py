"""Traces: from a fader to the desk hop by hop, with figures that can be worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rigproof.errors import UnknownName
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.readings.proof import read
from rigproof.readings.trace import Place, trace
from rigproof.readings.what_if import what_if
from tests.random_patches import random_project
from tests.readings.fader_rig import CC, WAY_IN, fader_net, fader_project
from tests.small_rigs import ADDER, STEADY, jack_in, jack_out, project, sheet


def test_a_fader_at_64() -> None:
    """64/127 of 5 V is 2.519685 V; 20 log10(64/127) is -5.952 dB against the fader at its top."""
    found = trace(read(fader_net()), "faders.f5", at=64)
    assert found.message is not None
    assert (found.message.number, found.message.channel, found.message_value) == (CC, 1, 64.0)
    assert found.at == pytest.approx(64 / 127)
    names = [hop.name for hop in found.hops]
    assert names == [
        "faders.f5",
        "faders.f5",
        "faders.merge",
        "faders.midi",
        "bridge.midi",
        "bridge.cc-1",
        "bridge.cv-1",
        "amp.cv",
        "amp.v",
        "amp.out",
        "desk.left",
        "desk.left",
    ]
    by_name = {(hop.name, hop.place): hop for hop in found.hops}
    cv = by_name["bridge.cv-1", Place.OUTPUT]
    assert cv.span is not None
    assert cv.span.lo == pytest.approx(2.519685, abs=1e-6)
    assert cv.span.hi == pytest.approx(2.519685, abs=1e-6)
    out = by_name["amp.out", Place.OUTPUT]
    assert out.signal is Signal.AUDIO
    assert out.change_db == pytest.approx(20 * math.log10(64 / 127), abs=1e-3)
    assert out.dbu == pytest.approx(13.187588 + 20 * math.log10(64 / 127), abs=1e-3)
    line = by_name["bridge.midi", Place.INPUT]
    assert line.through.startswith("line ")
    assert line.span is None  # messages are no volts
    assert found.heard is not None
    assert [hop.arrival.lo_s for hop in found.hops if hop.arrival] == sorted(
        hop.arrival.lo_s for hop in found.hops if hop.arrival
    )
    assert found.hops[-1].place is Place.EAR
    assert found.ends == (found.hops[-1],)


def test_a_fader_in_its_own_unit_and_where_it_stands() -> None:
    readings = read(fader_net(faders__f5=1.0))
    assert trace(readings, "faders.f5").message_value == 127.0
    assert trace(readings, "faders.f5", at=0.5).message_value == 64.0  # 63.5 to the nearest
    closed = [hop for hop in trace(readings, "faders.f5", at=0.0).hops if hop.name == "amp.out"]
    assert [hop.dbu for hop in closed] == [-math.inf]


def test_a_fader_whose_cable_is_out_changes_nothing() -> None:
    """The bridge would listen to this number, but nothing gets there."""
    whole = fader_project()
    cables = tuple(c for c in whole.patch.cables if c.source != "faders.midi")
    net = flatten(replace(whole, patch=replace(whole.patch, cables=cables)))
    found = trace(read(net), "faders.f5", at=64)
    assert [hop.name for hop in found.hops] == ["faders.f5", "faders.f5", "faders.merge"]
    assert found.heard is None
    there = what_if(net, "faders.f5", 1.0)
    assert there.message_value == 127.0
    assert there.volts == read(net).volts


def test_a_control_of_a_module_is_followed_from_its_section() -> None:
    readings = read(fader_net())
    found = trace(readings, "osc.tune", at=880.0)
    assert found.at == 880.0
    assert found.message is None
    assert [h.name for h in found.hops][:4] == ["osc.tune", "osc.o", "osc.sine", "amp.in"]


def test_from_a_jack_and_from_a_section() -> None:
    readings = read(fader_net())
    assert [h.name for h in trace(readings, "osc.sine").hops] == [
        "osc.sine",
        "amp.in",
        "amp.v",
        "amp.out",
        "desk.left",
        "desk.left",
    ]
    assert trace(readings, "amp.in").hops[0].name == "amp.in"
    assert [h.name for h in trace(readings, "amp.v").hops][:2] == ["amp.v", "amp.out"]


def test_an_unknown_start_names_the_nearest() -> None:
    with pytest.raises(UnknownName) as caught:
        trace(read(fader_net()), "fader.f5")
    assert caught.value.nearest == "faders.f5"


def test_a_slip_in_a_module_names_what_that_module_has() -> None:
    with pytest.raises(UnknownName) as caught:
        trace(read(fader_net()), "faders.f55")
    assert caught.value.nearest == "faders.f5"
    assert {name.partition(".")[0] for name in caught.value.known} == {"faders"}


def test_a_normal_is_named() -> None:
    """One cable into the first input; the second hangs on it by its normal."""
    listener = sheet(
        "listener",
        {"mix": {"kind": "mixer", "ways": 2}},
        [
            jack_in("left", "mix.in-1"),
            jack_in("right", "mix.in-2", normal="left"),
            jack_out("out", "mix.out"),
        ],
    )
    net = flatten(project({"five": STEADY, "l": listener}, [("five.out", "l.left")]))
    ways = {hop.name: hop.through for hop in trace(read(net), "five.out").hops}
    assert ways["l.left"] == "cable"
    assert ways["l.right"] == "normal from left"


def test_a_loop_is_said_and_not_followed_for_ever() -> None:
    net = flatten(
        project(
            {"five": STEADY, "a": ADDER, "b": ADDER, "desk": WAY_IN},
            [
                ("five.out", "a.in-1"),
                ("a.out", "b.in-1"),
                ("b.out", "a.in-2"),
                ("b.out", "desk.left"),
            ],
        )
    )
    found = trace(read(net), "five.out")
    again = [hop.name for hop in found.hops if hop.is_again]
    assert again == ["a.mix"]
    assert any(hop.place is Place.EAR for hop in found.hops)


def test_a_chain_of_hundreds_is_followed() -> None:
    """No stack is exhausted: 400 adders in a row."""
    names = [f"a{i}" for i in range(400)]
    cables = [(f"a{i}.out", f"a{i + 1}.in-1") for i in range(399)]
    net = flatten(project(dict.fromkeys(names, ADDER), cables))
    assert len(trace(read(net), "a0.out").hops) == 1 + 3 * 399 - 1


@pytest.mark.parametrize("seed", range(0, 1000, 10))
def test_everything_in_a_random_patch_can_be_traced(seed: int) -> None:
    """From controls, jacks and sections: it ends, hops stand after those they come from, nothing is said twice."""
    net = flatten(random_project(seed))
    readings = read(net)
    for start in (*list(net.controls)[:3], *net.contacts, *net.by_name):
        found = trace(readings, start)
        for hop in found.hops:
            assert hop.parent is None or hop.parent < hop.index
        places = [(h.place, h.name, h.row) for h in found.hops if not h.is_again]
        assert len(places) == len(set(places))
