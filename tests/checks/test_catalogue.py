"""Over the whole catalogue of checks: names, words, a rig that trips each and one that nearly does, fixes that work."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path

import pytest

import rigproof.checks
from rigproof.checks import CHECKS, Bench, Finding, Severity, run_checks
from rigproof.checks.base import PARTS, check, checks_in
from rigproof.model.edits import Decline, apply_edits
from tests.checks.cases import CASES
from tests.checks.no_fix import NO_FIX

HOME = Path(rigproof.checks.__file__).parent
NO_FAMILY = {
    "__init__",
    "base",
    "run",
    "fixes",
    "mend",
    "rounds",
    "slowness",
    "softer",
    "told",
    "page",
    "ends",
}
UNITS = re.compile(
    r"_(v|ma|mm|cm|hp|s|hz|db|dbu|dbfs|bpm|ratio|cents|ohm|quarters|bars|beats|ppqn|bytes_s)$"
)
COUNTS = re.compile(
    r"^(outputs|cables|inputs|hosts|devices|rows?|used|stock|short|stereo_jacks|unlike_types|cc|earlier_cc|channel|"
    r"controls|listeners|tracks|division|hits|expected_hits|expected_hits_a_bar|messages|hands|moves)$"
)
EACH = pytest.mark.parametrize("name", CHECKS)


def found(name: str, *, bad: bool) -> list[Finding]:
    project = (CASES[name].bad if bad else CASES[name].near)()
    return [f for f in run_checks(Bench.of(project)) if f.check == name]


def test_every_check_has_both_rigs_and_every_rig_a_check() -> None:
    assert set(CASES) == set(CHECKS)


def test_there_are_at_least_twenty_over_six_families() -> None:
    assert len(CHECKS) >= 20
    assert {c.family for c in CHECKS.values()} == {
        path.stem for path in HOME.glob("*.py") if path.stem not in NO_FAMILY
    }


def test_every_decorated_function_is_in_the_table() -> None:
    named = [
        str(decorator.args[0].value)
        for path in HOME.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef)
        for decorator in node.decorator_list
        if isinstance(decorator, ast.Call)
        and ast.unparse(decorator.func) == "check"
        and isinstance(decorator.args[0], ast.Constant)
    ]
    assert sorted(named) == sorted(CHECKS)


def test_a_name_used_twice_is_refused() -> None:
    def empty(bench: Bench):  # type: ignore[no-untyped-def]
        yield from ()

    one = check("twice", severity=Severity.HURTS)(empty)
    other = check("twice", severity=Severity.HURTS)(empty)
    with pytest.raises(ValueError, match="twice"):
        checks_in(type("Family", (), {"a": one}), type("Family", (), {"b": other}))


@EACH
def test_the_name_is_kebab_case(name: str) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", name)


@EACH
def test_it_says_everything(name: str) -> None:
    parts = CHECKS[name].parts
    assert set(parts) == {"Fault", *PARTS}
    assert all(len(text) > 12 and text.rstrip().endswith((".", "?")) for text in parts.values())


@EACH
def test_the_bad_rig_trips_it(name: str) -> None:
    findings = found(name, bad=True)
    assert findings
    for finding in findings:
        assert finding.at
        assert finding.message.endswith(".")
        assert finding.severity is CHECKS[name].severity
        assert finding.evidence, "a finding without a number proves nothing"
        for key, value in finding.evidence.items():
            assert UNITS.search(key) or COUNTS.search(key), f"'{key}' has no unit"
            assert isinstance(value, int | float)


@EACH
def test_the_near_rig_does_not(name: str) -> None:
    assert not found(name, bad=False)


@EACH
def test_its_fix_silences_it_and_raises_nothing_new(name: str) -> None:
    """Every check has a rig of which the fix is applied, unless it never offers one."""
    case = CASES[name]
    mended = 0
    for project in (rig() for rig in (case.bad, case.mendable) if rig is not None):
        before = run_checks(Bench.of(project))
        known = {(f.check, f.at) for f in before}
        for finding in before:
            if finding.check != name or finding.fix is None:
                continue
            assert finding.fix.words
            assert finding.fix.edits
            after = run_checks(Bench.of(apply_edits(project, finding.fix.edits)))
            here = {(f.check, f.at) for f in after}
            assert (finding.check, finding.at) not in here
            assert here <= known
            mended += 1
    assert bool(mended) is (name not in NO_FIX)


@EACH
def test_without_a_fix_it_says_why(name: str) -> None:
    told = CHECKS[name].parts["Fix"]
    assert (f"none is computed: {NO_FIX[name]}" if name in NO_FIX else told) == told
    assert told.startswith("none") is (name in NO_FIX)


@EACH
def test_it_can_be_declined_with_a_reason(name: str) -> None:
    project = CASES[name].bad()
    first = next(f for f in run_checks(Bench.of(project)) if f.check == name)
    declining = Decline(name, first.at, "it is meant so")
    again = run_checks(Bench.of(apply_edits(project, [declining])))
    same = next(f for f in again if (f.check, f.at) == (name, first.at))
    assert same == replace(first, declined="it is meant so")


@EACH
def test_it_says_the_same_twice(name: str) -> None:
    project = CASES[name].bad()
    assert run_checks(Bench.of(project)) == run_checks(Bench.of(project))


def test_findings_stand_worst_first() -> None:
    for case in CASES.values():
        ranks = [f.severity.rank for f in run_checks(Bench.of(case.bad()))]
        assert ranks == sorted(ranks)
