"""The frame: exit codes, names that are mistyped, and what becomes of errors of every sort."""

import errno
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from rigproof import __version__
from rigproof.cli import app
from rigproof.cli.app import COMMANDS
from rigproof.cli.screen import BAD_INPUT, FINE, STOPPED, UNREAD
from rigproof.errors import RigError, Where
from tests.cli.conftest import Call

ROOT = Path(__file__).resolve().parents[2]


def test_help_lists_every_command(call: Call) -> None:
    answer = call("--help")
    assert answer.code == FINE
    for name, _, about in COMMANDS:
        assert f"{name}: " in answer.out
        assert about.split()[0] in answer.out
    assert call().out == answer.out


@pytest.mark.parametrize("name", [name for name, _, _ in COMMANDS])
def test_every_command_has_help(call: Call, name: str) -> None:
    answer = call(name, "--help")
    assert answer.code == FINE
    assert answer.out.startswith(f"Usage: rigproof {name}")
    assert all(len(line) <= 80 for line in answer.out.splitlines())


def test_version(call: Call) -> None:
    assert call("--version").out.strip() == f"rigproof {__version__}"


@pytest.mark.parametrize(
    ("words", "nearest"),
    [
        (["chek"], "'check'"),
        (["rendr"], "'render'"),
        (["kinds", "mixr"], "'mixer'"),
        (["kinds", "--jsn"], "'--json'"),
        (["explain", "rail-overload"], "'rail-overloaded'"),
        (["schema", "pach"], "'patch'"),
    ],
)
def test_a_mistyped_name_brings_the_nearest(call: Call, words: list[str], nearest: str) -> None:
    answer = call(*words)
    assert answer.code == BAD_INPUT
    assert answer.out == ""
    assert nearest in answer.err


def test_names_of_the_rig_are_suggested_too(call: Call, bench: Path) -> None:
    for words, nearest in (
        (["volts", bench, "--jack", "voice.sin"], "'voice.sine'"),
        (["volts", bench, "--module", "voyce"], "'voice'"),
        (["trace", "voice.levl", "--in", bench], "'voice.level'"),
        (["render", bench, "--section", "lowd"], "'loud'"),
        (["render", bench, "--stem", "voice.saww"], "'voice.saw'"),
    ):
        answer = call(*words)
        assert (answer.code, nearest in answer.err) == (BAD_INPUT, True), (words, answer.err)


@pytest.mark.parametrize(
    "words",
    [
        ["check", "a", "b"],
        ["trace"],
        ["new"],
        ["render", "--seconds", "soon"],
        ["render", "--bits", "12"],
        ["check", "\0"],
        ["check", "no\x1b[2Jwhere"],
    ],
)
def test_bad_words_are_bad_input_and_no_traceback(call: Call, words: list[str]) -> None:
    answer = call(*words)
    assert answer.code == BAD_INPUT
    assert answer.err.strip()
    assert "Traceback" not in answer.err
    assert "\x1b" not in answer.err


@pytest.mark.parametrize(
    "words", [["chek", "--json"], ["check", "nowhere", "--json"], ["kinds", "mixr", "--json"]]
)
def test_errors_for_programs_are_data(call: Call, words: list[str]) -> None:
    answer = call(*words)
    assert answer.code == BAD_INPUT
    assert answer.err == ""
    assert (answer.data["format"], answer.data["command"]) == (1, "error")
    for error in answer.data["errors"]:
        assert set(error) == {
            "sort", "file", "line", "key", "problem", "found", "expected", "known", "nearest",
        }  # fmt: skip


