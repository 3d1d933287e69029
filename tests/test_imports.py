"""Every module can be imported, and importing sets, prints and writes nothing."""

import importlib
import subprocess
import sys
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parent.parent / "src"
MODULES = sorted(
    ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")
    for path in SOURCE.rglob("*.py")
)

STATE = """
import logging, os, signal, sys, warnings, locale

def state():
    return {
        "environment": dict(os.environ),
        "search path": list(sys.path),
        "warning filters": list(warnings.filters),
        "log handlers": list(logging.getLogger().handlers),
        "interrupt": signal.getsignal(signal.SIGINT),
        "hook": sys.excepthook,
        "locale": locale.setlocale(locale.LC_ALL),
        "folder": os.getcwd(),
    }
"""


def run_python(code: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-I", "-c", f"import sys; sys.path.insert(0, {str(SOURCE)!r})\n{code}"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("name", MODULES)
def test_module_can_be_imported_and_says_what_it_is(name: str) -> None:
    module = importlib.import_module(name)
    assert module.__doc__, f"{name} has no docstring"


def test_importing_rigproof_sets_and_prints_nothing(tmp_path: Path) -> None:
    code = f"""{STATE}
before, loaded = state(), set(sys.modules)
import rigproof
after = state()
changed = [key for key in before if before[key] != after[key]]
assert not changed, changed
extra = set(sys.modules) - loaded - {{"rigproof"}}
assert not extra, extra
"""
    done = run_python(code, tmp_path)
    assert (done.stdout, done.stderr, done.returncode) == ("", "", 0)


def test_importing_everything_prints_and_writes_nothing(tmp_path: Path) -> None:
    code = f"import importlib\nfor name in {MODULES!r}: importlib.import_module(name)"
    done = run_python(code, tmp_path)
    assert (done.stdout, done.stderr, done.returncode) == ("", "", 0)
    assert not list(tmp_path.iterdir())


def test_the_command_starts_without_the_engine(tmp_path: Path) -> None:
    """Numba and SciPy cost most of a second; only what makes sound may load them."""
    code = """
import rigproof.cli
heavy = {"numba", "llvmlite", "scipy", "rigproof.engine"} & set(sys.modules)
assert not heavy, heavy
"""
    done = run_python(code, tmp_path)
    assert (done.stdout, done.stderr, done.returncode) == ("", "", 0)
