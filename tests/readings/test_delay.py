"""Delays against published times and against what is measured in rendered sound."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.kinds import KINDS
from rigproof.kinds.base import Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.model.sheet import Plug
from rigproof.net.flatten import flatten
from rigproof.net.timeline import Event
from rigproof.readings.delay import (
    all_controls_to_ears,
    all_differences,
    arrivals,
    between,
    control_arrivals,
    control_to_ears,
    departures,
    first_notch_hz,
)
from rigproof.readings.paths import Along, Paths
from rigproof.readings.proof import read
from tests.random_patches import random_project
from tests.readings.fader_rig import OSCILLATOR, WAY_IN, fader_net
from tests.small_rigs import ADDER, STEADY, jack_in, jack_out, project, sheet

RATE_HZ = 48_000
BLOCK = 64


@pytest.mark.parametrize(
    ("difference_s", "notch_hz"),
    [
        (1 / 48_000, 24_000.0),
        (0.1e-3, 5_000.0),
        (0.5e-3, 1_000.0),
        (1e-3, 500.0),
        (64 / 48_000, 375.0),
        (128 / 48_000, 187.5),
        (5e-3, 100.0),
        (10e-3, 50.0),
    ],
)
def test_first_notch(difference_s: float, notch_hz: float) -> None:
    """Equal gains: notches at (2m + 1)/(2 dt), computed from the sum of a signal and its delayed copy."""
    assert first_notch_hz(difference_s) == pytest.approx(notch_hz, rel=1e-12)


@pytest.mark.parametrize(
    ("plugs", "line_lo_s", "line_hi_s"),
    [
        # A whole control change is three bytes of 320 us: 960 us (MIDI 1.0 Detailed Specification).
        ((Plug.MIDI_DIN, Plug.MIDI_DIN), 960e-6, 960e-6),
        # A full-speed USB frame is 1 ms (from memory, not verified).
        ((Plug.USB_DEVICE, Plug.USB_HOST), 0.0, 1e-3),
    ],
)
def test_a_fader_is_heard_within_the_time_read(
    plugs: tuple[Plug, Plug], line_lo_s: float, line_hi_s: float
) -> None:
    """The fader steps at a block's edge; the sound at the desk must change no sooner and no later than read."""
    net = fader_net(plugs, faders__f5=1.0)
    read_s = control_to_ears(Paths(net), "faders.f5")
    assert read_s is not None
    scan_s = 1e-3  # a sender that looks a thousand times a second
    assert read_s.lo_s == pytest.approx(line_lo_s, abs=1.5 / RATE_HZ)
    assert read_s.hi_s == pytest.approx(scan_s + line_hi_s, abs=2.5 / RATE_HZ)
    row = net.section("desk.left").ins[0]
    still = render(net, 0.12, probes=[row])[0]
    seen_s = []
    for block in range(30, 70, 3):
        at_s = block * BLOCK / RATE_HZ
        moved = render(net, 0.12, probes=[row], events=[Event(at_s, "faders.f5", 0.5)])[0]
        first = int(np.argmax(np.abs(moved - still) > 1e-6))
        seen_s.append((first - block * BLOCK) / RATE_HZ)
    assert min(seen_s) >= read_s.lo_s - 1.5 / RATE_HZ
    assert max(seen_s) <= read_s.hi_s + 1.5 / RATE_HZ  # two more where the sine passes through 0 V


def test_a_control_reaches_only_those_that_listen_to_its_number() -> None:
    net = fader_net()
    paths = Paths(net)
    five, six = (control_arrivals(paths, f"faders.{f}") for f in ("f5", "f6"))
    assert net.contact("bridge.cv-1").row in five
    assert net.contact("bridge.cv-2").row not in five
    assert net.contact("bridge.cv-2").row in six
    assert control_to_ears(paths, "faders.f6") is None
    assert read(net).heard_after["faders.f6"] is None


