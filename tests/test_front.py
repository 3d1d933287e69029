"""Building the app's page: which Node.js serves, when a build is due, and what is said when there can be none."""

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from setup import bootstrap, browser, front

ROOT = Path(__file__).resolve().parent.parent


def program(folder: Path, name: str, text: str) -> Path:
    """A program that says a text."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_text(f"#!/bin/sh\ncat <<'END'\n{text}\nEND\n")
    path.chmod(0o755)
    return path


def node_folder(folder: Path, version: str, *, npm: bool = True) -> Path:
    """A folder laid out like an installed Node.js; returns what belongs on the PATH."""
    node = folder / "bin" / "node"
    program(folder / "bin", "node", f"{node}\n{version}")
    if npm:
        cli = folder / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
        cli.parent.mkdir(parents=True)
        cli.touch()
    return folder / "bin"


@pytest.mark.parametrize(
    ("version", "serves"),
    [
        ("18.20.4", False),
        ("20.18.3", False),
        ("20.19.0", True),
        ("21.7.0", False),
        ("22.11.0", False),
        ("22.12.0", True),
        ("23.9.0", False),
        ("24.0.0", True),
        ("26.1.0", True),
    ],
)
def test_the_systems_node_serves_where_the_tools_run_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, version: str, serves: bool
) -> None:
    """What Vite, Vitest and the Svelte plugin state as `engines` in package-lock.json, together."""
    monkeypatch.setenv("PATH", f"{node_folder(tmp_path, version)}:/usr/bin:/bin")
    found = front.system_node()
    assert (found is not None) is serves
    if found:
        assert found[0] == tmp_path / "bin" / "node"
        assert found[1].name == "npm-cli.js"


def test_a_node_without_npm_does_not_serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = node_folder(tmp_path, "24.1.0", npm=False)
    (path / "cat").symlink_to(shutil.which("cat") or "")
    monkeypatch.setenv("PATH", str(path))
    assert front.system_node() is None


def test_a_broken_node_does_not_serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program(tmp_path / "bin", "node", "no such thing")
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:/usr/bin:/bin")
    assert front.system_node() is None


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a page's source in which nothing is built, and makers that only leave what is looked for."""
    ui = tmp_path / "ui"
    ui.mkdir()
    for name in ("package.json", "package-lock.json", ".npmrc", "index.html"):
        (ui / name).write_text(name)
    shutil.copytree(ROOT / "locks", tmp_path / "locks")
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    monkeypatch.setattr(bootstrap, "STAMPS", tmp_path / "stamps")
    monkeypatch.setattr(front, "UI", ui)
    monkeypatch.setattr(front, "NODE", tmp_path / "node")
    monkeypatch.setattr(front, "MODULES", ui / "node_modules")
    monkeypatch.setattr(front, "INDEX", tmp_path / "page" / "index.html")
    monkeypatch.setattr(front, "make_node", front.NODE.touch)

    def make_packages() -> None:
        front.MODULES.mkdir(exist_ok=True)
        (front.MODULES / ".package-lock.json").touch()

    def make_page() -> None:
        front.INDEX.parent.mkdir(exist_ok=True)
        front.INDEX.touch()

    monkeypatch.setattr(front, "make_packages", make_packages)
    monkeypatch.setattr(front, "make_page", make_page)
    return tmp_path


def due() -> list[str]:
    """The names of the steps that are due."""
    return [step.name for step in bootstrap.not_done(front.steps())]


def test_a_page_is_built_anew_when_its_source_changes_and_not_before(folder: Path) -> None:
    assert due() == ["node", "page-packages", "page"]
    front.set_up(until="page-packages")
    assert due() == ["page"]
    front.set_up()
    (front.MODULES / "x.js").touch()  # what is installed is no source
    assert due() == []
    (front.UI / "index.html").write_text("changed")
    assert due() == ["page"]
    front.set_up()
    (front.UI / "new.ts").touch()
    assert due() == ["page"]
    front.set_up()
    (front.UI / "package-lock.json").write_text("changed")
    assert due() == ["page-packages", "page"]
    front.set_up()
    with (folder / "locks" / "node.txt").open("a") as lock:
        lock.write("# changed\n")
    assert due() == ["node", "page-packages", "page"]
    front.set_up()
    assert due() == []


def test_what_is_lost_is_made_again(folder: Path) -> None:
    front.set_up()
    front.INDEX.unlink()
    assert due() == ["page"]
    shutil.rmtree(front.MODULES)
    assert due() == ["page-packages", "page"]


def test_another_node_on_the_path_is_noticed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    front.set_up()
    monkeypatch.setenv("PATH", str(node_folder(folder / "other", "24.1.0")))
    assert due() == ["node", "page-packages", "page"]


