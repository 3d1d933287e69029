"""Hosts: a module whose inside is a patch of its own, laid out in the same net."""

from dataclasses import replace

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.errors import RigErrors, UnknownName, WiringError
from rigproof.model.patch import Cable, Patch, Settings
from rigproof.model.project import Inside, Project
from rigproof.model.rig import Outside
from rigproof.model.sheet import UNLOADED_OHM, Housing, Sheet, Signal
from rigproof.net.flatten import flatten
from tests.small_rigs import ADDER, STEADY, jack_in, jack_out, project, sheet

HOST = sheet(
    "mill",
    {"into": {"kind": "mixer", "ways": 1}, "out-of": {"kind": "mixer", "ways": 1}},
    [
        jack_in("in", "into.in-1", signal=Signal.CV),
        jack_out("out", "out-of.out", Signal.CV),
        jack_out("from-in", "into.out", Signal.CV, resistance_ohm=0.0, is_inside=True),
        jack_in(
            "to-out", "out-of.in-1", signal=Signal.CV, resistance_ohm=UNLOADED_OHM, is_inside=True
        ),
    ],
)
PROGRAM = sheet(
    "half",
    {"mix": {"kind": "mixer", "ways": 1}},
    [
        jack_in("in", "mix.in-1", signal=Signal.CV, resistance_ohm=UNLOADED_OHM),
        jack_out("out", "mix.out", Signal.CV, resistance_ohm=0.0),
    ],
    {"gain": ("mix.gain-1", 0.0, 2.0, 0.5, "ratio")},
    housing=Housing.PROGRAM,
)


def hosted(
    *inner: tuple[str, str], outer: tuple[tuple[str, str], ...] = (), **patch: object
) -> Project:
    """A steady 5 V into the host, two programs that can be wired inside it."""
    made = project(
        {"five": STEADY, "mill": HOST, "sum": ADDER}, [("five.stiff", "mill.in"), *outer]
    )
    inside = Inside(
        "mill",
        (Outside("a", "half"), Outside("b", "half")),
        Patch("inside", cables=tuple(Cable(x, y) for x, y in inner), **patch),  # type: ignore[arg-type]
    )
    return replace(made, sheets={**made.sheets, "half": PROGRAM}, insides=(inside,))


THROUGH = (("host.from-in", "a.in"), ("a.out", "b.in"), ("b.out", "host.to-out"))


def heard_v(it: Project) -> float:
    net = flatten(it)
    return float(render(net, 0.01, probes=[net.section("mill.out-of").outs[0]])[0, -1])


def test_a_signal_passes_through_the_programs_and_nothing_loads_it() -> None:
    """Oracle: by hand. 5 V, halved twice, is 1.25 V; no 1 kohm into 100 kohm takes 1 % on the way."""
    assert heard_v(hosted(*THROUGH)) == pytest.approx(1.25, rel=1e-7)


def test_settings_inside_and_the_last_word_outside() -> None:
    it = hosted(*THROUGH, settings=(Settings("a.gain", 1.0), Settings("b.gain", 1.0)))
    assert heard_v(it) == pytest.approx(5.0, rel=1e-7)
    louder = replace(it, patch=replace(it.patch, settings=(Settings("mill/b.gain", 2.0),)))
    assert heard_v(louder) == pytest.approx(10.0, rel=1e-7)


def test_programs_can_feed_back_inside() -> None:
    """y = 5 + y / 2 settles at 10 V: a loop inside a host is cut like any other."""
    it = hosted(("host.from-in", "b.in"), ("b.out", "host.to-out"))
    adder = replace(ADDER, id="add", housing=Housing.PROGRAM)
    stiff = {
        k: replace(j, resistance_ohm=0.0 if j.id == "out" else UNLOADED_OHM)
        for k, j in adder.jacks.items()
    }
    inside = replace(
        it.insides[0],
        programs=(Outside("a", "half"), Outside("add", "add")),
        patch=Patch(
            "inside",
            cables=(
                Cable("host.from-in", "add.in-1"),
                Cable("add.out", "a.in"),
                Cable("a.out", "add.in-2"),
                Cable("add.out", "host.to-out"),
            ),
        ),
    )
    looped = replace(
        it, sheets={**it.sheets, "add": replace(adder, jacks=stiff)}, insides=(inside,)
    )
    net = flatten(looped)
    seen = render(net, 0.01, probes=[net.section("mill.out-of").outs[0]])[0]
    n = np.arange(8)
    np.testing.assert_allclose(seen[:8], 10.0 * (1 - 0.5 ** (n + 1)), rtol=1e-6)


def test_the_net_remembers_the_project_as_written() -> None:
    it = hosted(*THROUGH)
    net = flatten(it)
    assert net.source is it
    assert [p.id for p in net.project.rig.programs] == ["mill/a", "mill/b"]
    assert len(it.patch.cables) == 1


@pytest.mark.parametrize(
    ("inner", "outer", "kind"),
    [
        ((("host.in", "a.in"),), (), WiringError),
        ((), (("mill.from-in", "sum.in-1"),), WiringError),
        ((), (("mill/a.out", "sum.in-1"),), WiringError),
        ((("nobody.out", "a.in"),), (), UnknownName),
        ((("a.out", "host.nothing"),), (), UnknownName),
    ],
)
def test_what_does_not_connect(
    inner: tuple[tuple[str, str], ...], outer: tuple[tuple[str, str], ...], kind: type[Exception]
) -> None:
    with pytest.raises(RigErrors) as caught:
        flatten(hosted(*inner, outer=outer))
    assert [type(e) for e in caught.value.errors] == [kind]


@pytest.mark.parametrize(("host", "kind"), [("nobody", UnknownName), ("sum", WiringError)])
def test_a_host_that_is_none(host: str, kind: type[Exception]) -> None:
    it = hosted()
    with pytest.raises(RigErrors) as caught:
        flatten(replace(it, insides=(replace(it.insides[0], host=host, programs=()),)))
    assert [type(e) for e in caught.value.errors] == [kind]


def test_one_host_has_one_inside() -> None:
    it = hosted()
    with pytest.raises(RigErrors) as caught:
        flatten(replace(it, insides=(it.insides[0], replace(it.insides[0], programs=()))))
    assert [type(e) for e in caught.value.errors] == [WiringError]


def test_messages_inside_take_no_time() -> None:
    """A MIDI cable is a line that takes time; a connection between programs is none."""
    host = sheet(
        "keys",
        {"merge": {"kind": "midi-merge", "ways": 1}},
        [
            jack_in("midi", "merge.in-1", signal=Signal.MIDI),
            jack_out("from-midi", "merge.out", Signal.MIDI, is_inside=True),
        ],
    )
    program = sheet(
        "listener",
        {"cc": {"kind": "cc-to-cv"}},
        [jack_in("midi", "cc.in", signal=Signal.MIDI)],
        housing=Housing.PROGRAM,
    )
    made = project({"keys": host})
    inside = Inside(
        "keys",
        (Outside("ear", "listener"),),
        Patch("p", cables=(Cable("host.from-midi", "ear.midi"),)),
    )
    net = flatten(replace(made, sheets={**made.sheets, "listener": program}, insides=(inside,)))
    assert net.links == {}
    assert net.section("keys/ear.cc").ins == net.section("keys.merge").outs


def test_sheets_used_are_plain_sheets() -> None:
    assert isinstance(PROGRAM, Sheet)
    assert PROGRAM.housing is Housing.PROGRAM
