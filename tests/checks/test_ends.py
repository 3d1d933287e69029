"""What is said of a cable before it is plugged is what is found when it is: every word is held against the checks."""

from __future__ import annotations

import random
import time
from functools import cache
from pathlib import Path

import pytest

import rigproof.demo
from rigproof.checks import CHECKS, Bench, Finding, Severity, run_checks
from rigproof.checks.ends import End, ends_for, outer_jacks
from rigproof.errors import RigErrors, UnknownName
from rigproof.files.load import load_project
from rigproof.files.load_sheet import library_sheets
from rigproof.model.edits import AddCable
from rigproof.model.patch import Cable, Patch
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Outside, Rig
from rigproof.model.sheet import Housing, Signal, Way
from tests.checks.test_scale import beside

DEMO = Path(rigproof.demo.__file__).parent / "lowtide"
OF_CABLES = [c for c in CHECKS.values() if c.family == "cables"]
STOPPING = {c.name for c in OF_CABLES if c.severity is Severity.STOPS_THE_SHOW}
ELSEWHERE = {"voice-without-way-out"}
"""Said of a whole module: what is not heard yet may still be patched on."""


@cache
def demo() -> Bench:
    return Bench.of(load_project(DEMO).require_project())


@cache
def everything() -> Bench:
    """One of every sheet of the library, and nothing plugged; two of each that speaks MIDI."""
    sheets = library_sheets()
    modules, outside = [], []
    for name, sheet in sheets.items():
        if sheet.housing is Housing.PROGRAM:
            continue
        speaks = any(not j.signal.is_volts for j in sheet.jacks.values())
        for id_ in (name, f"{name}-too") if speaks else (name,):
            if sheet.housing is Housing.MODULE:
                modules.append(Mounted(id_, name, 1, 0))
            else:
                outside.append(Outside(id_, name))
    rig = Rig("all", modules=tuple(modules), outside=tuple(outside))
    bench = Bench.of(Project(rig, Patch("all"), dict(sheets)))
    jacks = outer_jacks(bench)
    talk = [n for n, j in jacks.items() if j.signal is Signal.MIDI]
    chance = random.Random(5)
    project = bench.project
    for _ in range(6):  # some lines are taken
        start = chance.choice(talk)
        free = [e for e in ends_for(Bench.of(project), start) if e.why_not is None]
        if free:
            end = chance.choice(free)
            project = AddCable(Cable(start, end.jack, lead=end.lead)).apply(project)
    return Bench.of(project)


def plugged(bench: Bench, start: str, end: End) -> Bench | None:
    """The bench with the cable in; None where the project would not load."""
    jacks = outer_jacks(bench)
    ends = (start, end.jack)
    if jacks[end.jack].way is Way.OUT and jacks[start].way is not Way.OUT:
        ends = (end.jack, start)
    try:
        return Bench.of(AddCable(Cable(*ends, lead=end.lead)).apply(bench.project))
    except RigErrors:
        return None


@cache
def known(make: object) -> frozenset[tuple[str, str]]:
    bench = demo() if make is demo else everything()
    return frozenset((f.check, f.at) for f in run_checks(bench, OF_CABLES))


def new_findings(make: object, after: Bench) -> list[Finding]:
    found = run_checks(after, OF_CABLES)
    return [f for f in found if (f.check, f.at) not in known(make)]


def carries_nothing(before: Bench, after: Bench) -> bool:
    """Whether a ribbon more has changed what no jack gives."""
    rows = [{n: c.row for n, c in b.net.contacts.items()} for b in (before, after)]
    return rows[0] == rows[1]


def compare(make: object, bench: Bench, start: str, end: End) -> None:
    after = plugged(bench, start, end)
    about = f"{start} to {end.jack}: {end}"
    if end.why_not is None:
        assert after is not None, about
        ends = (start, end.jack)
        stopped = [
            f
            for f in new_findings(make, after)
            if f.check in STOPPING - ELSEWHERE
            and not (f.check in ("needed-input-open", "link-not-fitted") and f.at not in ends)
        ]
        assert not stopped, f"{about}: {stopped}"
        return
    if after is None:
        return
    if outer_jacks(bench)[start].signal is Signal.LINK and carries_nothing(bench, after):
        return
    said = {f.check for f in new_findings(make, after)}
    assert said & (STOPPING | {"cable-without-source"}), about


