"""How a check grows: the large rig of the fault bench, 60 modules, once, four and sixteen times over."""

from __future__ import annotations

import math
import tempfile
import time
from dataclasses import replace
from functools import partial
from pathlib import Path

from benchmarks.timing import timed
from rigproof.checks import Bench, run_checks
from rigproof.model.patch import Cable
from rigproof.model.project import Project
from rigproof.net.flatten import flatten
from rigproof.readings.level import read_level
from rigproof.readings.pulse import read_pulses
from rigproof.readings.volts import read_volts
from tests.faultbench.clean_rigs import load, write_large

COPIES = (1, 4, 16)
HEAD = (
    "modules",
    "cables",
    "flatten (ms)",
    "volts (ms)",
    "level (ms)",
    "pulse (ms)",
    "all readings and checks (ms)",
    "the same, per module (ms)",
)
PICTURE = Path(__file__).with_name("scale.svg")


def many(rig: Project, copies: int) -> Project:
    """Return the rig so many times over, side by side."""

    def name(copy: int, thing: str) -> str:
        return f"c{copy}-{thing}"

    def cable(copy: int, c: Cable) -> Cable:
        return replace(c, source=name(copy, c.source), target=name(copy, c.target))

    numbers = range(copies)
    old, patch = rig.rig, rig.patch
    rows = len(old.rows)
    return replace(
        rig,
        rig=replace(
            old,
            rows=old.rows * copies,
            supply=None,
            cables=(),
            modules=tuple(
                replace(m, id=name(i, m.id), row=m.row + rows * i)
                for i in numbers
                for m in old.modules
            ),
            outside=tuple(replace(o, id=name(i, o.id)) for i in numbers for o in old.outside),
        ),
        patch=replace(
            patch,
            cables=tuple(cable(i, c) for i in numbers for c in patch.cables),
            settings=tuple(
                replace(s, control=name(i, s.control)) for i in numbers for s in patch.settings
            ),
            rhythms=tuple(replace(r, slot=name(i, r.slot)) for i in numbers for r in patch.rhythms),
            samples=tuple(replace(s, slot=name(i, s.slot)) for i in numbers for s in patch.samples),
            maps=tuple(
                replace(m, control=name(i, m.control), to=tuple(name(i, t) for t in m.to))
                for i in numbers
                for m in patch.maps
            ),
        ),
        setlist=None,
    )


def check(project: Project) -> None:
    """Flatten, read and check."""
    run_checks(Bench.of(project))


def main() -> list[tuple[object, ...]]:
    """Measure every size; the last figure stays level when growth is linear. Draws `scale.svg`. [ms]"""
    with tempfile.TemporaryDirectory() as folder:
        large = load(write_large(Path(folder) / "large"))
    rows: list[tuple[object, ...]] = []
    points: list[tuple[int, float]] = []
    for copies in COPIES:
        project = many(large, copies)
        began_s = time.perf_counter()
        net = flatten(project)
        took_s = [time.perf_counter() - began_s]
        took_s += [
            timed(partial(reading, net)) for reading in (read_volts, read_level, read_pulses)
        ]
        whole_s = min(timed(partial(check, project)) for _ in range(3 if copies < 16 else 1))
        modules = len(project.rig.modules)
        points.append((modules, whole_s))
        took_ms = [seconds * 1e3 for seconds in (*took_s, whole_s)]
        rows.append((modules, len(project.patch.cables), *took_ms, took_ms[-1] / modules))
    PICTURE.write_text(picture(points), encoding="utf-8")
    return rows


def picture(points: list[tuple[int, float]]) -> str:
    """Return a plot of seconds over modules, both logarithmic, with the line of linear growth through the first."""
    width, height, left, bottom = 560, 340, 70, 290
    decades_x, decades_s = (1.5, 3.25), (-2.0, 1.0)

    def x(modules: float) -> float:
        return left + (math.log10(modules) - decades_x[0]) / (decades_x[1] - decades_x[0]) * (
            width - left - 20
        )

    def y(seconds: float) -> float:
        return bottom - (math.log10(seconds) - decades_s[0]) / (decades_s[1] - decades_s[0]) * (
            bottom - 30
        )

    (first, first_s), (last, _) = points[0], points[-1]
    ink = 'font-family="sans-serif" font-size="12" fill="#222"'
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">']
    lines.append("<title>Seconds of a whole check over the number of modules</title>")
    lines.append(f'<rect width="{width}" height="{height}" fill="#fbfaf6"/>')
    for seconds in (0.01, 0.1, 1.0, 10.0):
        lines.append(f'<path d="M{left} {y(seconds):.1f}H{width - 20}" stroke="#ccc"/>')
        lines.append(
            f'<text x="{left - 8}" y="{y(seconds) + 4:.1f}" text-anchor="end" {ink}>{seconds:g} s</text>'
        )
    for modules in (50, 100, 200, 500, 1000):
        lines.append(f'<path d="M{x(modules):.1f} 30V{bottom}" stroke="#ccc"/>')
        lines.append(
            f'<text x="{x(modules):.1f}" y="{bottom + 18}" text-anchor="middle" {ink}>{modules}</text>'
        )
    linear = f"M{x(first):.1f} {y(first_s):.1f}L{x(last):.1f} {y(first_s * last / first):.1f}"
    lines.append(f'<path d="{linear}" stroke="#888" stroke-dasharray="5 4" fill="none"/>')
    measured = "L".join(f"{x(m):.1f} {y(s):.1f}" for m, s in points)
    lines.append(f'<path d="M{measured}" stroke="#b8401f" stroke-width="2" fill="none"/>')
    lines += [f'<circle cx="{x(m):.1f}" cy="{y(s):.1f}" r="4" fill="#b8401f"/>' for m, s in points]
    caption = "modules; measured (line), linear growth from the first (dashes)"
    lines.append(f'<text x="{left}" y="{bottom + 40}" {ink}>{caption}</text>')
    return "\n".join([*lines, "</svg>"]) + "\n"


if __name__ == "__main__":
    for row in (HEAD, *main()):
        print(*(f"{c:>14.3f}" if isinstance(c, float) else f"{c:>14}" for c in row))
