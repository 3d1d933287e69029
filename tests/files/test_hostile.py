"""Files that mean harm, or are no files at all: one clear error each, no traceback, in bounded time and memory."""

import os
import re
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.errors import FileError
from rigproof.files.load import Loaded, load_project
from rigproof.files.shapes import CABLES_LIMIT
from rigproof.files.text import TEXT_LIMIT_BYTES
from tests.files.projects import PATCH, copy_tidepool, spoil

SOURCE = Path(__file__).resolve().parent.parent.parent / "src"


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return copy_tidepool(tmp_path)


def only_error(loaded: Loaded) -> FileError:
    [error] = loaded.errors
    assert isinstance(error, FileError)
    assert loaded.project is None
    return error


def replace_by(make: Callable[[Path], object]) -> Callable[[Path], object]:
    def change(path: Path) -> None:
        path.unlink()
        make(path)

    return change


FOUL: dict[str, tuple[Callable[[Path], object], str, int | None]] = {
    "no UTF-8": (lambda path: path.write_bytes(b"format = 1\nname = '\xff'\n"), "not UTF-8", 2),
    "UTF-16": (lambda path: path.write_bytes("format = 1\n".encode("utf-16")), "not UTF-8", 1),
    "a picture": (lambda path: path.write_bytes(b"\x89PNG\r\n\x1a\n\0\0"), "not UTF-8", 1),
    "NUL": (lambda path: path.write_bytes(b"format = 1\n\0\0\0"), "not TOML", 2),
    "empty": (lambda path: path.write_bytes(b""), "does not say its format", None),
    "brackets": (lambda path: path.write_bytes(b"a = " + b"[" * 900_000), "too deep", 1),
    "tables": (lambda path: path.write_bytes(b"a = " + b"{a=" * 300_000), "too deep", 1),
    "too large": (lambda path: path.write_bytes(b"#" * 10_000_000), "too large", None),
    "huge but empty": (lambda path: os.truncate(path, 10**12), "too large", None),
    "dotted": (lambda path: path.write_bytes(b"a" + b".a" * 400_000 + b" = 1"), "many parts", 1),
    "digits": (
        lambda path: path.write_bytes(b"format = " + b"9" * 900_000),
        "cannot be read",
        None,
    ),
    "a folder": (replace_by(lambda path: path.mkdir()), "no file", None),
    "a pipe": (replace_by(os.mkfifo), "no file", None),
    "missing": (replace_by(lambda path: None), "no such file", None),
    "a link that leads nowhere": (
        replace_by(lambda path: path.symlink_to("nothing.toml")),
        "no such file",
        None,
    ),
    "a link in a circle": (replace_by(lambda path: path.symlink_to(path.name)), "nowhere", None),
    "a link out": (
        replace_by(lambda path: path.symlink_to("/etc/passwd")),
        "leads out of the project folder",
        None,
    ),
    "a device": (replace_by(lambda path: path.symlink_to("/dev/zero")), "leads out", None),
}


@pytest.mark.parametrize("file", ["rig.toml", PATCH, "modules/drift.toml"])
@pytest.mark.parametrize("case", FOUL)
def test_a_foul_file_is_one_clear_error(project: Path, file: str, case: str) -> None:
    change, says, line = FOUL[case]
    change(project / file)
    if case == "missing" and file != "rig.toml":
        pytest.skip(
            "a folder without a patch is a rig alone, and a missing sheet is an unknown name"
        )
    start = time.process_time()
    error = (load_project(project).errors)[0]
    assert time.process_time() - start < 2.0
    assert says in error.problem
    assert (error.where.file, error.where.line) == (file, line)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(project: Path) -> None:
    good = load_project(project).require_project()
    path = project / PATCH
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load_project(project).require_project() == good


def test_a_link_inside_the_folder_is_followed(project: Path) -> None:
    (project / "rig.toml").rename(project / "real.toml")
    (project / "rig.toml").symlink_to("real.toml")
    assert load_project(project).errors == ()


def test_a_file_that_may_not_be_read_says_so(project: Path) -> None:
    (project / "rig.toml").chmod(0)
    if os.access(project / "rig.toml", os.R_OK):
        pytest.skip("this user may read everything")
    assert "may not be read" in only_error(load_project(project)).problem