@pytest.mark.parametrize("seed", range(4))
def test_what_is_said_is_what_is_found_in_the_demo(seed: int) -> None:
    chance = random.Random(seed)
    start = chance.choice(list(outer_jacks(demo())))
    ends = ends_for(demo(), start)
    assert len(ends) == len(outer_jacks(demo())) - 1
    for are_ok in (True, False):
        some = [e for e in ends if (e.why_not is None) is are_ok]
        for end in chance.sample(some, min(4, len(some))):
            compare(demo, demo(), start, end)


@pytest.mark.parametrize("signal", [Signal.MIDI, Signal.LINK])
def test_what_is_said_is_what_is_found_for_messages_and_ribbons(signal: Signal) -> None:
    chance = random.Random(7)
    jacks = outer_jacks(everything())
    starts = [n for n, j in jacks.items() if j.signal is signal]
    for start in chance.sample(starts, 4):
        ends = ends_for(everything(), start)
        alike = [e for e in ends if jacks[e.jack].signal is signal]
        for are_ok in (True, False):
            some = [e for e in alike if (e.why_not is None) is are_ok]
            for end in chance.sample(some, min(2, len(some))):
                compare(everything, everything(), start, end)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40))
def test_what_is_said_is_what_is_found_anywhere(seed: int) -> None:
    chance = random.Random(100 + seed)
    make = demo if seed % 2 else everything
    bench = make()
    start = chance.choice(list(outer_jacks(bench)))
    for end in chance.sample(ends_for(bench, start), 12):
        compare(make, bench, start, end)


def said(bench: Bench, start: str, other: str) -> End:
    return next(e for e in ends_for(bench, start) if e.jack == other)


def test_words_of_the_demo() -> None:
    bench = demo()
    assert said(bench, "clock.sixteenth", "rhythm.reset").why_not == (
        "rhythm.reset is driven by clock.reset already"
    )
    assert said(bench, "clock.sixteenth", "faders.usb").why_not == (
        "clock.sixteenth carries a voltage, faders.usb MIDI"
    )
    free = said(bench, "lfo.square-1", "lfo.clock-1")
    assert free.why_not is None
    assert free.warnings == ("lfo.square-1 gives a control voltage, lfo.clock-1 takes pulses",)
    assert said(bench, "lfo.square-1", "mult.b-2").warnings == ()
    assert said(bench, "mult.b-1", "lfo.clock-1").warnings == ("no output drives it yet",)
    taken = said(bench, "clock.sixteenth", "lfo.clock-2")
    assert taken.cables == (10,)


def test_unlike_types_ask_for_a_crossed_lead() -> None:
    """Source: MIDI Association RP-054 (2018)."""
    bench = everything()
    jacks = outer_jacks(bench)
    outs = [n for n, j in jacks.items() if j.plug.value == "midi-trs-a" and j.way is Way.OUT]
    ins = [n for n, j in jacks.items() if j.plug.value == "midi-trs-b" and j.way is Way.IN]
    like = [n for n, j in jacks.items() if j.plug.value == "midi-trs-a" and j.way is Way.IN]
    start = next(n for n in outs if n not in bench.cables_at)
    for names, lead in ((ins, "midi-crossed"), (like, None)):
        name = next(n for n in names if n not in bench.cables_at and n.split(".")[0] not in start)
        end = said(bench, start, name)
        assert (end.why_not, end.lead) == (None, lead)


def test_a_jack_that_is_not_there() -> None:
    with pytest.raises(UnknownName) as wrong:
        ends_for(demo(), "clock.sixteent")
    assert wrong.value.nearest == "clock.sixteenth"


@pytest.mark.bench
def test_it_is_said_in_no_time() -> None:
    """Under 30 ms at 60 modules, so that it can be asked while a plug is dragged; a busy machine gets four tries."""
    bench = Bench.of(beside(demo().project, 3))
    assert len(bench.project.rig.modules) >= 60
    ends_for(bench, "lfo.sine-1")
    took_s = []
    for start in ("lfo.sine-1", "clock.sixteenth", "submix.left-1", "mult.a-1"):
        begun_s = time.perf_counter()
        assert len(ends_for(bench, start)) > 600
        took_s.append(time.perf_counter() - begun_s)
    assert min(took_s) < 0.030
