"""Run every benchmark and write what was measured: `./check bench`."""

from __future__ import annotations

import datetime as dt
import os
import platform
from pathlib import Path

from benchmarks import (
    bench_app,
    bench_check,
    bench_demo,
    bench_fused,
    bench_kinds,
    bench_library,
    bench_loaded,
    bench_scale,
    bench_session,
)

MACHINE = (
    f"Measured on {dt.datetime.now(dt.UTC):%Y-%m-%d} with Python {platform.python_version()} on "
    f"{os.cpu_count()} cores ({platform.machine()}). Each ratio was measured side by side in one run; "
    "absolute figures are of that machine on that day."
)
RESULTS = Path(__file__).with_name("results.md")


def table(head: tuple[str, ...], rows: list[tuple[object, ...]]) -> str:
    """Return a Markdown table; numbers get three significant digits."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for row in rows:
        cells = [f"{cell:.3g}" if isinstance(cell, float) else str(cell) for cell in row]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def main() -> None:
    """Measure everything, print it and keep it."""
    load_before = os.getloadavg()[0]
    parts = [
        "# Speeds",
        MACHINE,
        "## The demo rig",
        table(("figure", "value"), list(bench_demo.main().items())),
        "## Checking, from a cold start",
        table(("figure", "value"), list(bench_check.main().items())),
        "## Checking, once the files are loaded",
        table(("figure", "value"), list(bench_loaded.main().items())),
        "## The app in a browser",
        table(("figure", "value"), list(bench_app.main().items())),
        "## Against the same patch fused by hand in C",
        table(("figure", "value"), list(bench_fused.main().items())),
        "## Against the nearest general-purpose library kernels",
        table(
            (
                "kind",
                "ours (ns a sample)",
                "theirs (ns a sample)",
                "share",
                "what stands against it",
            ),
            [
                (k, ours, theirs, theirs / ours, rival)
                for k, (rival, ours, theirs) in bench_library.main().items()
            ],
        ),
        "## Growth with the size of the rig",
        table(bench_scale.HEAD, bench_scale.main()),
        "## The app's server",
        table(("figure", "value"), list(bench_session.main().items())),
        "## Every kind",
        table(
            ("kind", "blocks of 64 (ns a sample)", "sample by sample (ns a sample)"),
            [(k, *ns) for k, ns in bench_kinds.main().items()],
        ),
    ]
    busy = " to ".join(f"{load:.1f}" for load in (load_before, os.getloadavg()[0]))
    parts[1] += f" Programs that wanted a core, this one counted, on average over a minute: {busy}."
    text = "\n\n".join(parts) + "\n"
    print(text)
    RESULTS.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
