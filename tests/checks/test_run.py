"""The runner: order, doubles, what is declined; and how long a whole rig takes."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from time import process_time

import pytest

from rigproof.checks import CHECKS, Bench, Finding, Severity, run_checks
from rigproof.checks.base import PARTS, Fix, check, listed
from rigproof.checks.run import natural_key
from rigproof.checks.told import read_parts
from rigproof.model.edits import SetControl
from rigproof.model.patch import Declined
from rigproof.model.rig import Row
from tests.checks import rigs
from tests.checks.cases import looped, mixing

BENCH = Bench.of(rigs.project({"box": rigs.sheet("box")}))


def saying(name: str, severity: Severity, *places: str):  # type: ignore[no-untyped-def]
    def run(bench: Bench) -> Iterator[Finding]:
        """It says what it is told."""
        for place in places:
            yield Finding(place, f"{name}.", {"cables": 1})

    return check(name, severity=severity)(run)


def test_worst_first_then_in_the_order_of_checks_then_by_place() -> None:
    checks = [
        saying("known-thing", Severity.WORTH_KNOWING, "a"),
        saying("hurting-thing", Severity.HURTS, "in-10", "in-2"),
        saying("other-thing", Severity.HURTS, "a"),
        saying("stopping-thing", Severity.STOPS_THE_SHOW, "z"),
    ]
    found = [(f.check, f.at) for f in run_checks(BENCH, checks)]
    assert found == [
        ("stopping-thing", "z"),
        ("hurting-thing", "in-2"),
        ("hurting-thing", "in-10"),
        ("other-thing", "a"),
        ("known-thing", "a"),
    ]


def test_the_same_place_is_said_once() -> None:
    assert len(run_checks(BENCH, [saying("double-thing", Severity.HURTS, "a", "a")])) == 1


@pytest.mark.parametrize(("helps", "has_loop", "is_offered"), [(1, 1, 1), (0, 1, 0), (0, 0, 1)])
def test_with_feedback_a_fix_is_tried_before_it_is_offered(
    helps: int, has_loop: int, is_offered: int
) -> None:
    """A fix that turns a knob which the finding does not mind is left out, but only where a loop may have fooled it."""
    bench = Bench.of(looped(0.9) if has_loop else mixing(("voice-1.sine", "mix.in-1")))
    control = "mix.level-1"
    ref = bench.net.controls[control][0]

    def run(bench: Bench) -> Iterator[Finding]:
        """A knob stands above zero."""
        stands = bench.net.sections[ref.section].setting[ref.name]
        if stands > 0.0 or not helps:
            fix = Fix("turn it down", (SetControl(control, 0.0),), is_safe=True)
            yield Finding("knob", "too high.", {"stands_ratio": stands}, fix)

    (found,) = run_checks(bench, [check("knob-too-high", severity=Severity.HURTS)(run)])
    assert (found.fix is not None) == bool(is_offered)


def test_only_the_place_that_is_declined_is_declined() -> None:
    project = rigs.project(
        {"box": rigs.sheet("box")}, declined=[Declined("odd-thing", "a", "it is meant so")]
    )
    found = run_checks(Bench.of(project), [saying("odd-thing", Severity.HURTS, "a", "b")])
    assert [f.declined for f in found] == ["it is meant so", None]


def test_numbers_in_names_count() -> None:
    names = ["b", "in-10", "in-2", "in", "10", "9"]
    assert sorted(names, key=natural_key) == ["9", "10", "b", "in", "in-2", "in-10"]


@pytest.mark.parametrize(
    ("names", "text"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (list("abcde"), "a, b, c, d and 1 more")],
)
def test_names_in_a_row(names: list[str], text: str) -> None:
    assert listed(names) == text


def test_a_docstring_is_read_in_parts() -> None:
    doc = "The fault\ngoes on.\n\nOn stage: noise.\nFix: none\nat all.\nBlind to: much.\nSource: us: here."
    assert read_parts(doc, PARTS) == {
        "Fault": "The fault goes on.",
        "On stage": "noise.",
        "Fix": "none at all.",
        "Blind to": "much.",
        "Source": "us: here.",
    }


def test_a_clean_rig_has_no_findings() -> None:
    clean = mixing(("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-2"))
    assert run_checks(Bench.of(clean)) == []


def test_checking_needs_no_compiler() -> None:
    code = (
        "import sys, rigproof.checks as c; from rigproof.model.project import Project;"
        "from rigproof.model.rig import Rig; from rigproof.model.patch import Patch;"
        "c.run_checks(c.Bench.of(Project(Rig('r'), Patch('p'))));"
        "print([m for m in ('numba', 'llvmlite', 'scipy', 'rigproof.engine') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def big_rig(voices: int):  # type: ignore[no-untyped-def]
    """Voices of four modules each with eight cables: clock, envelope, amplifier, mixers in a row, one loop each."""
    sheets, cables = {"clock": rigs.clock((4, 1)), "desk": rigs.interface()}, []
    before = ""
    for i in range(1, voices + 1):
        voice, env, vca, mix = (f"{kind}-{i}" for kind in ("voice", "env", "vca", "mix"))
        sheets |= {
            voice: rigs.voice(voice, 1.0),
            env: rigs.envelope(env),
            vca: rigs.vca(vca),
            mix: rigs.mixer(mix, 4),
        }
        cables += [
            ("clock.out-1", f"{env}.gate"),
            (f"{voice}.sine", f"{vca}.in"),
            (f"{env}.cv", f"{vca}.cv"),
            (f"{vca}.out", f"{mix}.in-1"),
            (f"{voice}.saw", f"{mix}.in-2"),
            (f"{mix}.out", f"{mix}.in-3"),
            (before or "clock.out-1", f"{mix}.in-4"),
            (f"{env}.cv", f"{voice}.pitch"),
        ]
        before = f"{mix}.out"
    levels = {f"mix-{i}.level-{k}": 0.25 for i in range(1, voices + 1) for k in range(1, 5)}
    return rigs.project(
        sheets,
        [*cables, (before, "desk.in-1")],
        rows=(Row(40 * voices, 50.0),),
        settings=levels,
    )


@pytest.mark.bench
def test_sixty_modules_are_checked_in_150_ms() -> None:
    project = big_rig(15)
    assert len(project.rig.modules) > 60
    assert len(project.patch.cables) > 120
    spent_s = []
    for _ in range(3):
        bench = Bench.of(project)
        start = process_time()
        run_checks(bench)
        spent_s.append(process_time() - start)
    assert min(spent_s) < 0.150


@pytest.mark.bench
def test_no_check_costs_more_than_it_should_on_a_big_rig() -> None:
    """Four times the rig may not take more than ten times as long: nothing grows with the square, give or take."""

    def seconds(voices: int) -> float:
        times = []
        for _ in range(2):
            bench = Bench.of(big_rig(voices))
            run_checks(bench, [])
            start = process_time()
            for one in CHECKS.values():
                list(one(bench))
            times.append(process_time() - start)
        return min(times)

    assert seconds(32) < 10.0 * seconds(8)
