"""How flattening and the readings grow from 60 modules and 150 cables to 1,000 and 3,000."""

from __future__ import annotations

import random
import time
from functools import partial

from benchmarks.timing import timed
from rigproof.model.patch import Cable, Patch
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.sheet import OUTPUT_OHM, Control, Jack, Section, Sheet, Signal, Way
from rigproof.net.flatten import flatten
from rigproof.readings.level import read_level
from rigproof.readings.pulse import read_pulses
from rigproof.readings.volts import read_volts

SIZES = ((60, 150), (250, 750), (1000, 3000))
HEAD = (
    "modules",
    "cables",
    "flatten (ms)",
    "volts (ms)",
    "level (ms)",
    "pulse (ms)",
    "all, per module (ms)",
)

_SUM = Sheet(
    "sum",
    "Sum of three",
    hp=8,
    jacks={
        f"in-{k}": Jack(f"in-{k}", Way.IN, Signal.CV, lanes={"tip": (f"mix.in-{k}",)})
        for k in (1, 2, 3)
    }
    | {
        "out": Jack(
            "out", Way.OUT, Signal.CV, lanes={"tip": ("mix.out",)}, resistance_ohm=OUTPUT_OHM
        )
    },
    sections={"mix": Section("mix", "mixer", {"ways": 3})},
    controls={"level": Control("level", default=0.3, sets=("mix.master",))},
)


def random_project(modules: int, cables: int) -> Project:
    """Return a rig of adders, mostly wired forwards, with a few cables that come back."""
    chance = random.Random(modules)  # noqa: S311  (repeatable on purpose)
    wanted: set[tuple[str, str]] = set()
    while len(wanted) < cables:
        target = chance.randrange(1, modules)
        back = chance.random() < 0.01
        source = (
            chance.randrange(modules) if back else chance.randrange(max(0, target - 20), target)
        )
        wanted.add((f"m{source}.out", f"m{target}.in-{chance.randint(1, 3)}"))
    return Project(
        Rig(
            "scale",
            modules=tuple(
                Mounted(f"m{i}", "sum", 1 + i // 12, 8 * (i % 12)) for i in range(modules)
            ),
        ),
        Patch("scale", cables=tuple(Cable(a, b) for a, b in sorted(wanted))),
        {"sum": _SUM},
    )


def main() -> list[tuple[object, ...]]:
    """Measure every size; the last figure stays level when growth is linear. [ms]"""
    rows: list[tuple[object, ...]] = []
    for modules, cables in SIZES:
        project = random_project(modules, cables)
        began_s = time.perf_counter()
        net = flatten(project)
        took = [time.perf_counter() - began_s]
        took += [timed(partial(reading, net)) for reading in (read_volts, read_level, read_pulses)]
        took_ms = [seconds * 1e3 for seconds in took]
        rows.append((modules, cables, *took_ms, sum(took_ms) / modules))
    return rows


if __name__ == "__main__":
    for row in (HEAD, *main()):
        print(*(f"{c:>14.3f}" if isinstance(c, float) else f"{c:>14}" for c in row))