def late(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:  # pragma: no cover - only read, never run
    raise NotImplementedError


def _same_spans(ins: Sequence[Span], setting: Setting) -> Sequence[Span]:
    return [ins[0].including(0.0)]


def _same_levels(ins: Sequence[Level], setting: Setting) -> Sequence[Level]:
    return [ins[0]]


def _late_lags(setting: Setting) -> Sequence[Lag]:
    return [Lag("in", "out", setting["time"], 2.0 * setting["time"])]


LATE = Kind(
    name="late",
    doc="For tests.",
    inputs=(Port("in"), Port("steer", is_control=True)),
    outputs=(Port("out"),),
    params=(Param("time", "s", 0.0, 1.0, 0.001),),
    kernel=late,
    interval=_same_spans,
    level=_same_levels,
    delay=_late_lags,
)


def late_sheet(name: str) -> Any:
    return sheet(
        name,
        {"late": {"kind": "late"}},
        [jack_in("in", "late.in"), jack_in("steer", "late.steer"), jack_out("out", "late.out")],
        {"time": ("late.time", 0.0, 1.0, 0.001, "s")},
    )


@pytest.fixture
def _late_kind(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(KINDS, "late", LATE)


@pytest.mark.usefixtures("_late_kind")
def test_delays_in_a_row_add_up_and_parallel_ones_give_the_ends() -> None:
    """Directly, or through 1 to 2 ms and 3 to 6 ms: 0 to 8 ms; the longer path alone 4 to 8 ms."""
    net = flatten(
        project(
            {"osc": OSCILLATOR, "a": late_sheet("a"), "b": late_sheet("b"), "sum": ADDER},
            [
                ("osc.sine", "a.in"),
                ("osc.sine", "sum.in-1"),
                ("a.out", "b.in"),
                ("b.out", "sum.in-2"),
            ],
            {"b.time": 0.003},
        )
    )
    paths = Paths(net)
    source = net.section("osc.o").outs[2]
    found = arrivals(paths, [source])
    last = found[net.contact("b.out").row]
    assert [last.lo_s, last.hi_s] == pytest.approx([0.004, 0.008])
    both = found[net.section("sum.mix").outs[0]]
    assert [both.lo_s, both.hi_s] == pytest.approx([0.0, 0.008])
    (difference,) = all_differences(paths)
    assert net.sections[difference.section].name == "sum.mix"
    assert (difference.early_port, difference.late_port) == ("in-1", "in-2")
    assert [difference.lo_s, difference.hi_s] == pytest.approx([0.004, 0.008])
    assert difference.first_notch_hz == pytest.approx(62.5)
    assert read(net).differences == (difference,)


@pytest.mark.usefixtures("_late_kind")
def test_an_input_that_the_law_leaves_out_steers_at_once_and_carries_no_signal() -> None:
    net = flatten(project({"osc": OSCILLATOR, "a": late_sheet("a")}, [("osc.sine", "a.steer")]))
    paths, source = Paths(net), net.section("osc.o").outs[2]
    target = net.contact("a.out").row
    assert between(paths, source, target) is None
    steered = between(paths, source, target, along=Along.ANYTHING)
    assert steered is not None
    assert steered.hi_s == 0.0


@pytest.mark.usefixtures("_late_kind")
def test_a_loop_is_gone_round_once() -> None:
    """In, through 1 to 2 ms, out, and back in: the first time round counts, and nothing recurses."""
    net = flatten(
        project(
            {"five": STEADY, "sum": ADDER, "a": late_sheet("a")},
            [("five.out", "sum.in-1"), ("sum.out", "a.in"), ("a.out", "sum.in-2")],
        )
    )
    paths = Paths(net)
    found = arrivals(paths, [net.section("five.mix").outs[0]])
    assert found[net.section("sum.mix").outs[0]].lo_s == 0.0
    assert found[net.section("sum.mix").outs[0]].hi_s <= 0.002 + 1 / RATE_HZ
    assert found[net.contact("a.out").row].lo_s == pytest.approx(0.001, abs=1.1 / RATE_HZ)
    assert all_differences(paths) == ()  # an echo that feeds back is no parallel path


@pytest.mark.usefixtures("_late_kind")
def test_the_shortest_time_may_lead_back_through_the_cut_of_a_loop() -> None:
    """Two adders in a ring and a long way round: wherever the ring is cut, the shortest time is at most one sample."""
    net = flatten(
        project(
            {"osc": OSCILLATOR, "x": ADDER, "y": ADDER, "a": late_sheet("a"), "desk": WAY_IN},
            [
                ("osc.sine", "x.in-1"),
                ("x.out", "a.in"),
                ("a.out", "y.in-1"),
                ("y.out", "x.in-2"),
                ("x.out", "y.in-2"),
                ("y.out", "desk.left"),
            ],
            {"a.time": 0.5},
        )
    )
    found = between(Paths(net), net.section("osc.o").outs[2], net.contact("desk.left").row)
    assert found is not None
    assert found.lo_s <= 1.1 / RATE_HZ
    assert found.hi_s >= found.lo_s


@pytest.mark.parametrize("seed", range(0, 400, 4))
def test_delays_back_from_the_ears_are_the_mirror_image_of_those_onward(seed: int) -> None:
    """Two computations of the same: onward from each row on its own, and back from one row for all at once.

    The shortest times must agree everywhere, and the longest wherever no loop is passed.
    """
    net = flatten(random_project(seed))
    paths = Paths(net)
    target = max((row.index for row in net.rows if row.writer is not None), default=0)
    back = departures(paths, [target])
    for row in net.rows:
        onward = arrivals(paths, [row.index], along=Along.ANYTHING)
        assert (target in onward) == (row.index in back)
        if target in onward:
            assert onward[target].lo_s == pytest.approx(back[row.index].lo_s, abs=1e-12)
            if not any(part.is_loop for part in net.components):
                assert onward[target].hi_s == pytest.approx(back[row.index].hi_s, abs=1e-12)


@pytest.mark.parametrize("seed", range(1, 400, 8))
def test_every_control_is_heard_when_it_is_heard_on_its_own(seed: int) -> None:
    net = flatten(random_project(seed))
    paths = Paths(net)
    for control, together in all_controls_to_ears(paths).items():
        alone = control_to_ears(paths, control)
        assert (alone is None) == (together is None)
        if alone is not None and together is not None:
            assert alone.lo_s == pytest.approx(together.lo_s, abs=1e-12)
            if not any(part.is_loop for part in net.components):
                assert alone.hi_s == pytest.approx(together.hi_s, abs=1e-12)
