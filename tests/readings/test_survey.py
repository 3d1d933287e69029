"""The survey's figures, counted by hand on small rigs."""

from dataclasses import replace
from fractions import Fraction

import pytest

from rigproof.kinds.base import Beat
from rigproof.model.project import Project
from rigproof.model.rig import Row, Supply
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.readings.proof import read
from rigproof.readings.survey import RailUse, RowUse, survey
from tests.small_rigs import ADDER, STEADY, jack_in, jack_out, project, sheet

CLOCK = sheet(
    "clock",
    {"clock": {"kind": "clock", "ways": 2, "times": (4, 1), "over": (1, 4)}},
    [
        jack_in("run", "clock.run", signal=Signal.GATE),
        jack_out("beat", "clock.out-1", Signal.CLOCK),
        jack_out("bar", "clock.out-2", Signal.CLOCK),
    ],
)
SEQUENCER = sheet(
    "sequencer",
    {"steps": {"kind": "gate-sequencer"}},
    [
        jack_in("clock", "steps.clock", signal=Signal.CLOCK),
        jack_out("gate", "steps.gate", Signal.GATE),
    ],
)
WAVES = sheet("waves", {"osc": {"kind": "oscillator"}}, [jack_out("saw", "osc.saw")])


def in_case(made: Project) -> Project:
    """The project in a case of two rows, with a supply that lacks a rail."""
    rows = (Row(20, 50.0), Row(10, 50.0))
    supply = Supply({"+12V": 100.0})
    sheets = {k: replace(s, draw_ma={"+12V": 30.0, "+5V": 10.0}) for k, s in made.sheets.items()}
    return replace(made, rig=replace(made.rig, rows=rows, supply=supply), sheets=sheets)


def test_case_and_supply_are_added_up() -> None:
    """Three modules of 8 HP in a row of 20; three times 30 mA of 100; 5 V that nobody gives."""
    made = in_case(project({"a": STEADY, "b": STEADY, "c": ADDER}, [("a.out", "c.in-1")]))
    read_off = survey(read(flatten(made)))
    assert read_off.rows == (RowUse(1, 20, 24), RowUse(2, 10, 0))
    assert [r.free_hp for r in read_off.rows] == [-4, 10]
    assert read_off.rails == (RailUse("+12V", 100.0, 90.0), RailUse("+5V", 0.0, 30.0))
    assert read_off.rails[0].free_ratio == pytest.approx(0.1)
    assert (read_off.modules, read_off.cables, read_off.maps) == (3, 1, 0)
    assert (read_off.setlist, read_off.timeline.length_s) == (None, 0.0)


def test_what_a_clock_drives_stands_under_it() -> None:
    made = project(
        {"clock": CLOCK, "seq": SEQUENCER, "next": SEQUENCER},
        [("clock.beat", "seq.clock"), ("seq.gate", "next.clock")],
    )
    clocks = survey(read(flatten(made))).clocks
    tree = {c.name: (c.parent, c.depth) for c in clocks}
    assert tree["clock.beat"] == (None, 0)
    gate = next(c for c in clocks if c.name == "seq.gate")
    assert (gate.parent, gate.depth) == ("clock.beat", 1)
    assert clocks.index(gate) == 1
    beat = clocks[0]
    assert (beat.pulse.beat, beat.pulse.per_quarter) == (Beat.STEADY, Fraction(4))
    assert "clock.bar" not in tree  # nothing is plugged into it


def test_an_unclocked_sequencer_hangs_on_nothing() -> None:
    made = project(
        {"clock": CLOCK, "seq": SEQUENCER, "next": SEQUENCER},
        [("clock.bar", "next.clock"), ("seq.gate", "seq.clock")],
    )
    clocks = survey(read(flatten(made))).clocks
    assert clocks[0].name == "clock.bar"
    assert all(c.parent is None for c in clocks)


def test_waves_are_no_clocks_until_something_is_clocked_by_them() -> None:
    lonely = project({"osc": WAVES, "five": STEADY}, [("osc.saw", "five.in")])
    assert survey(read(flatten(lonely))).clocks == ()
    driving = project(
        {"osc": WAVES, "seq": SEQUENCER, "next": SEQUENCER},
        [("osc.saw", "seq.clock"), ("seq.gate", "next.clock")],
    )
    names = [c.name for c in survey(read(flatten(driving))).clocks]
    assert names[:2] == ["osc.osc.saw", "seq.gate"]
