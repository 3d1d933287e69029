"""Nodes against Ohm's law: loading, droop, joined outputs, mults, normals, and what plugs do to stereo jacks.

Source of the law: nodal analysis, Kirchhoff's current law (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rigproof.engine.render import render
from rigproof.model.patch import Cable
from rigproof.model.project import Project
from rigproof.model.sheet import Jack, Plug, Sheet, Signal, Way
from rigproof.net.flatten import flatten
from rigproof.net.graph import GROUND_ROW, Net
from rigproof.readings.volts import read_volts
from rigproof.units import cents_from_ratio
from tests.small_rigs import jack_in, jack_out, project, sheet

ONE_VOLT = sheet(
    "one-volt",
    {"mix": {"kind": "mixer", "ways": 1}},
    [
        jack_in("in", "mix.in-1", signal=Signal.PITCH, normal_v=1.0),
        jack_out("out", "mix.out", Signal.PITCH),
    ],
    {"level": ("mix.gain-1", -4.0, 4.0, 1.0, "ratio")},
)
"""1 V times its level behind 1 kohm."""
LISTENER = sheet(
    "listener",
    {"mix": {"kind": "mixer", "ways": 2}},
    [
        jack_in("in", "mix.in-1", signal=Signal.PITCH),
        jack_in("copy", "mix.in-2", signal=Signal.PITCH, normal="in"),
        jack_out("out", "mix.out", Signal.PITCH),
    ],
)
"""One input of 100 kohm, and a second that is normalled to it."""
PLAIN_LISTENER = sheet(
    "plain-listener",
    {"mix": {"kind": "mixer", "ways": 1}},
    [
        jack_in("in", "mix.in-1", signal=Signal.PITCH),
        jack_out("out", "mix.out", Signal.PITCH),
    ],
)
MULT = Sheet(
    "mult",
    "mult",
    hp=2,
    jacks={
        f"m{i}": Jack(f"m{i}", Way.BARE, Signal.CV, joins=("m1",) if i > 1 else ())
        for i in range(1, 10)
    },
)
STEREO_SOURCE = sheet(
    "stereo-source",
    {"left": {"kind": "mixer", "ways": 1}, "right": {"kind": "mixer", "ways": 1}},
    [
        jack_in("left-in", "left.in-1", normal_v=2.0),
        jack_in("right-in", "right.in-1", normal_v=3.0),
        Jack(
            "out",
            Way.OUT,
            Signal.AUDIO,
            Plug.STEREO,
            {"tip": ("left.out",), "ring": ("right.out",)},
            resistance_ohm=1_000.0,
        ),
    ],
)
STEREO_LISTENER = sheet(
    "stereo-listener",
    {"left": {"kind": "mixer", "ways": 1}, "right": {"kind": "mixer", "ways": 1}},
    [
        Jack(
            "in",
            Way.IN,
            Signal.AUDIO,
            Plug.STEREO,
            {"tip": ("left.in-1",), "ring": ("right.in-1",)},
        ),
        jack_out("left-out", "left.out"),
        jack_out("right-out", "right.out"),
    ],
)


def rig(modules: dict[str, Sheet], cables: list[tuple[str, str]], **settings: float) -> Net:
    given = {key.replace("__", "."): value for key, value in settings.items()}
    return flatten(project(modules, cables, given))


def measured_v(net: Net, contact: str) -> float:
    """What is at a jack, rendered; the proved interval must agree with it to rounding."""
    row = net.contact(contact).row
    seen = float(render(net, 0.01, probes=[row])[0, -1])
    span = read_volts(net)[row]
    assert span.is_point
    assert span.lo == pytest.approx(seen, abs=1e-12)
    return seen


def stack(n: int) -> list[tuple[str, str]]:
    return [("one.out", f"l{i}.in") for i in range(n)]


@pytest.mark.parametrize(
    ("inputs", "ratio", "cents"),
    [
        # 1/(1 + n/100), computed from Ohm's law; the cents are 1200 times the voltage lost at 1 V/octave.
        (1, 0.990099, -11.8812),
        (2, 0.980392, -23.5294),
        (3, 0.970874, -34.9515),
        (4, 0.961538, -46.1538),
        (8, 0.925926, -88.8889),
    ],
)
@pytest.mark.parametrize("through_mult", [False, True])
def test_one_output_into_n_inputs(
    inputs: int, ratio: float, cents: float, *, through_mult: bool
) -> None:
    cables = (
        [("one.out", "mult.m1"), *((f"mult.m{i + 2}", f"l{i}.in") for i in range(inputs))]
        if through_mult
        else stack(inputs)
    )
    listeners = {f"l{i}": PLAIN_LISTENER for i in range(inputs)}
    net = rig({"one": ONE_VOLT, "mult": MULT, **listeners}, cables)
    for i in range(inputs):
        assert measured_v(net, f"l{i}.in") == pytest.approx(ratio, abs=5e-7)
    exact = 1 / (1 + Fraction(inputs, 100))
    seen = measured_v(net, "one.out")
    assert seen == pytest.approx(float(exact), abs=1e-15)
    assert cents_from_ratio(2.0**seen / 2.0) == pytest.approx(cents, abs=5e-5)


def test_an_open_output_does_not_droop() -> None:
    assert measured_v(rig({"one": ONE_VOLT}, []), "one.out") == 1.0


def test_two_joined_outputs_give_their_mean_behind_500_ohm() -> None:
    """Two 1 kohm outputs: without a load the mean; with 100 kohm the mean times 100/(100 + 0.5)."""
    modules = {"one": ONE_VOLT, "two": ONE_VOLT, "mult": MULT, "l": PLAIN_LISTENER}
    cables = [("one.out", "mult.m1"), ("two.out", "mult.m2")]
    settings = {"one__level": 3.0, "two__level": -1.0}
    assert measured_v(rig(modules, cables, **settings), "mult.m3") == pytest.approx(1.0, abs=1e-15)
    loaded = rig(modules, [*cables, ("mult.m3", "l.in")], **settings)
    assert measured_v(loaded, "l.in") == pytest.approx(100.0 / 100.5, abs=1e-15)
    node = loaded.nodes[loaded.contact("l.in").node or 0]
    assert node.outputs == ("one.out", "two.out")
    assert node.conductance_s == pytest.approx(2e-3 + 1e-5, rel=1e-12)


def test_outputs_of_unlike_resistance_are_weighted_by_conductance() -> None:
    """3 V behind 1 kohm with 1 V behind 10 kohm: (3/1 + 1/10)/(1/1 + 1/10) = 31/11 V."""
    weak = replace(
        ONE_VOLT,
        id="weak",
        jacks={
            **ONE_VOLT.jacks,
            "out": replace(ONE_VOLT.jacks["out"], resistance_ohm=10_000.0),
        },
    )
    net = rig({"one": ONE_VOLT, "two": weak}, [("one.out", "two.out")], one__level=3.0)
    assert measured_v(net, "one.out") == pytest.approx(31 / 11, abs=1e-15)


def test_an_output_stops_at_its_clamp_before_the_node() -> None:
    """The clamp stands before the resistance: 4 V stopped at 2.5 V, then loaded by 100 kohm."""
    low = replace(
        ONE_VOLT,
        id="low",
        jacks={**ONE_VOLT.jacks, "out": replace(ONE_VOLT.jacks["out"], clamp_v=(0.0, 2.5))},
    )
    modules = {"one": low, "l": PLAIN_LISTENER}
    net = rig(modules, [("one.out", "l.in")], one__level=4.0)
    assert measured_v(net, "l.in") == pytest.approx(2.5 / 1.01, abs=1e-15)
    net = rig(modules, [("one.out", "l.in")], one__level=-4.0)
    assert measured_v(net, "l.in") == 0.0


def test_a_normal_feeds_until_it_is_plugged_and_loads_as_an_input_does() -> None:
    """Two inputs of 100 kohm on one output through the normal; one where a cable has broken it."""
    joined = rig({"one": ONE_VOLT, "l": LISTENER}, [("one.out", "l.in")])
    assert measured_v(joined, "l.copy") == pytest.approx(1 / 1.02, abs=1e-15)
    broken = rig(
        {"one": ONE_VOLT, "two": ONE_VOLT, "l": LISTENER},
        [("one.out", "l.in"), ("two.out", "l.copy")],
        two__level=-2.0,
    )
    assert measured_v(broken, "l.in") == pytest.approx(1 / 1.01, abs=1e-15)
    assert measured_v(broken, "l.copy") == pytest.approx(-2 / 1.01, abs=1e-15)


def test_a_steady_normal_gives_way_to_a_cable() -> None:
    assert measured_v(rig({"one": ONE_VOLT}, []), "one.in") == 1.0
    net = rig({"one": ONE_VOLT, "two": ONE_VOLT}, [("two.out", "one.in")], two__level=3.0)
    assert measured_v(net, "one.in") == pytest.approx(3 / 1.01, abs=1e-15)


def stereo(source: Sheet, target: Sheet, lead: str | None) -> Net:
    made = project({"s": source, "l": target})
    cables = (Cable("s.out", "l.in", lead=lead),)
    return flatten(Project(made.rig, replace(made.patch, cables=cables), made.sheets))


def test_a_stereo_lead_carries_both_sides() -> None:
    net = stereo(STEREO_SOURCE, STEREO_LISTENER, None)
    assert measured_v(net, "l.in:tip") == pytest.approx(2 / 1.01, abs=1e-15)
    assert measured_v(net, "l.in:ring") == pytest.approx(3 / 1.01, abs=1e-15)


def test_a_mono_plug_shorts_the_ring_to_the_sleeve() -> None:
    """The right side is 0 V on both ends; the left arrives whole."""
    net = stereo(STEREO_SOURCE, STEREO_LISTENER, "mono-3.5")
    assert measured_v(net, "l.in:tip") == pytest.approx(2 / 1.01, abs=1e-15)
    for ring in ("s.out:ring", "l.in:ring"):
        assert net.contact(ring).row == GROUND_ROW
        assert measured_v(net, ring) == 0.0


def test_a_stereo_lead_into_a_mono_jack_shorts_the_right_output() -> None:
    """The ring of the plug meets the sleeve of the jack."""
    net = stereo(STEREO_SOURCE, PLAIN_LISTENER, "stereo-3.5")
    assert measured_v(net, "l.in") == pytest.approx(2 / 1.01, abs=1e-15)
    assert net.contact("s.out:ring").row == GROUND_ROW


def test_a_mono_source_feeds_only_the_tip() -> None:
    net = stereo(ONE_VOLT, STEREO_LISTENER, None)
    assert measured_v(net, "l.in:tip") == pytest.approx(1 / 1.01, abs=1e-15)
    assert measured_v(net, "l.in:ring") == 0.0
