"""Fixes made one after the other: which are wanted, what each leaves, and where it stops."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from rigproof.checks import Bench, Check, Finding, Severity
from rigproof.checks.base import check, fix_of
from rigproof.checks.mend import mend, named
from rigproof.model.edits import SetControl, apply_edits
from rigproof.model.patch import Declined
from rigproof.model.project import Project
from tests.checks import rigs

PROJECT = rigs.project({"mix": rigs.mixer()}, settings={"mix.level-1": 2.0, "mix.level-2": 2.0})


def stands(bench: Bench, control: str) -> float:
    """Where a control stands."""
    ref = bench.net.controls[control][0]
    return bench.net.sections[ref.section].setting[ref.name]


def saying(
    name: str, fits: Callable[[Bench], bool], to: float, *, is_safe: bool, at: str = "mix.level-1"
) -> Check:
    """A check that wants a control elsewhere unless something fits."""

    def run(bench: Bench) -> Iterator[Finding]:
        """It says what it is told."""
        if not fits(bench):
            yield Finding(at, "so.", {"cables": 1}, fix_of(SetControl(at, to), is_safe=is_safe))

    return check(name, severity=Severity.HURTS)(run)


def low(control: str = "mix.level-1") -> Callable[[Bench], bool]:
    """Whether a control stands low."""
    return lambda bench: stands(bench, control) < 1.5


SAFE = saying("too-high", low(), 1.0, is_safe=True)
RISKY = saying("far-too-high", low("mix.level-2"), 0.5, is_safe=False, at="mix.level-2")
CHEERLESS = saying("too-low", lambda bench: stands(bench, "mix.level-1") > 1.5, 2.0, is_safe=False)


def level(project: Project) -> float:
    """Where the first gain of the mixer stands."""
    return stands(Bench.of(project), "mix.level-1")


def test_unasked_only_what_is_safe_is_made() -> None:
    done = mend(PROJECT, [SAFE, RISKY])
    assert [f.check for f in done.made] == ["too-high"]
    assert [f.check for f in done.left] == ["far-too-high"]
    assert level(done.project) == 1.0


def test_unasked_nothing_is_made_that_brings_something_new() -> None:
    done = mend(PROJECT, [SAFE, CHEERLESS])
    assert done.made == ()
    assert done.project == PROJECT


def test_what_is_named_is_made_whatever_it_brings() -> None:
    done = mend(PROJECT, [SAFE, CHEERLESS], named(["too-high"]))
    assert [f.check for f in done.made] == ["too-high"]
    assert [f.check for f in done.left] == ["too-low"]


@pytest.mark.parametrize(("at", "count"), [("mix.level-1", 1), ("mix.level-2", 0), (None, 1)])
def test_a_place_narrows_what_is_named(at: str | None, count: int) -> None:
    assert len(mend(PROJECT, [SAFE], named(["too-high"], at)).made) == count


def test_a_fix_that_does_not_hold_is_tried_once() -> None:
    stubborn = saying("never-content", lambda bench: False, 1.0, is_safe=True)
    assert len(mend(PROJECT, [stubborn]).made) == 1


def test_what_one_fix_has_cured_needs_no_second() -> None:
    twin = saying("too-high-again", low(), 1.2, is_safe=True)
    done = mend(PROJECT, [SAFE, twin])
    assert [f.check for f in done.made] == ["too-high"]
    assert level(done.project) == 1.0


def test_what_is_declined_is_left_alone() -> None:
    declined = rigs.project(
        {"mix": rigs.mixer()},
        settings={"mix.level-1": 2.0},
        declined=[Declined("too-high", "mix.level-1", "it is meant so")],
    )
    done = mend(apply_edits(declined, []), [SAFE], named(["too-high"]))
    assert (done.made, done.left) == ((), ())