def test_a_single_error_has_all_its_parts(
    call: Call, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail() -> None:
        raise RigError(
            Where("rig.toml", 7, "module[0].id"),
            "no such thing",
            found="'a\x1b[2J'",
            expected="'b'",
            known=("b", "c"),
            nearest="b",
        )

    monkeypatch.setattr(app, "make_app", lambda: lambda *_args, **_kwargs: fail())
    assert app.run([]) == BAD_INPUT
    said = capsys.readouterr().err
    assert said == (
        "rig.toml line 7, module[0].id: no such thing\n"
        "         found  'a\\x1b[2J'\n"
        "      expected  'b'\n"
        "         known  b, c\n"
        "  did you mean  'b'?\n"
    )


def test_our_own_bugs_keep_their_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(app, "make_app", lambda: lambda *_args, **_kwargs: fail())
    with pytest.raises(ZeroDivisionError):
        app.run([])


def test_control_c_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(app, "make_app", lambda: lambda *_args, **_kwargs: stop())
    assert app.run([]) == STOPPED
    assert capsys.readouterr().err.startswith("stopped")


@pytest.mark.parametrize("words", [["kinds", "--json"], ["kinds"], ["--help"]], ids=" ".join)
def test_a_reader_that_goes_away_is_no_error(words: list[str]) -> None:
    """`rigproof kinds | head -1`: the shell's exit code for a broken pipe, and not a word."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "rigproof", *words],
        stdout=writing,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        check=False,
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (UNREAD, b"")


def test_help_is_there_where_no_columns_are() -> None:
    """Some that start commands say `COLUMNS=0`."""
    done = subprocess.run(
        [sys.executable, "-m", "rigproof", "--help"],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src"), "COLUMNS": "0"},
        check=False,
    )
    assert done.returncode == FINE
    assert "new-sheet" in done.stdout


def test_output_into_a_full_disk_is_told_in_a_line(bench: Path) -> None:
    """And not with exit code 1, which says that a finding would stop the show."""
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    for more in ([], ["--json"]):
        with full.open("w") as stream:
            done = subprocess.run(
                [sys.executable, "-m", "rigproof", "check", str(bench), *more],
                stdout=stream,
                stderr=subprocess.PIPE,
                text=True,
                env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
                check=False,
            )
        said = f"the output cannot be written\n         found  {os.strerror(errno.ENOSPC)}\n"
        assert (done.returncode, done.stderr) == (BAD_INPUT, said)


def test_closed_streams_do_no_harm(bench: Path) -> None:
    done = subprocess.run(
        [
            "sh", "-c", '"$0" -m rigproof check "$1" >&- && "$0" -m rigproof check "$1" 2>&-',
            sys.executable, bench,
        ],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (FINE, "")
    assert done.stdout.startswith("Test bench")


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_asked_to_end_it_cleans_up(name: str, tmp_path: Path) -> None:
    """A closed terminal leaves no half of a file: the signal unwinds every `with`."""
    text = (
        "import os, signal, sys, pathlib\n"
        "from rigproof.cli import app\n"
        "from rigproof.files.audio_out import SoundWriter\n"
        "def stop(*_a, **_k):\n"
        "    with SoundWriter(pathlib.Path(sys.argv[1]), rate_hz=48000, channels=1):\n"
        "        assert len(os.listdir(os.path.dirname(sys.argv[1]))) == 1\n"
        f"        os.kill(os.getpid(), signal.{name})\n"
        "        signal.pause()\n"
        "app.make_app = lambda: stop\n"
        "app.main([])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", text, str(tmp_path / "a.wav")],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        check=False,
        timeout=30,
    )
    assert (done.returncode, done.stderr) == (128 + getattr(signal, name), "")
    assert list(tmp_path.iterdir()) == []


def test_a_word_too_many_is_told(call: Call, bench: Path) -> None:
    answer = call("check", bench, "extra", "words")
    assert answer.err.splitlines()[:2] == [
        "there are more words than the command takes",
        "         found  'extra words'",
    ]


def test_a_terminal_without_our_signs_shows_others(bench: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "rigproof", "check", str(bench)],
        capture_output=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src"), "PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert done.returncode == FINE, done.stderr.decode()
    assert done.stdout.decode("ascii").startswith("Test bench")
    assert "----" in done.stdout.decode("ascii")


def test_json_never_holds_what_json_does_not_know() -> None:
    from fractions import Fraction

    from rigproof.cli.screen import plain_data

    data = plain_data({"a": float("-inf"), "b": Fraction(1, 3), "c": (1, Path("x")), 4: None})
    assert json.dumps(data, allow_nan=False) == '{"a": null, "b": "1/3", "c": [1, "x"], "4": null}'
    with pytest.raises(TypeError):
        plain_data(object())
