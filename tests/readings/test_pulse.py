"""Exact pulses against pulses counted in rendered sound, and how long a patch takes to repeat."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.kinds.base import Beat, Pulse
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.pulse import lcm_of, meet_quarters, patch_cycle, read_pulses
from tests.small_rigs import ADDER, jack_in, jack_out, project, sheet

CLOCK = sheet(
    "clock",
    {
        "c": {
            "kind": "clock",
            "ways": 3,
            "times-1": 24,
            "over-1": 1,
            "times-2": 4,
            "over-2": 3,
            "times-3": 4,
            "over-3": 1,
            "width": 0.002,
        }
    },
    [jack_out(f"out-{i}", f"c.out-{i}", Signal.CLOCK) for i in (1, 2, 3)],
)


def sequencer(name: str, steps: str) -> object:
    return sheet(
        name,
        {"g": {"kind": "gate-sequencer", "steps": steps}},
        [
            jack_in("clock", "g.clock", signal=Signal.CLOCK),
            jack_out("gate", "g.gate", Signal.GATE),
        ],
    )


def rig(**patterns: str) -> Net:
    modules = {"clock": CLOCK, **{name: sequencer(name, s) for name, s in patterns.items()}}
    cables = [("clock.out-3", f"{name}.clock") for name in patterns]
    return flatten(project(modules, cables, tempo_bpm=120.0))  # type: ignore[arg-type]


def rises(net: Net, contact: str, seconds: float) -> int:
    """Pulses counted by threshold, half of the usual 5 V; a jack that is high at once has just risen."""
    seen = render(net, seconds, probes=[net.contact(contact).row])[0] > 2.5
    return int(np.count_nonzero(np.diff(seen.astype(int)) == 1)) + int(seen[0])


@pytest.mark.parametrize(("contact", "per_quarter"), [("out-1", 24), ("out-2", Fraction(4, 3))])
def test_a_clock_makes_as_many_pulses_as_read(contact: str, per_quarter: Fraction) -> None:
    """12 quarters at 120 bpm are 6 s; the render stops a hair before the next pulse would come."""
    net = rig()
    pulse = read_pulses(net)[net.contact(f"clock.{contact}").row]
    assert (pulse.beat, pulse.per_quarter) == (Beat.STEADY, per_quarter)
    assert rises(net, f"clock.{contact}", 6.0 - 1e-3) == 12 * per_quarter


@pytest.mark.parametrize("steps", ["x.x..", "x..x.x.", "xxxxxxx."])
def test_a_pattern_makes_as_many_pulses_as_read(steps: str) -> None:
    """Over whole cycles: hits in the pattern times cycles. Four steps a quarter."""
    net = rig(a=steps)
    pulse = read_pulses(net)[net.contact("a.gate").row]
    assert pulse.cycle_quarters == Fraction(len(steps), 4)
    hits = steps.count("x")
    assert pulse.per_quarter == Fraction(4 * hits, len(steps))
    # Neighbouring hits of a gate may run together when it is as long as a step; these gates are shorter.
    cycles = 3
    assert pulse.cycle_quarters is not None
    seconds = float(cycles * pulse.cycle_quarters / 2)
    assert rises(net, "a.gate", seconds - 1e-3) == cycles * hits


def test_five_against_seven_meet_after_35_steps() -> None:
    """lcm(5, 7) = 35 sixteenths = 35/4 quarters; with the three-quarter clock lcm(35/4, 3/4) = 105/4."""
    net = rig(five="x.x..", seven="x..x.x.")
    pulses = read_pulses(net)
    five, seven = (pulses[net.contact(f"{n}.gate").row] for n in ("five", "seven"))
    assert meet_quarters(five, seven) == Fraction(35, 4)
    cycle = patch_cycle(net)
    quarters = Fraction(1)
    for track in cycle.locked:
        assert track.pulse.cycle_quarters is not None
        quarters = lcm_of(quarters, track.pulse.cycle_quarters)
        assert cycle.quarters is not None
        assert (cycle.quarters / track.pulse.cycle_quarters).denominator == 1
    assert cycle.quarters in (Fraction(35, 4), Fraction(105, 4), Fraction(105, 2), Fraction(105))
    assert cycle.bars == cycle.quarters / 4
    assert cycle.repeats


@pytest.mark.parametrize(
    ("a", "b", "both"),
    [
        (Fraction(3, 4), Fraction(1, 2), Fraction(3, 2)),
        (Fraction(5, 4), Fraction(7, 4), Fraction(35, 4)),
        (Fraction(1, 3), Fraction(1, 4), Fraction(1)),
        (Fraction(2), Fraction(3), Fraction(6)),
    ],
)
def test_least_common_multiple_of_fractions(a: Fraction, b: Fraction, both: Fraction) -> None:
    """Checked by counting up the multiples of one until they are multiples of the other."""
    assert lcm_of(a, b) == both
    counted = next(a * n for n in range(1, 1000) if (a * n / b).denominator == 1)
    assert counted == both


def test_free_pulses_never_meet_the_others() -> None:
    lfo = sheet("lfo", {"l": {"kind": "lfo"}}, [jack_out("out", "l.square", Signal.CLOCK)])
    net = flatten(project({"clock": CLOCK, "lfo": lfo}))
    cycle = patch_cycle(net)
    assert "lfo.l.square" in [t.name for t in cycle.free]
    assert cycle.quarters is not None
    assert not cycle.repeats
    assert meet_quarters(Pulse(Beat.FREE, hz=3.0), Pulse.steady(Fraction(1))) is None


def test_two_pulsing_outputs_joined_are_irregular() -> None:
    net = flatten(project({"clock": CLOCK, "sum": ADDER}, [("clock.out-1", "clock.out-2")]))
    assert read_pulses(net)[net.contact("clock.out-1").row].beat is Beat.IRREGULAR


def test_pulses_in_a_loop_end() -> None:
    """A sequencer clocked by itself through a node it shares with the clock: nobody can say, and it is said."""
    net = flatten(
        project(
            {"clock": CLOCK, "a": sequencer("a", "x.x.")},  # type: ignore[dict-item]
            [("clock.out-3", "a.clock"), ("a.gate", "a.clock")],
        )
    )
    assert any(part.is_loop for part in net.components)
    pulse = read_pulses(net)[net.contact("a.clock").row]
    assert pulse.beat is Beat.IRREGULAR
