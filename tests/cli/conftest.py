"""The command line run in process: words in, exit code and text out."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from rigproof.cli.app import run
from tests.cli.rigs import write_rig


@dataclass(frozen=True)
class Answer:
    """What a command said."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """The answer as a program reads it."""
        import json

        return json.loads(self.out)


Call = Callable[..., Answer]


@pytest.fixture(autouse=True)
def _plain_surroundings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of the terminal that the tests are run from shows in what commands print."""
    for name in ("COLUMNS", "NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(shutil, "which", lambda _name: "rigproof")


@pytest.fixture(autouse=True)
def _own_state(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of what tests serve is remembered where the performer's own is."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path_factory.getbasetemp() / "state"))


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Runs one command line."""

    def run_words(*words: object) -> Answer:
        capsys.readouterr()
        code = run([str(word) for word in words])
        said = capsys.readouterr()
        return Answer(code, said.out, said.err)

    return run_words


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """The small project of `rigs`, in a folder."""
    return write_rig(tmp_path / "bench")
