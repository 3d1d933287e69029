"""Where a folder was served last: private, soon forgotten, and trusted only where nobody else can have written it."""

import json
import os
import stat
import time
from pathlib import Path
from typing import Any

import pytest

from rigproof.web.api.keys import Keys
from rigproof.web.remembered import KEPT_S, Remembered, file_of, recall, remember, state_folder

KEY = Keys().cookie


def test_what_is_kept_comes_back(tmp_path: Path) -> None:
    assert recall(tmp_path) is None
    assert remember(tmp_path, 34567, KEY)
    assert recall(tmp_path) == Remembered(34567, KEY)
    assert recall(tmp_path / "other") is None
    (tmp_path / "link").symlink_to(tmp_path)
    assert recall(tmp_path / "link") == Remembered(34567, KEY)  # the same folder by another name
    assert remember(tmp_path, 34568, KEY)
    assert recall(tmp_path) == Remembered(34568, KEY)


def test_only_its_owner_may_read_it(tmp_path: Path) -> None:
    old = os.umask(0)
    try:
        remember(tmp_path, 34567, KEY)
    finally:
        os.umask(old)
    file = file_of(tmp_path)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    assert [p.name for p in state_folder().iterdir()] == [file.name]


def test_it_is_forgotten_after_a_day(tmp_path: Path) -> None:
    remember(tmp_path, 34567, KEY)
    now_s = time.time()
    assert recall(tmp_path, now_s=now_s + KEPT_S - 60) is not None
    assert recall(tmp_path, now_s=now_s + KEPT_S + 60) is None
    assert (
        recall(tmp_path, now_s=now_s - 3600) is None
    )  # a time to come proves a clock that was turned


@pytest.mark.parametrize(
    "changed",
    [{"port": 80}, {"port": "34567"}, {"port": 70000}, {"port": True}, {"cookie": "short"}, {"cookie": 5},
     {"cookie": "k" * 43 + "\n"}, {"at_s": "now"}, {"at_s": None}],
    ids=str,
)  # fmt: skip
def test_what_is_no_such_thing_is_not_taken(tmp_path: Path, changed: dict[str, Any]) -> None:
    remember(tmp_path, 34567, KEY)
    file = file_of(tmp_path)
    file.write_text(json.dumps(json.loads(file.read_text()) | changed))
    assert recall(tmp_path) is None


def test_what_others_could_have_written_is_not_trusted(tmp_path: Path) -> None:
    remember(tmp_path, 34567, KEY)
    file = file_of(tmp_path)
    file.chmod(0o640)
    assert recall(tmp_path) is None
    file.chmod(0o600)
    assert recall(tmp_path) is not None
    file.rename(tmp_path / "elsewhere.json")
    file.symlink_to(tmp_path / "elsewhere.json")
    assert recall(tmp_path) is None
    file.unlink()
    file.write_bytes(b"{" * 10_000)
    file.chmod(0o600)
    assert recall(tmp_path) is None


def test_a_place_that_cannot_be_written_is_no_trouble(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    assert remember(tmp_path, 34567, KEY) is False
    assert recall(tmp_path) is None
