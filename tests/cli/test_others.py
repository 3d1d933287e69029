"""`new`, `schema`, `kinds`, `explain`, and the progress of what takes long."""

import io
import json
from pathlib import Path

import pytest
from rich.console import Console

from rigproof.checks import CHECKS
from rigproof.cli import progress as room
from rigproof.cli.progress import progress
from rigproof.cli.screen import BAD_INPUT, FINE
from rigproof.kinds import KINDS
from tests.cli.conftest import Call


def test_a_new_project_loads_and_checks_clean(call: Call, tmp_path: Path) -> None:
    folder = tmp_path / "first"
    answer = call("new", folder, "--title", "My first rig")
    assert answer.code == FINE
    assert f"rigproof check {folder}" in answer.out
    checked = call("check", folder, "--json")
    assert checked.code == FINE
    assert checked.data["findings"] == []
    assert checked.data["survey"]["rig"] == "My first rig"


def test_a_new_project_never_falls_on_an_old_one(call: Call, bench: Path) -> None:
    before = {p: p.read_bytes() for p in bench.rglob("*") if p.is_file()}
    assert call("new", bench).code == BAD_INPUT
    assert {p: p.read_bytes() for p in bench.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize("sort", ["rig", "patch", "set", "sheet"])
def test_schemas_are_printed_as_they_are(call: Call, sort: str) -> None:
    answer = call("schema", sort)
    assert json.loads(answer.out)["title"].startswith(f"rigproof {sort}")


def test_every_kind_can_be_shown(call: Call) -> None:
    listed = call("kinds", "--json").data["kinds"]
    usable = {name for name, kind in KINDS.items() if not kind.is_internal}
    assert {k["kind"] for k in listed} == usable
    paper = call("kinds").out
    for name in usable:
        assert f"\n{name} " in paper
        shown = call("kinds", name)
        assert shown.code == FINE
        assert max(len(line) for line in shown.out.splitlines()) <= 80
        words = " ".join(shown.out.split())
        assert "Source:" in words
        for port in KINDS[name].inputs + KINDS[name].outputs:
            assert port.name in words


def test_what_the_net_adds_itself_is_no_kind_to_use(call: Call) -> None:
    assert call("kinds", "junction").code == BAD_INPUT


def test_every_finding_can_be_explained(call: Call) -> None:
    listed = call("explain", "--json").data["findings"]
    assert [f["finding"] for f in listed] == list(CHECKS)
    for name, check in CHECKS.items():
        shown = call("explain", name)
        assert shown.code == FINE
        words = " ".join(shown.out.split())
        for text in check.parts.values():
            assert " ".join(text.split()) in words
        assert call("explain", name, "--json").data["severity"] == check.severity.value


class Clock:
    """A clock that stands still until it is told."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> io.StringIO:
    """What progress prints where no terminal is."""
    stream = io.StringIO()
    monkeypatch.setattr(room, "errors_console", lambda: Console(file=stream, width=80))
    return stream


def test_quick_work_says_nothing(said: io.StringIO) -> None:
    clock = Clock()
    with progress("rendering", clock) as work:
        for done in range(10):
            clock.now_s = done * 0.1
            work.tell(done, 10)
    assert said.getvalue() == ""


def test_without_a_terminal_a_line_every_ten_seconds(said: io.StringIO) -> None:
    clock = Clock()
    with progress("rendering", clock) as work:
        for second in range(26):
            clock.now_s = float(second)
            work.tell(second, 25, "2.0 x real time")
    assert said.getvalue().splitlines() == [
        "rendering 4% 2.0 x real time",
        "rendering 44% 2.0 x real time",
        "rendering 84% 2.0 x real time",
    ]


def terminal(stream: io.StringIO, sort: str) -> Console:
    """A console on a terminal of a sort, whatever the tests themselves run in."""
    return Console(file=stream, width=80, force_terminal=True, _environ={"TERM": sort})


def test_on_a_dumb_terminal_plain_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    console = terminal(stream, "dumb")
    monkeypatch.setattr(room, "errors_console", lambda: console)
    clock = Clock()
    with progress("rendering", clock) as work:
        clock.now_s = 2.0
        work.tell(1, 4, "2.0 x real time")
    assert stream.getvalue() == "rendering 25% 2.0 x real time\n"


def test_on_a_terminal_a_bar_that_goes_away(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    console = terminal(stream, "xterm")
    monkeypatch.setattr(room, "errors_console", lambda: console)
    clock = Clock()
    with progress("rendering", clock) as work:
        clock.now_s = 2.0
        work.tell(1, 4, "2.0 x real time")
    text = stream.getvalue()
    assert "rendering" in text
    assert "25 %" in text
    assert text.rstrip("\r\n").endswith(("\x1b[2K", "\x1b[?25h"))  # wiped, the cursor shown again
