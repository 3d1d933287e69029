"""`demo`: copied whole or not at all, never over what somebody has changed, and heard."""

import shutil
from pathlib import Path

import pytest
import soundfile

from rigproof.cli.commands import demo as room
from rigproof.cli.commands.demo import NAME, best_bar, copy_demo
from rigproof.cli.loading import open_project
from rigproof.cli.screen import BAD_INPUT, FINE, command_name
from tests.cli.conftest import Call


def files_of(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }


def test_the_demo_is_copied_proved_heard_and_goes_on(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second of it, so that this test is quick; the words and the order are those of the whole."""
    monkeypatch.chdir(tmp_path)
    answer = call("demo", "--seconds", "1")
    assert answer.code == FINE, answer.out + answer.err
    out = answer.out
    places = [
        out.index(words)
        for words in (
            f"The demo rig now stands in {NAME}.",
            "Low Tide Radio · ",
            "Nothing here would stop the show",
            f"{NAME}/{NAME}.wav ",
            "LUFS integrated",
            "This was 1 second of 12 minutes.",
            "  rigproof trace ",
            "  rigproof volts ",
            "  rigproof render ",
        )
    ]
    assert places == sorted(places)
    data, rate = soundfile.read(tmp_path / NAME / f"{NAME}.wav")
    assert (len(data), rate) == (48_000, 48_000)
    assert 0.001 < abs(data).max() < 1.0

    patch = tmp_path / NAME / f"{NAME}.patch.toml"
    patch.write_text(patch.read_text("utf-8") + "# mine\n", "utf-8")
    again = call("demo", "--seconds", "0.5", "--json")
    assert again.data["is_copied"] is False
    assert patch.read_text("utf-8").endswith("# mine\n")
    assert again.data["render"]["seconds"] == 0.5
    assert set(again.data) == {
        "format",
        "command",
        "folder",
        "is_copied",
        "proof",
        "render",
        "next",
    }
    for command in again.data["next"][:2]:
        words = command.replace("--seconds 10", "--seconds 0.1").split()[1:]
        assert call(*words).code == FINE, command


def test_what_stands_there_is_used_and_never_overwritten(
    call: Call, bench: Path, tmp_path: Path
) -> None:
    before = files_of(bench)
    answer = call("demo", bench, "--seconds", "0.5")
    assert answer.code == FINE
    assert "used as it is, nothing overwritten" in answer.out
    assert "Test bench" in answer.out
    after = files_of(bench)
    assert after.pop(f"{NAME}.wav")
    assert after == before


def test_the_copy_is_whole_and_holds_no_code(tmp_path: Path) -> None:
    assert copy_demo(tmp_path / "deep" / "in" / "demo") is True
    copied = files_of(tmp_path / "deep" / "in" / "demo")
    packaged = files_of(Path(room.__file__).parents[2] / "demo" / NAME)
    assert copied == {n: b for n, b in packaged.items() if "__pycache__" not in n}
    assert not any(name.endswith(".py") for name in copied)
    assert copy_demo(tmp_path / "deep" / "in" / "demo") is False


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert copy_demo(tmp_path / "empty") is True
    assert (tmp_path / "empty" / "rig.toml").is_file()


def test_a_copy_that_is_interrupted_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_args: object, **_kwargs: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(shutil, "copytree", stop)
    with pytest.raises(KeyboardInterrupt):
        copy_demo(tmp_path / "demo")
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_way_is_said(call: Call, tmp_path: Path) -> None:
    (tmp_path / "demo").write_text("mine")
    answer = call("demo", tmp_path / "demo")
    assert answer.code == BAD_INPUT
    assert "no folder" in answer.err
    assert (tmp_path / "demo").read_text() == "mine"


def test_the_stretch_crosses_the_middle_of_the_set(bench: Path) -> None:
    """Eight seconds in four bars of two: two seconds about the middle begin at 3 s, in the second bar."""
    opened = open_project(bench)
    assert best_bar(opened, 2.0) == 2
    assert best_bar(opened, 8.0) == 1
    assert best_bar(opened, 100.0) == 1


def test_hints_name_the_command_as_it_is_called_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert command_name() == "rigproof"
    monkeypatch.setattr(shutil, "which", lambda _name: None)
    assert command_name() == "python -m rigproof"
    (tmp_path / "rigproof").write_text("#!/bin/sh\n")
    assert command_name() == "./rigproof"
    monkeypatch.setenv("RIGPROOF_CALLED_AS", "../a b/rigproof")
    assert command_name() == "'../a b/rigproof'"


def test_hints_can_be_typed_whatever_the_folder_is_called(call: Call, tmp_path: Path) -> None:
    answer = call("new", tmp_path / "winter set")
    assert answer.out.splitlines()[-1] == f"  rigproof check '{tmp_path}/winter set'"