@pytest.mark.parametrize(
    ("words", "shows"),
    [
        (["open", "lowtide"], True),
        (["demo"], True),
        (["demo", "here", "--no-open"], False),
        (["open", "--json"], True),
        (["open", "--help"], False),
        (["check", "open"], False),
        ([], False),
    ],
)
def test_only_commands_that_show_the_page_wait_for_it(words: list[str], shows: bool) -> None:
    assert bootstrap.shows_page(["-P", "-m", "rigproof", *words]) is shows


def test_a_page_that_cannot_be_built_stops_nothing_and_says_why(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """The packages' step fails as npm does without a network; rigproof is started all the same."""

    def no_network() -> None:
        bootstrap.run(
            sys.executable, "-c", "print('npm error code ENOTFOUND'); raise SystemExit(1)"
        )

    started: list[list[str]] = []
    monkeypatch.setattr(front, "make_packages", no_network)
    monkeypatch.setattr(bootstrap, "set_up", lambda level: None)
    monkeypatch.setattr(os, "execv", lambda path, words: started.append(words))
    start: Callable[[str, list[str]], None] = bootstrap.main  # here it does return
    start("runtime", ["-P", "-m", "rigproof", "demo"])
    said = capfd.readouterr().err
    assert "page could not be built" in said
    assert "ENOTFOUND" in said
    assert "network" in said
    assert [words[1:] for words in started] == [["-P", "-m", "rigproof", "demo"]]


@pytest.mark.slow
def test_npm_without_a_network_says_so_and_names_no_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The real npm, sent to a port where nobody listens: that of the discard service (RFC 863)."""
    ui = tmp_path / "ui"
    ui.mkdir()
    for name in ("package.json", "package-lock.json", ".npmrc"):
        shutil.copy(front.UI / name, ui)
    front.set_up(until="node")
    monkeypatch.setattr(front, "UI", ui)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("npm_config_registry", "http://127.0.0.1:9/")
    with pytest.raises(bootstrap.SetupError) as caught:
        front.make_packages()
    assert "network" in str(caught.value)
    assert "://" not in str(caught.value)
    assert "127.0.0.1" not in str(caught.value)


def test_npm_keeps_downloads_where_it_can_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("npm_config_cache", raising=False)
    monkeypatch.delenv("NPM_CONFIG_CACHE", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert front.npm_cache() == tmp_path / ".npm"
    (tmp_path / "file").touch()
    monkeypatch.setenv("HOME", str(tmp_path / "file"))
    assert front.npm_cache() == bootstrap.VENV / "npm-cache"


def test_a_build_does_not_depend_on_what_the_shell_has_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NODE_ENV", "development")
    monkeypatch.setenv("VITE_X", "1")
    assert not {"NODE_ENV", "VITE_X"} & set(front.plain_environment())


def test_a_failing_part_fails_the_gate_and_shows_why(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    parts = (front.Part("good", lambda: ""), front.Part("bad", lambda: "a.ts: 3 errors"))
    monkeypatch.setattr(front, "set_up", lambda **_: None)
    monkeypatch.setattr(front, "PARTS", parts)
    assert front.main([]) == 1
    said = capfd.readouterr().out
    assert "ok    good" in said
    assert "FAIL  bad" in said
    assert "a.ts: 3 errors" in said
    assert front.main(["good"]) == 0
    assert front.main(["goood"]) == 2


def test_the_browser_is_the_one_named_or_one_on_the_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(browser, "FETCHED", tmp_path / "fetched")
    monkeypatch.delenv(browser.SETTING, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert browser.find() is None
    fetched = program(tmp_path / "fetched" / "chromium-1" / "chrome-linux", "chrome", "")
    assert browser.find() == fetched
    on_path = program(tmp_path, "chromium-browser", "")
    assert browser.find() == on_path
    named = program(tmp_path / "mine", "a browser", "")
    monkeypatch.setenv(browser.SETTING, str(named))
    assert browser.find() == named
    monkeypatch.setenv(browser.SETTING, str(tmp_path / "gone"))
    with pytest.raises(bootstrap.SetupError):
        browser.find()


def test_no_browser_to_be_had_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def fails() -> None:
        raise bootstrap.SetupError("no network")

    monkeypatch.setattr(browser, "FETCHED", tmp_path)
    monkeypatch.setattr(browser, "fetch", fails)
    monkeypatch.setattr(browser, "install_package", fails)
    monkeypatch.delenv(browser.SETTING, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert browser.main() == 1
    said = capfd.readouterr().out
    assert "apt-get install chromium" in said
    assert "no network" in said
