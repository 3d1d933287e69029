"""`rigproof check` of the demo from a cold start, in fresh processes, in turns with what any such program must pay."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from statistics import median

import rigproof.demo

FOLDER = Path(rigproof.demo.__file__).parent / "lowtide"
ROUNDS = 7
RUNS: dict[str, tuple[str, ...]] = {
    "rigproof check of the demo (s)": ("-m", "rigproof", "check", str(FOLDER)),
    "rigproof check of the demo, --json (s)": ("-m", "rigproof", "check", str(FOLDER), "--json"),
    "python alone (s)": ("-c", "pass"),
    "python, import numpy and rich.console (s)": ("-c", "import numpy, rich.console"),
    "python, import numba (s)": ("-c", "import numba"),
}
"""What is run, by the name of its figure. The last is what checking would pay if it needed the compiler."""
LOADED_CODE = """
import json, sys
from rigproof.cli.app import main
try:
    main(["check", sys.argv[1], "--json"])
except SystemExit:
    pass
print(json.dumps(sorted(sys.modules)), file=sys.stderr)
"""
NEVER_LOADED = ("numba", "llvmlite", "scipy")


def run_python(arguments: Sequence[str]) -> str:
    """Run a fresh Python and return what it says on its error line; a finding that stops the show is no failure."""
    done = subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, check=False, env=os.environ
    )
    if done.returncode not in (0, 1) or "Traceback" in done.stderr:
        raise RuntimeError(f"{arguments}: {done.stderr}")
    return done.stderr


def timed_python(arguments: Sequence[str]) -> float:
    """Return how long a fresh Python takes. [s]"""
    began_s = time.perf_counter()
    run_python(arguments)
    return time.perf_counter() - began_s


def heavy_modules() -> list[str]:
    """Return which of the heavy libraries a check has loaded."""
    loaded = set(json.loads(run_python(("-c", LOADED_CODE, str(FOLDER))).splitlines()[-1]))
    if "rigproof.checks.run" not in loaded:
        raise RuntimeError("the check has not run")
    return [name for name in NEVER_LOADED if name in loaded]


def main() -> dict[str, float]:
    """Measure and return the figures: medians, every run taken in turn with the others."""
    runs = {
        name: partial(timed_python, arguments)
        for name, arguments in RUNS.items()
        if "numba" not in name or importlib.util.find_spec("numba") is not None
    }
    times: dict[str, list[float]] = {name: [] for name in runs}
    for run in runs.values():
        run()
    for _ in range(ROUNDS):
        for name, run in runs.items():
            times[name].append(run())
    figures = {name: median(some) for name, some in times.items()}
    return figures | {
        f"heavy libraries loaded by a check ({', '.join(NEVER_LOADED)})": float(
            len(heavy_modules())
        )
    }


if __name__ == "__main__":
    for name, value in main().items():
        print(f"{name:70}{value:10.3f}")
