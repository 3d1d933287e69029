"""Run the quality gates: all of them, or the ones named."""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable


class Gate(NamedTuple):
    """One gate: what a person calls it, what it is for, and the command that passes or fails."""

    name: str
    about: str
    command: Callable[[list[str]], list[str]]
    always: bool = True


def python(*arguments: str) -> Callable[[list[str]], list[str]]:
    """A command that takes the rest of the line at its end."""
    return lambda rest: [PYTHON, *arguments, *rest]


def pytest(rest: list[str]) -> list[str]:
    """A whole run on two cores, which costs an eighth more work; a narrowed one on one core, which starts sooner."""
    return [PYTHON, "-m", "pytest", *(rest or ["-n", "2"])]


GATES = (
    Gate(
        "format",
        "the formatter has nothing to change",
        python("-m", "ruff", "format", "--check", "--quiet"),
    ),
    Gate(
        "lint",
        "no lint finding",
        python("-m", "ruff", "check", "--quiet", "--output-format=concise"),
    ),
    Gate("types", "strict types hold", python("-m", "mypy")),
    Gate(
        "pages", "generated pages equal what the code says", python("docs/generate.py", "--check")
    ),
    Gate(
        "docs",
        "the docs build, every link leads somewhere",
        python("-m", "mkdocs", "build", "--strict", "--quiet"),
    ),
    Gate(
        "front",
        "the app's page: format, types, unit tests, and a build that repeats to the byte",
        python("setup/front.py"),
    ),
    Gate(
        "browser",
        "there is a Chromium that the tests can drive",
        python("setup/browser.py"),
    ),
    Gate("tests", "the tests pass; the rest of the line goes to pytest", pytest),
    Gate(
        "slow",
        "tests that take their time; not part of a plain run",
        python("-m", "pytest", "-m", "slow"),
        always=False,
    ),
    Gate(
        "bench",
        "speeds, written to benchmarks/results.md; not part of a plain run",
        python("-m", "benchmarks.run"),
        always=False,
    ),
)
FIXES = (
    python("-m", "ruff", "check", "--fix", "--quiet", "--exit-zero"),
    python("-m", "ruff", "format", "--quiet"),
    python("docs/generate.py"),
    python("setup/front.py", "--write"),
)
EPILOG = (
    "gates:\n"
    + "\n".join(f"  {gate.name:8}{gate.about}" for gate in GATES)
    + """
  lock    write locks/ anew from pyproject.toml; --upgrade takes newer versions
"""
)


def run(command: list[str]) -> int:
    """Run one command at the root of the project."""
    sys.stdout.flush()
    env = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(ROOT)])}
    return subprocess.run(command, cwd=ROOT, env=env, check=False).returncode


def run_gates(gates: list[Gate], rest: list[str]) -> int:
    """Run each gate, go on when one fails, and say at the end which did."""
    failed = []
    lines = []
    for gate in gates:
        print(f"── {gate.name}: {gate.about}")
        began_s = time.monotonic()
        good = run(gate.command(rest)) == 0
        lines.append(
            f"  {'ok  ' if good else 'FAIL'}  {gate.name:8}{time.monotonic() - began_s:7.1f} s"
        )
        if not good:
            failed.append(gate.name)
    print("\n".join(["── summary", *lines]))
    print(f"check: {'failed: ' + ', '.join(failed) if failed else 'all good'}")
    return 1 if failed else 0


def main(arguments: list[str]) -> int:
    """Read the command line and run what it names."""
    parser = argparse.ArgumentParser(
        prog="./check",
        description=__doc__,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--fix", action="store_true", help="format, mend and regenerate first")
    names = [gate.name for gate in GATES]
    parser.add_argument("gate", nargs="?", choices=[*names, "lock"], help="only this one")
    # What follows the gate's name belongs to the gate, options too.
    cut = next(
        (at + 1 for at, word in enumerate(arguments) if not word.startswith("-")), len(arguments)
    )
    options = parser.parse_args(arguments[:cut])
    rest = arguments[cut:]
    if options.gate == "lock":
        return run([PYTHON, "setup/lock.py", *rest])
    if options.fix:
        for fix in FIXES:
            run(fix([]))
    if options.gate:
        return run_gates([gate for gate in GATES if gate.name == options.gate], rest)
    return run_gates([gate for gate in GATES if gate.always], [])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
