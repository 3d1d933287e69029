"""The volts reading against closed forms: what loops settle to, where they stop, and that none is left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import pytest

from rigproof.engine.render import render
from rigproof.kinds import KINDS
from rigproof.kinds.base import MIDI_CODES, RAIL_V, ZERO, Kind, Setting, Span
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.volts import TOP_V, read_volts
from tests.small_rigs import ADDER, STEADY, jack_in, jack_out, project, sheet

WEIGHT = 1 / 1.01
"""1 kohm into 100 kohm: R/(R + 1), by Ohm's law."""


def looped(gain: float, level: float = 0.4) -> Net:
    """A steady 5 V times `level` into an adder whose output comes back times `gain`."""
    return flatten(
        project(
            {"five": STEADY, "sum": ADDER},
            [("five.stiff", "sum.in-1"), ("sum.out", "sum.in-2")],
            {"five.level": level, "sum.gain-2": gain},
        )
    )


def out_span(net: Net) -> Span:
    return read_volts(net)[net.section("sum.mix").outs[0]]


@pytest.mark.parametrize("gain", [0.1, 0.5, 0.9])
def test_a_loop_ends_where_its_geometric_series_does(gain: float) -> None:
    """Sum of a geometric series: 2 V / (1 - g), g being the gain once round, 1 kohm on 100 kohm included."""
    limit_v = min(RAIL_V, 2.0 / (1.0 - gain * WEIGHT))
    net = looped(gain)
    span = out_span(net)
    assert span.hi == pytest.approx(limit_v, rel=1e-6)
    assert span.lo == pytest.approx(
        2.0, rel=1e-6
    )  # the first sample, before anything has come back
    seen = render(net, 0.05, probes=[net.section("sum.mix").outs[0]])[0]
    assert seen[-1] == pytest.approx(limit_v, rel=3e-8)  # 1 milliohm into 100 kohm costs 1e-8


def test_an_inverting_loop_swings_between_its_first_two_samples() -> None:
    """x = 2 - 0.5 w x: the first sample is the highest, the second the lowest."""
    span = out_span(looped(-0.5))
    assert span.hi == pytest.approx(2.0, rel=1e-6)
    assert span.lo == pytest.approx(2.0 - 0.5 * WEIGHT * 2.0, rel=1e-6)


@pytest.mark.parametrize("gain", [1.2, 2.0])
def test_a_loop_over_one_ends_at_the_rail(gain: float) -> None:
    assert out_span(looped(gain)).hi == RAIL_V
    assert out_span(looped(gain, level=-0.4)).lo == -RAIL_V


def test_a_loop_with_nothing_in_it_is_proved_silent() -> None:
    """Even with a gain over one: nothing times anything is nothing."""
    assert out_span(looped(2.0, level=0.0)) == ZERO


def test_a_loop_of_many_cuts_ends() -> None:
    """Forty adders, each fed back by all the others' neighbours in both directions: many loops in one component."""
    names = [f"a{i}" for i in range(40)]
    cables = [("five.out", "a0.in-1")]
    cables += [(f"{a}.out", f"{b}.in-1") for a, b in pairwise(names)]
    cables += [(f"{b}.out", f"{a}.in-2") for a, b in pairwise(names)]
    net = flatten(project({"five": STEADY, **dict.fromkeys(names, ADDER)}, cables))
    assert sum(part.is_loop for part in net.components) == 1
    spans = read_volts(net)
    rows = [net.section(f"{name}.mix").outs[0] for name in names]
    seen = render(net, 0.05, probes=rows)
    for row, line in zip(rows, seen, strict=True):
        assert spans[row].lo <= line.min()
        assert line.max() <= spans[row].hi <= RAIL_V
    # The middle is pressed against the rails from both sides: the reading is not merely wide there.
    assert seen[20].max() == pytest.approx(spans[rows[20]].hi, rel=0.05)


def test_pinned_rows_keep_what_they_are_given() -> None:
    net = looped(0.5)
    row = net.section("five.mix").outs[0]
    spans = read_volts(net, pinned={row: Span(-1.0, 1.0)})
    assert spans[row] == Span(-1.0, 1.0)
    assert spans[net.section("sum.mix").outs[0]].hi == pytest.approx(
        1.0 / (1.0 - 0.5 * WEIGHT), rel=1e-6
    )


def test_a_steady_sync_voltage_makes_a_sine_ring_once() -> None:
    """8 V at the sync input rises from 0 V at the first sample, so the sine starts anew there and rings."""
    oscillator = sheet(
        "o",
        {"o": {"kind": "oscillator", "level": 1.0, "tune": 6_000.0}},
        [jack_in("sync", "o.sync", signal=Signal.GATE, normal_v=8.0), jack_out("out", "o.sine")],
    )
    net = flatten(project({"o": oscillator}))
    row = net.section("o.o").outs[2]
    seen = render(net, 0.01, probes=[row])[0]
    span = read_volts(net)[row]
    assert max(-seen.min(), seen.max()) > 1.0  # it does ring over its 1 V
    assert span.lo <= seen.min()
    assert seen.max() <= span.hi


def plain_setting(kind: Kind) -> Setting:
    ways = kind.ways[2] if kind.ways else 1
    values: Mapping[str, float] = {p.name: p.default for p in kind.expand_params(ways)}
    return Setting("t", values, {}, {o.name: o.default for o in kind.options}, ways)


PASSING = ("one-sample-delay",)
"""Kinds that pass voltages on as they are, and so bound nothing."""


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_every_kind_is_bounded_whatever_comes_in(kind: Kind) -> None:
    """A loop's search ends because every kind stops somewhere below the last rung of the ladder."""
    setting = plain_setting(kind)
    ins: Sequence[Span] = [
        MIDI_CODES if p.is_midi else Span(-TOP_V, TOP_V) for p in kind.expand_inputs(setting.ways)
    ]
    outs = kind.interval(ins, setting)
    for port, span in zip(kind.expand_outputs(setting.ways), outs, strict=True):
        if port.is_midi:
            assert MIDI_CODES.lo <= span.lo
            assert span.hi <= MIDI_CODES.hi
        elif kind.name in PASSING:
            assert span.peak <= TOP_V
        else:
            assert span.peak <= 1000.0, port.name
