"""Whatever happens while a file is written, there is the old file or the new one."""

import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from rigproof.errors import FileError
from rigproof.files.atomic import write_whole
from rigproof.files.edit import save_text

SOURCE = Path(__file__).resolve().parent.parent.parent / "src"
OLD = b"old\n" * 20_000
NEW = b"new, and longer\n" * 20_000
STEPS = ("open", "fsync", "chmod", "replace", "fdopen")
"""The calls of `os` that a write makes; each of them can fail, every time it is made."""


def test_a_file_is_made_and_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    for data in (OLD, NEW, b""):
        write_whole(path, data, tmp_path)
        assert path.read_bytes() == data
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("nth", [1, 2])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_step_that_fails_leaves_the_old_file_or_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, nth: int, error: BaseException
) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(OLD)
    real, calls = getattr(os, step), 0

    def failing(*args: Any, **kwargs: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls == nth:
            raise error
        return real(*args, **kwargs)

    monkeypatch.setattr(os, step, failing)
    told: BaseException | None = None
    try:
        write_whole(path, NEW, tmp_path)
    except (FileError, KeyboardInterrupt) as caught:
        told = caught
    monkeypatch.undo()
    allowed = {type(None): {NEW}, FileError: {OLD}, KeyboardInterrupt: {OLD, NEW}}
    assert path.read_bytes() in allowed[type(told)]
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]


def test_a_killed_process_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    """A process writes the two contents in turn and is killed at a random moment, many times."""
    path = tmp_path / "a.toml"
    path.write_bytes(OLD)
    code = f"""
import sys
sys.path.insert(0, {str(SOURCE)!r})
from pathlib import Path
from rigproof.files.atomic import write_whole
path, folder = Path({str(path)!r}), Path({str(tmp_path)!r})
old, new = {OLD[:4]!r} * 20_000, {NEW[:16]!r} * 20_000
print("ready", flush=True)
while True:
    write_whole(path, new, folder)
    write_whole(path, old, folder)
"""
    dice = random.Random(1)
    seen: set[bytes] = set()
    for kills in range(80):  # on a busy machine it takes longer until both have been seen
        if kills >= 12 and len(seen) == 2:
            break
        with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None
            writer.stdout.readline()
            time.sleep(dice.uniform(0.0, 0.05))
            writer.send_signal(signal.SIGKILL)
        seen.add(path.read_bytes())
        assert seen <= {OLD, NEW}
    assert seen == {OLD, NEW}, "no write was ever finished"
    # What a killed write leaves lying is hidden and no project file.
    assert all(p.suffix == ".part" and p.name[0] == "." for p in tmp_path.iterdir() if p != path)


def test_a_reader_meets_a_whole_file_at_any_moment(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(OLD)
    code = f"""
import sys
sys.path.insert(0, {str(SOURCE)!r})
from pathlib import Path
from rigproof.files.atomic import write_whole
path, folder = Path({str(path)!r}), Path({str(tmp_path)!r})
for _ in range(60):
    write_whole(path, {NEW[:16]!r} * 20_000, folder)
    write_whole(path, {OLD[:4]!r} * 20_000, folder)
"""
    seen = set()
    with subprocess.Popen([sys.executable, "-c", code]) as writer:
        while writer.poll() is None:
            seen.add(path.read_bytes())
    assert seen == {OLD, NEW}


def test_permissions_stay(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(OLD)
    path.chmod(0o640)
    write_whole(path, NEW, tmp_path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_gets_the_usual_permissions(tmp_path: Path) -> None:
    (tmp_path / "usual").touch()
    write_whole(tmp_path / "a.toml", NEW, tmp_path)
    assert (tmp_path / "a.toml").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_nothing_is_written_through_a_link_out_of_the_folder(tmp_path: Path) -> None:
    folder, outside = tmp_path / "in", tmp_path / "outside.toml"
    folder.mkdir()
    outside.write_bytes(OLD)
    (folder / "a.toml").symlink_to(outside)
    (folder / "sub").symlink_to(tmp_path)
    for name in ("a.toml", "sub/outside.toml", "../outside.toml"):
        with pytest.raises(FileError) as caught:
            write_whole(folder / name, NEW, folder)
        assert "leads out" in caught.value.problem
    assert outside.read_bytes() == OLD


def test_a_link_inside_the_folder_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.toml").write_bytes(OLD)
    (tmp_path / "a.toml").symlink_to("real.toml")
    write_whole(tmp_path / "a.toml", NEW, tmp_path)
    assert (tmp_path / "a.toml").is_symlink()
    assert (tmp_path / "real.toml").read_bytes() == NEW


@pytest.mark.parametrize("name", ["sub", "missing/a.toml"])
def test_what_is_no_place_for_a_file_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / "sub").mkdir()
    with pytest.raises(FileError):
        write_whole(tmp_path / name, NEW, tmp_path)


@pytest.mark.parametrize("text", ["format =", "a = " + "[" * 100, "#" * 2_000_000, "# \ud800"])
def test_what_could_not_be_loaded_again_is_not_saved(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(OLD)
    with pytest.raises(FileError):
        save_text(path, text, tmp_path)
    assert path.read_bytes() == OLD


def test_a_folder_that_has_gone_is_what_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "harbour"
    with pytest.raises(FileError, match=r"^harbour: this folder is not there any more"):
        write_whole(folder / ".step.json", NEW, folder)
    assert not folder.exists()
