"""A voice that an envelope opens, a pattern that starts it, and what can be missing between them."""

from __future__ import annotations

from typing import Any

from rigproof.model.project import Project
from rigproof.model.sheet import Sheet, Signal
from tests.checks import rigs


def waiting(
    steps: str = "x...", *, is_plugged: bool = True, envelope: Sheet | None = None
) -> Project:
    """A clock, a pattern, an envelope, and a voice that it opens into the desk; the gate cable can be left out."""
    cables = [
        ("clock.out-1", "pattern.clock"),
        ("env.cv", "vca.cv"),
        ("voice.sine", "vca.in"),
        ("vca.out", "desk.in-1"),
    ]
    if is_plugged:
        cables.append(("pattern.gate", "env.gate"))
    return rigs.project(
        {
            "clock": rigs.clock((4, 1)),
            "pattern": rigs.sequencer("pattern", steps),
            "env": envelope if envelope is not None else rigs.envelope(),
            "voice": rigs.voice(),
            "vca": rigs.vca(),
            "desk": rigs.interface(),
        },
        cables,
    )


def drum(kind: str, trigger: str = "trigger", out: str = "out", **more: Any) -> Sheet:
    """A drum or another thing that waits for a trigger, on the jacks of an envelope."""
    return rigs.sheet(
        "env",
        [
            rigs.jack_in(
                "gate", f"it.{trigger}", signal=Signal.TRIGGER, range_v=(0.0, 10.0), **more
            ),
            rigs.jack_out("cv", f"it.{out}", Signal.CV),
        ],
        {"it": (kind, {})},
    )
