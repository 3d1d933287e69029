"""The app's server on a rig of 60 modules: how long an edit takes until it is on the disk, and what is asked after it.

What counts is the core's own time, so that a busy machine measures like one at rest.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Callable
from itertools import cycle
from pathlib import Path
from statistics import median

from rigproof.checks.ends import ends_for
from rigproof.model.edits import SetCableLength
from rigproof.web.api import views
from rigproof.web.api.session import Session
from tests.faultbench.clean_rigs import write_large

ROUNDS = 5


def main() -> dict[str, float]:
    """Measure the median of a few rounds of each; everything but the edit itself comes right after one. [ms]"""
    with tempfile.TemporaryDirectory() as folder:
        session = Session(write_large(Path(folder) / "large"))
        project = session.state.loaded.require_project()
        cable = project.patch.cables[5]
        lengths = cycle((30, 45, 60))

        def edit() -> None:
            change = SetCableLength(cable.source, cable.target, next(lengths))
            session.edit([change], by="bench", revision=session.revision)

        asked: dict[str, Callable[[], object]] = {
            "undo (ms)": lambda: session.undo(by="bench", revision=session.revision),
            "the project (ms)": lambda: json.dumps(views.project_view(session, with_sheets=False)),
            "readings (ms)": lambda: json.dumps(views.readings_view(session)),
            "findings (ms)": lambda: json.dumps(views.proof_view(session.proved())),
            "diagram (ms)": lambda: json.dumps(views.diagram_view(session)),
            "ends of a cable (ms)": lambda: ends_for(session.bench()[1], cable.source),
        }
        found = {
            "modules": float(len(project.rig.modules)),
            "cables": float(len(project.patch.cables)),
            "an edit, on the disk (ms)": _median_ms(edit, lambda: None),
        }
        for name, ask in asked.items():
            found[name] = _median_ms(ask, edit)
    return found


def _median_ms(run: Callable[[], object], before: Callable[[], object]) -> float:
    took_ms = []
    for _ in range(ROUNDS):
        before()
        began_s = time.process_time()
        run()
        took_ms.append(1e3 * (time.process_time() - began_s))
    return median(took_ms)


if __name__ == "__main__":
    for figure, value in main().items():
        print(f"{figure:28} {value:.1f}")
