"""What nothing starts, against the sound: it stands still there, and what is not named moves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigproof.checks.starts import STARTS
from rigproof.engine.render import render
from rigproof.kinds import KINDS
from rigproof.kinds.base import ZERO
from rigproof.model.project import Project
from rigproof.net.flatten import flatten
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.start_cases import drum, waiting
from tests.kinds.running import setting_of

NAME = "trigger-never-comes"


def moves(project: Project) -> bool:
    """Whether the envelope's output leaves 0 V within three seconds."""
    net = flatten(project)
    return bool(render(net, 3.0, probes=[net.contact("env.cv").row])[0].any())


def test_an_open_gate_is_named_and_the_envelope_stands_still() -> None:
    project = waiting(is_plugged=False)
    found = only(NAME, project)
    assert found.at == "env.gate"
    assert found.evidence == {"possible_v": 0.0, "inputs": 1}
    assert "env.cv is plugged" in found.message
    assert not moves(project)
    assert not findings(NAME, waiting())
    assert moves(waiting())


def test_a_pattern_without_a_hit_is_named() -> None:
    project = waiting("....")
    assert "a pattern without a hit" in only(NAME, project).message
    assert not moves(project)


def test_what_other_findings_say_is_not_said_again() -> None:
    """A gate that is too low, and an input that the sheet calls needed."""
    low = waiting(envelope=rigs.envelope(threshold_v=6.0))
    assert only("gate-below-threshold", low).at == "env.gate"
    assert not findings(NAME, low)
    needed = waiting(is_plugged=False, envelope=rigs.envelope(needed=True))
    assert only("needed-input-open", needed).at == "env.gate"
    assert not findings(NAME, needed)


def test_what_is_not_plugged_or_not_heard_is_left_alone() -> None:
    project = waiting(is_plugged=False)
    for gone in ("env.cv", "vca.out"):
        kept = tuple(c for c in project.patch.cables if c.source != gone)
        assert not findings(NAME, replace(project, patch=replace(project.patch, cables=kept)))


def test_a_looped_envelope_starts_itself() -> None:
    looped = rigs.sheet(
        "env",
        list(rigs.envelope().jacks.values()),
        {"env": ("ad-envelope", {"loop": 1})},
    )
    project = waiting(is_plugged=False, envelope=looped)
    assert not findings(NAME, project)
    assert moves(project)


@pytest.mark.parametrize(
    ("kind", "trigger", "out"),
    [
        ("adsr-envelope", "gate", "cv"),
        ("kick-drum", "trigger", "out"),
        ("snare-drum", "trigger", "out"),
        ("clap", "trigger", "out"),
        ("hi-hat", "open", "out"),
        ("sample-voice", "trigger", "left"),
    ],
)
def test_whatever_waits_for_a_trigger_is_named(kind: str, trigger: str, out: str) -> None:
    sheet = drum(kind, trigger, out)
    assert only(NAME, waiting(is_plugged=False, envelope=sheet)).at == "env.gate"
    assert not findings(NAME, waiting(envelope=sheet))


@pytest.mark.parametrize("kind", STARTS)
def test_every_such_kind_stays_at_0_volts_until_it_is_started(kind: str) -> None:
    """The table against the laws: 0 V without a gate, more with one."""
    known = KINDS[kind]
    names = [port.name for port in known.inputs]
    rest = [ZERO if p.rest_v == 0.0 else ZERO.including(p.rest_v) for p in known.inputs]
    assert set(known.interval(rest, setting_of(known))) == {ZERO}
    for port in STARTS[kind]:
        gated = list(rest)
        gated[names.index(port)] = ZERO.including(5.0)
        assert known.interval(gated, setting_of(known))[0] != ZERO
