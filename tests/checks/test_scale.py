"""Checks stay quick: a rig of several cases side by side costs little more for each case than one."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest

import rigproof.demo
from rigproof.checks import Bench, run_checks
from rigproof.files.load import load_project
from rigproof.model.project import Project

DEMO = Path(rigproof.demo.__file__).parent / "lowtide"


def beside(project: Project, copies: int) -> Project:
    """So many copies of a rig side by side in one case, wired and set alike; the set plays the first."""

    def renamed(name: str, copy: int) -> str:
        module, dot, rest = name.partition(".")
        return f"{module}-{copy}{dot}{rest}" if copy else name

    rig, patch = project.rig, project.patch
    each = range(copies)
    return replace(
        project,
        rig=replace(
            rig,
            rows=rig.rows * copies,
            modules=tuple(
                replace(m, id=renamed(m.id, i), row=m.row + i * len(rig.rows))
                for i in each
                for m in rig.modules
            ),
            outside=tuple(replace(o, id=renamed(o.id, i)) for i in each for o in rig.outside),
        ),
        patch=replace(
            patch,
            cables=tuple(
                replace(c, source=renamed(c.source, i), target=renamed(c.target, i))
                for i in each
                for c in patch.cables
            ),
            settings=tuple(
                replace(s, control=renamed(s.control, i)) for i in each for s in patch.settings
            ),
            rhythms=tuple(replace(f, slot=renamed(f.slot, i)) for i in each for f in patch.rhythms),
            samples=tuple(replace(f, slot=renamed(f.slot, i)) for i in each for f in patch.samples),
            maps=tuple(
                replace(m, control=renamed(m.control, i), to=tuple(renamed(t, i) for t in m.to))
                for i in each
                for m in patch.maps
            ),
        ),
    )


def taken_s(project: Project) -> float:
    """The processor time of all checks on a bench that is flat already, the better of two. [s]"""
    best = float("inf")
    for _ in range(2):
        bench = Bench.of(project)
        began_s = time.process_time()
        run_checks(bench)
        best = min(best, time.process_time() - began_s)
    return best


@pytest.fixture(scope="module")
def demo() -> Project:
    """The demo as it is loaded."""
    project = load_project(DEMO).project
    assert project is not None
    return project


def test_eight_cases_cost_no_more_than_eight(demo: Project) -> None:
    """Every pair of things compared with every other would cost 64 times as much; twice eight is for noise."""
    assert taken_s(beside(demo, 8)) < 16.0 * taken_s(demo)


@pytest.mark.slow
def test_a_thousand_modules_take_less_than_five_seconds(demo: Project) -> None:
    """Forty-five times 22 modules and 75 cables are 990 modules and 3375 cables."""
    huge = beside(demo, 45)
    assert (len(huge.rig.modules), len(huge.patch.cables)) == (990, 3375)
    assert taken_s(huge) < 5.0
