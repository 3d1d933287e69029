"""Every planted fault is found in its place, its fix mends it and breaks nothing, and clean rigs are left alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import pytest

from rigproof.checks import CHECKS, Bench, run_checks
from rigproof.model.project import Project
from tests.checks.no_fix import NO_FIX
from tests.faultbench.bench import clean_rigs, loud, named, plant
from tests.faultbench.faults import Fault
from tests.faultbench.planted import FAULTS

RIGS = ("demo", "case", "small", "large")


@pytest.fixture(scope="module")
def rigs(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Project]:
    return clean_rigs(tmp_path_factory.mktemp("clean"))


@pytest.fixture(scope="module")
def before(rigs: Mapping[str, Project]) -> Mapping[str, set[str]]:
    return {name: named(run_checks(Bench.of(project))) for name, project in rigs.items()}


def test_there_are_enough_faults_and_no_two_alike() -> None:
    assert len(FAULTS) >= 120
    assert max(Counter((f.rig, f.title) for f in FAULTS).values()) == 1
    assert {f.rig for f in FAULTS} == set(RIGS)


def test_every_check_has_a_fault_planted_for_it() -> None:
    assert {f.finding for f in FAULTS} == set(CHECKS)


@pytest.mark.parametrize("rig", RIGS)
def test_nothing_is_said_about_a_clean_rig(rig: str, rigs: Mapping[str, Project]) -> None:
    assert loud(rigs[rig]) == []
    assert len(run_checks(Bench.of(rigs[rig]))) <= 3, "what is worth knowing stays short"


def test_the_large_rig_is_large(rigs: Mapping[str, Project]) -> None:
    assert len(rigs["large"].rig.modules) == 60
    assert len(rigs["large"].patch.cables) == 150
    assert rigs["large"].setlist is not None


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.rig}: {f.title}")
def test_it_is_found_where_it_is(
    fault: Fault, rigs: Mapping[str, Project], before: Mapping[str, set[str]]
) -> None:
    row = plant(fault, rigs[fault.rig], before[fault.rig])
    assert row.is_found, f"{fault.finding} at {fault.at} was wanted, found: {row.found}"
    assert row.is_mended
    assert not row.new
    assert not (row.has_fix and fault.finding in NO_FIX)


def test_a_rig_without_the_fault_does_not_pass_for_one_with_it(
    rigs: Mapping[str, Project], before: Mapping[str, set[str]]
) -> None:
    """The bench can fail: a fault that changes nothing is not found."""
    idle = Fault("small", "nothing", lambda project: project, "rail-overloaded", "+12V")
    assert not plant(idle, rigs["small"], before["small"]).is_right
