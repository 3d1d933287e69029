"""Names that point at nothing: every one is told, all at once, with what would have been right."""

import pytest

from rigproof.errors import RigError, RigErrors, ShapeError, UnknownName, Where, WiringError
from rigproof.model.patch import Cable, Filling, Map, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import RawValue, Section, Signal
from rigproof.net.flatten import flatten
from tests.small_rigs import ADDER, LAG, STEADY, jack_in, jack_out, project, sheet


def errors_of(broken: Project) -> list[RigError]:
    with pytest.raises(RigErrors) as caught:
        flatten(broken)
    return list(caught.value.errors)


def error_of(broken: Project) -> RigError:
    found = errors_of(broken)
    assert len(found) == 1, [str(e) for e in found]
    return found[0]


@pytest.mark.parametrize(
    ("cable", "what", "name", "nearest"),
    [
        (("fiv.out", "sum.in-1"), "module", "fiv", "five"),
        (("five.outt", "sum.in-1"), "jack", "outt", "out"),
        (("five.out", "sum.in1"), "jack", "in1", "in-1"),
    ],
)
def test_a_cable_into_nothing(cable: tuple[str, str], what: str, name: str, nearest: str) -> None:
    found = error_of(project({"five": STEADY, "sum": ADDER}, [cable]))
    assert isinstance(found, UnknownName)
    assert (found.what, found.name, found.nearest) == (what, name, nearest)


def test_all_errors_come_at_once_and_in_order() -> None:
    where = [Where("p.toml", line, "x") for line in (9, 3, 5)]
    broken = Project(
        Rig(
            "r",
            modules=(
                Mounted("five", "steady", 1, 0),
                Mounted("lost", "stedy", 1, 8, where=where[2]),
            ),
        ),
        Patch(
            "p",
            cables=(Cable("five.out", "nobody.in", where=where[0]),),
            settings=(Settings("five.levle", 1.0, where=where[1]),),
        ),
        {"steady": STEADY},
    )
    found = errors_of(broken)
    assert [e.where.line for e in found] == [3, 5, 9]
    assert [e.nearest for e in found][:2] == ["level", "steady"]


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (3.0, "-2 to 2"),
        (float("nan"), "-2 to 2"),
        ("fast", "a quantity such as 0.5 or '50 %'"),
        ("3 ms", "a quantity in %"),
        ((1.0, 2.0), "a number such as 0.5 or '50 %'"),
    ],
)
def test_a_setting_that_cannot_be(value: float, expected: str) -> None:
    found = error_of(project({"five": STEADY}, settings={"five.level": value}))
    assert isinstance(found, ShapeError)
    assert found.expected == expected


def test_a_quantity_is_read_in_its_unit() -> None:
    net = flatten(project({"lag": LAG}, settings={"lag.rise": "180 ms"}))
    assert net.section("lag.rc").setting["rise"] == 0.18


def test_volts_into_midi() -> None:
    keys = sheet(
        "keys", {"mix": {"kind": "mixer", "ways": 1}}, [jack_in("midi", signal=Signal.MIDI)]
    )
    found = errors_of(project({"five": STEADY, "keys": keys}, [("five.out", "keys.midi")]))
    assert [type(e) for e in found] == [WiringError]
    assert found[0].found == "volts into MIDI"


def test_what_a_set_and_its_maps_and_fillings_name() -> None:
    played = Setlist(
        "s", sections=(Passage("a", settings=(Settings("five.x", 1),), moves=(Move("six.y", 1),)),)
    )
    broken = project({"five": STEADY}, maps=[Map("five.zz", 5, to=("five.cc",))], setlist=played)
    broken = Project(
        broken.rig,
        Patch(
            "p",
            maps=broken.patch.maps,
            rhythms=(Filling("five.t1"),),
            samples=(Filling("ten.bank"),),
        ),
        broken.sheets,
        played,
    )
    told = {(e.what, e.name) for e in errors_of(broken) if isinstance(e, UnknownName)}
    assert told == {
        ("control", "x"),
        ("module", "six"),
        ("control", "zz"),
        ("cc slot", "cc"),
        ("rhythm slot", "t1"),
        ("module", "ten"),
    }


