"""Random rigs, sound and absurd: no check stumbles, every number is finite, every fix ends its finding."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from rigproof.checks import CHECKS, Bench, Finding, run_checks
from rigproof.model.edits import apply_edits
from rigproof.model.patch import Cable, Map
from rigproof.model.project import Project
from rigproof.model.rig import CableStock, Mounted, Row, Supply
from rigproof.model.sheet import Jack, Sheet
from tests.random_patches import random_project

LENGTHS_CM = (None, 15, 30, 60)


def odd_jack(rng: Random, jack: Jack) -> Jack:
    """A jack with a range, a threshold, a rate and a place of its own."""
    return replace(
        jack,
        range_v=rng.choice(((-5.0, 5.0), (0.0, 5.0), (-1.0, 1.0), (0.0, 8.0), (-10.0, 10.0))),
        needed=rng.random() < 0.1,
        threshold_v=rng.choice((None, 0.5, 2.0, 6.0)) if jack.signal.is_pulses else None,
        min_pulse_s=rng.choice((None, 1e-3, 1e-2)) if jack.signal.is_pulses else None,
        ppqn=rng.choice((None, Fraction(4), Fraction(24))),
        at_mm=(rng.uniform(0.0, 40.0), rng.uniform(10.0, 120.0)) if rng.random() < 0.8 else None,
    )


def odd_sheet(rng: Random, sheet: Sheet) -> Sheet:
    """A sheet with a size and a draw."""
    return replace(
        sheet,
        hp=rng.randint(2, 20),
        depth_mm=rng.uniform(15.0, 60.0),
        draw_ma={rail: rng.uniform(0.0, 200.0) for rail in ("+12V", "-12V", "+5V")},
        jacks={name: odd_jack(rng, jack) for name, jack in sheet.jacks.items()},
    )


def odd_project(seed: int) -> Project:
    """A random patch in a random case, with a random box of cables and random mappings."""
    rng = Random(seed)
    plain = random_project(seed)
    sheets = {name: odd_sheet(rng, sheet) for name, sheet in plain.sheets.items()}
    modules = tuple(
        Mounted(m.id, m.sheet, rng.randint(1, 3), rng.randint(-1, 60), rng.random() < 0.1)
        for m in plain.rig.modules
    )
    senders = [
        f"{m.id}.{control.id}"
        for m in modules
        for control in sheets[m.sheet].controls.values()
        for target in control.sets
        if target.endswith(".position")
        and sheets[m.sheet].sections[target.partition(".")[0]].kind == "cc-sender"
    ]
    rig = replace(
        plain.rig,
        modules=modules,
        rows=(Row(84, 50.0), Row(84, 30.0)),
        supply=rng.choice((None, Supply({"+12V": 300.0, "-12V": 1000.0}))),
        cables=rng.choice(((), (CableStock("mono-3.5", 30, 2), CableStock("mono-3.5", 60, 3)))),
    )
    cables: tuple[Cable, ...] = tuple(
        replace(c, cm=rng.choice(LENGTHS_CM)) for c in plain.patch.cables
    )
    maps = tuple(Map(s, rng.choice((1, 1, 7, 121))) for s in senders)
    return replace(
        plain, rig=rig, sheets=sheets, patch=replace(plain.patch, cables=cables, maps=maps)
    )


def hold(project: Project) -> list[Finding]:
    """Check a project and hold what every finding promises; return the findings."""
    found = run_checks(Bench.of(project))
    for finding in found:
        assert all(math.isfinite(v) for v in finding.evidence.values()), finding
        if finding.fix is None:
            continue
        mended = apply_edits(project, finding.fix.edits)
        again = run_checks(Bench.of(mended), [CHECKS[finding.check]])
        assert finding.at not in {f.at for f in again}, finding
    return found


def run_seeds(seeds: range) -> set[str]:
    """Hold the promises over many rigs; return the names of the checks that had something to say."""
    return {f.check for seed in seeds for f in hold(odd_project(seed))}


def test_random_rigs() -> None:
    assert len(run_seeds(range(60))) > 20, "the rigs are odd enough to trip many checks"


@pytest.mark.slow
def test_many_random_rigs() -> None:
    assert len(run_seeds(range(1000, 3000))) > 30
