"""`open` and the end of `demo`: what is said, when a browser is opened, and how it ends. No port is listened on."""

from __future__ import annotations

import json
import os
import socket
import sys
import time
import webbrowser
from pathlib import Path
from typing import Any

import pytest

from rigproof.cli import serving
from rigproof.cli.app import run
from rigproof.cli.commands import demo as demo_room
from rigproof.cli.page import SHAPES
from rigproof.cli.screen import BAD_INPUT, FINE
from rigproof.web.server import Ready
from tests.cli.conftest import Call


class NoPort:
    """A socket that listens nowhere."""

    def getsockname(self) -> tuple[str, int]:
        return "127.0.0.1", 45678

    def close(self) -> None:
        return None


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Serving that ends at once by Ctrl-C, and the pages that were shown meanwhile."""
    pages: list[str] = []

    def served(ready: Ready) -> None:
        ready.server.started = True
        time.sleep(0.1)
        raise KeyboardInterrupt

    monkeypatch.setattr(socket, "create_server", lambda *_given, **_more: NoPort())
    monkeypatch.setattr(Ready, "run", served)
    monkeypatch.setattr(webbrowser, "open", pages.append)
    monkeypatch.setenv("DISPLAY", ":0")
    return pages


def test_it_says_where_and_opens_the_page(call: Call, bench: Path, shown: list[str]) -> None:
    answer = call("open", bench)
    assert answer.code == FINE
    assert "bench is open at" in answer.out
    link = next(line.strip() for line in answer.out.splitlines() if "http" in line)
    assert link.startswith("http://127.0.0.1:45678/#")
    assert len(link.partition("#")[2]) == 43
    assert shown == [link]
    assert answer.err.startswith("ended")


def test_no_browser_where_none_is_wanted_or_there(
    call: Call, bench: Path, shown: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert call("open", bench, "--no-browser").code == FINE
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    assert call("open", bench).code == FINE
    assert shown == []
    assert serving.has_browser({}, platform="darwin")
    assert serving.has_browser({"WAYLAND_DISPLAY": "wayland-0"}, platform="linux")


def test_a_browser_that_fails_is_no_trouble(
    call: Call, bench: Path, shown: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_link: str) -> None:
        shown.append("tried")
        raise webbrowser.Error

    monkeypatch.setattr(webbrowser, "open", fail)
    answer = call("open", bench)
    assert (answer.code, shown) == (FINE, ["tried"])
    assert "Traceback" not in answer.err


def test_programs_are_told_in_json(call: Call, bench: Path, shown: list[str]) -> None:
    answer = call("open", bench, "--json", "--no-browser")
    assert answer.code == FINE
    assert set(answer.data) == {"format", "command", *SHAPES["open"]}
    assert answer.data["port"] == 45678
    assert shown == []


def test_a_folder_without_a_project_is_opened_too(
    call: Call, tmp_path: Path, shown: list[str]
) -> None:
    assert call("open", tmp_path / "not" / "yet").code == FINE
    assert not (tmp_path / "not").exists()
    assert len(shown) == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["open", "FOLDER/rig.toml"], "this is no patch"),
        (["open", "FOLDER/no.patch.toml"], "there is no such file"),
        (["open", "FOLDER", "--port", "70000"], "--port cannot be that"),
    ],
)
def test_what_cannot_be_opened(
    call: Call, bench: Path, shown: list[str], words: list[str], said: str
) -> None:
    answer = call(*(word.replace("FOLDER", str(bench)) for word in words))
    assert answer.code == BAD_INPUT
    assert said in answer.err
    assert shown == []


def test_a_port_that_is_taken_is_said(
    call: Call, bench: Path, shown: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken(*_given: Any, **_more: Any) -> NoPort:
        raise OSError(98, "Address already in use")

    monkeypatch.setattr(socket, "create_server", taken)
    answer = call("open", bench, "--port", "5000")
    assert answer.code == BAD_INPUT
    assert "the port cannot be had" in answer.err
    assert shown == []


@pytest.mark.parametrize(
    ("words", "is_terminal", "ci", "count"),
    [
        ([], True, "", 1),
        ([], False, "", 0),
        ([], True, "true", 0),
        (["--no-open"], True, "", 0),
        (["--open"], False, "true", 1),
        (["--json"], True, "", 0),
    ],
)
def test_the_demo_opens_where_a_person_watches(
    bench: Path,
    shown: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    is_terminal: bool,
    ci: str,
    count: int,
) -> None:
    monkeypatch.setenv("CI", ci)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: is_terminal)
    assert run(["demo", str(bench), "--seconds", "0.2", *words]) == FINE
    assert len(shown) == count
    out = capsys.readouterr().out
    if "--json" in words:
        assert json.loads(out)["command"] == "demo"
    else:
        assert out.index("rigproof render") < (out.index("is open at") if count else len(out))


def test_watched_is_a_terminal_and_no_robot(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.delenv("CI", raising=False)
    assert demo_room.is_watched(is_json=False)
    assert not demo_room.is_watched(is_json=True)
    monkeypatch.setitem(os.environ, "CI", "1")
    assert not demo_room.is_watched(is_json=False)