def test_a_move_behind_the_end_of_its_section() -> None:
    def played(bar: int) -> Setlist:
        return Setlist(
            "s", sections=(Passage("ebb", bars=24, moves=(Move("five.level", 1, bar=bar),)),)
        )

    flatten(project({"five": STEADY}, setlist=played(24)))
    found = error_of(project({"five": STEADY}, setlist=played(25)))
    assert isinstance(found, ShapeError)
    assert (found.found, found.expected) == ("bar 25", "a bar from 1 to 24")


def test_a_map_from_what_sends_nothing() -> None:
    found = error_of(project({"five": STEADY}, maps=[Map("five.level", 5)]))
    assert isinstance(found, WiringError)


@pytest.mark.parametrize(
    ("sections", "jacks", "wires", "words"),
    [
        ({"m": {"kind": "mixr"}}, [], [], "there is no section kind 'mixr'"),
        ({"m": {"kind": "junction"}}, [], [], "there is no section kind 'junction'"),
        ({"m": {"kind": "mixer", "ways": 99}}, [], [], "no such number of ways for kind 'mixer'"),
        ({"m": {"kind": "mixer", "ways": True}}, [], [], "no such number of ways for kind 'mixer'"),
        ({"m": {"kind": "mixer", "gian": 1}}, [], [], "kind 'mixer' has no parameter 'gian'"),
        ({"m": {"kind": "mixer", "gain": (1, 1)}}, [], [], "wrong number of values"),
        (
            {"m": {"kind": "mixer"}},
            [],
            [("m.out", "m.in-9")],
            "section 'm' (kind 'mixer') has no input 'in-9'",
        ),
        (
            {"m": {"kind": "mixer"}},
            [],
            [("m.aut", "m.in-1")],
            "section 'm' (kind 'mixer') has no output 'aut'",
        ),
        ({"m": {"kind": "mixer"}}, [], [("n.out", "m.in-1")], "sheet 'bad' has no section 'n'"),
        (
            {"m": {"kind": "mixer"}},
            [jack_in("a", "m.in-1"), jack_in("b", "m.in-1")],
            [],
            "input 'm.in-1' is driven twice inside the sheet; join signals with a mixer section",
        ),
        (
            {"m": {"kind": "mixer"}},
            [jack_in("a", "m.in-1", normal="z")],
            [],
            "sheet 'bad' has no jack 'z'",
        ),
        (
            {"m": {"kind": "mixer"}},
            [jack_out("a", "m.zz")],
            [],
            "section 'm' (kind 'mixer') has no output 'zz'",
        ),
    ],
)
def test_a_sheet_that_does_not_hold_together(
    sections: dict[str, dict[str, int]],
    jacks: list[object],
    wires: list[tuple[str, str]],
    words: str,
) -> None:
    bad = sheet("bad", sections, jacks, wires=wires)  # type: ignore[arg-type]
    assert error_of(project({"it": bad})).problem == words


def test_a_control_in_the_wrong_unit() -> None:
    bad = sheet("bad", {"m": {"kind": "mixer"}}, [], {"level": ("m.master", 0.0, 1.0, 0.5, "V")})
    found = error_of(project({"it": bad}))
    assert (found.found, found.expected) == ("'V'", "'ratio'")


def test_many_values_are_spread_or_listed() -> None:
    sections: dict[str, dict[str, RawValue]] = {
        "a": {"kind": "mixer", "ways": 2, "gain": 0.5},
        "b": {"kind": "mixer", "ways": 2, "gain": (0.1, 0.2)},
    }
    net = flatten(project({"it": sheet("two", sections, [])}))
    assert net.section("it.a").setting.all_values("gain") == (0.5, 0.5)
    assert net.section("it.b").setting.all_values("gain") == (0.1, 0.2)


def test_an_empty_project_is_an_empty_net() -> None:
    net = flatten(project({}))
    assert (net.sections, net.components, len(net.rows)) == ((), (), 1)
    assert Section("x", "mixer").values == {}
