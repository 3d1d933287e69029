"""Checking starts fast because it leaves out what it does not need: what is imported, not how long it takes."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = """
import sys
from rigproof.cli.app import run
code = run(sys.argv[1:])
print("code", code)
print("loaded", *sorted({name.partition(".")[0] for name in sys.modules}))
"""
HEAVY = {"numba", "llvmlite", "scipy", "soundfile", "soxr", "tomlkit"}
HEAVY |= {"anyio", "starlette", "uvicorn", "websockets"}


@pytest.mark.parametrize("command", ["check", "volts"])
def test_checking_loads_nothing_for_sound(bench: Path, command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, command, str(bench)],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        check=True,
    )
    lines = done.stdout.splitlines()
    assert lines[-2] == "code 0"
    loaded = set(lines[-1].split()[1:])
    assert "rigproof" in loaded
    assert loaded.isdisjoint(HEAVY), sorted(loaded & HEAVY)