def test_refused_permission_is_told(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As above, also for a user who may read everything."""

    def refuse(path: Path, flags: int) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("rigproof.files.text.os.open", refuse)
    error = load_project(project).errors[0]
    assert "may not be read" in error.problem


@pytest.mark.parametrize(
    "path",
    [
        "missing",
        "missing.patch.toml",
        "a\0b",
        "x" * 5000,
        "rig.toml",
        "modules",
        "modules/drift.toml",
    ],
    ids=lambda path: path[:20].encode("unicode_escape").decode(),
)
def test_a_path_that_is_no_project_is_one_error(project: Path, path: str) -> None:
    error = only_error(load_project(project / path))
    assert error.problem in (
        "there is no such file or folder",
        "there is no such file",
        "this is no patch",
        "the folder holds no project",
    )


def test_a_mistyped_folder_is_suggested(project: Path) -> None:
    assert only_error(load_project(project.parent / "tidepol")).nearest == "tidepool"


def test_a_patch_that_has_gone_leaves_the_rig_and_is_no_set(project: Path) -> None:
    whole = load_project(project).require_project()
    (project / PATCH).unlink()
    loaded = load_project(project / PATCH)
    error = only_error(loaded)
    assert (error.where.file, error.problem, error.nearest) == (
        PATCH,
        "there is no such file",
        None,
    )
    assert (error.found, str(error.expected).endswith(f"tidepool/{PATCH}")) == (None, True)
    assert loaded.partial is not None
    assert loaded.partial.rig == whole.rig
    assert not loaded.is_patch_read


def test_a_mistyped_patch_is_suggested(project: Path) -> None:
    assert only_error(load_project(project / "tidpool.patch.toml")).nearest == PATCH


def test_too_many_cables_are_refused_in_words(project: Path) -> None:
    with (project / PATCH).open("w", encoding="utf-8") as patch:
        patch.write("format = 1\ncables = [\n")
        patch.writelines('{from="a.b",to="c.d"},\n' for _ in range(CABLES_LIMIT + 1))
        patch.write("]\n")
    [error] = load_project(project).errors
    assert (error.found, error.expected) == ("5,001", "at most 5,000")
    assert (error.where.line, error.where.key) == (2, "cables")


def test_a_million_cables_are_refused_at_once(project: Path) -> None:
    (project / PATCH).write_text(
        "format = 1\ncables = [" + '{from="a.b",to="c.d"},' * 1_000_000 + "]"
    )
    start = time.process_time()
    error = load_project(project).errors[0]
    assert time.process_time() - start < 0.5
    assert error.expected == f"at most {TEXT_LIMIT_BYTES:,} bytes"


ESCAPES = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("seed = 7", 'seed = "\\u001b]0;gotcha\\u0007"'),
        ("seed = 7", '"\\u001b[2J" = 1'),
        ("seed = 7", 'name = "\\u202Exe.lmot"'),
        ('"submix.level"', '"\\u009b31msubmix.level"'),
        ('"desk.left"', '"desk.\\u001b[31mleft"'),
        ("seed = 7", "seed = \x1b[31m7"),
        ("seed = 7", "seed = 7 # \x1b[31m"),
        ("seed = 7", "\x1b[31mseed = 7"),
        ("seed = 7", 'rig = "rig\\u001b.toml"'),
    ],
)
def test_no_message_carries_an_escape_to_the_terminal(project: Path, old: str, new: str) -> None:
    spoil(project, PATCH, old, new)
    loaded = load_project(project)
    assert loaded.errors
    for error in loaded.errors:
        assert not ESCAPES.search(str(error))


def test_no_file_name_carries_an_escape_to_the_terminal(project: Path) -> None:
    for name in ("a\x1b[31m.patch.toml", "b\x1b[31m.patch.toml"):
        (project / name).write_text("format = 1\n")
    (project / PATCH).unlink()
    loaded = load_project(project)
    assert not ESCAPES.search(str(loaded.errors[0]))
    loaded = load_project(project / "a\x1b[31m.patch.toml")
    assert loaded.project is not None
    assert not ESCAPES.search(loaded.project.patch.name)


SAMPLES = {
    "missing": ("samples/dorp.wav", "there is no such sample", "drop.wav"),
    "out": ("../drop.wav", "not of the right sort", None),
    "absolute": ("/etc/passwd", "not of the right sort", None),
    "drive": ("C:/drop.wav", "not of the right sort", None),
    "backslash": ("samples\\\\drop.wav", "not of the right sort", None),
    "NUL": ("samples/\\u0000", "not of the right sort", None),
    "a link out": ("samples/out.wav", "leads out of the project folder", None),
    "a folder": ("samples", "there is no such sample", None),
    "a pipe": ("samples/pipe.wav", "there is no such sample", None),
}


@pytest.mark.parametrize("case", SAMPLES)
def test_a_foul_sample_is_one_clear_error(project: Path, case: str) -> None:
    name, says, nearest = SAMPLES[case]
    samples = project / "samples"
    samples.mkdir()
    (samples / "drop.wav").write_bytes(b"RIFF, unheard")
    (samples / "out.wav").symlink_to("/etc/passwd")
    os.mkfifo(samples / "pipe.wav")
    spoil(
        project,
        PATCH,
        "[settings]",
        f'[samples]\ndrift.bank = ["samples/drop.wav", "{name}"]\n[settings]',
    )
    [error] = load_project(project).errors
    assert says in error.problem
    assert (error.where.file, error.where.line) == (PATCH, 16)
    if nearest is not None:
        assert error.nearest == nearest


def test_memory_stays_bounded(project: Path) -> None:
    """The worst text of the allowed size, in a process of its own that may not grow beyond 400 MB."""
    entry = b"{from={a=[[],[]],b={c=1}}},\n"
    worst = b"format = 1\ncables = [" + entry * (TEXT_LIMIT_BYTES // len(entry) - 10) + b"]"
    (project / PATCH).write_bytes(worst)
    code = f"""
import resource, sys
sys.path.insert(0, {str(SOURCE)!r})
from rigproof.files.load import load_project
resource.setrlimit(resource.RLIMIT_AS, (400_000_000, 400_000_000))
print([str(error) for error in load_project({str(project)!r}).errors])
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "too many entries" in done.stdout
