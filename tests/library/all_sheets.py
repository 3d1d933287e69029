"""Every sheet of the library, loaded once, and a project around one of them that feeds all its inputs."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import rigproof.library
from rigproof.files.load import load_project
from rigproof.model.patch import Cable, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.sheet import Housing, Sheet, Signal, Way
from tests.small_rigs import jack_out, sheet

FOLDER = Path(rigproof.library.__file__).parent
NAMES = sorted(path.stem for path in FOLDER.glob("*.toml"))

FEED = sheet(
    "feed",
    {
        "noise": {"kind": "noise"},
        "slow": {"kind": "lfo", "rate": 3.0},
        "drift": {"kind": "lfo", "rate": 0.7},
        "gate": {"kind": "lfo", "rate": 9.0, "polarity": "unipolar"},
        "chance": {"kind": "random-voltage", "rate": 20.0},
    },
    [
        jack_out("audio", "noise.white", Signal.AUDIO),
        jack_out("cv", "slow.triangle", Signal.CV),
        jack_out("cv-too", "drift.sine", Signal.CV),
        jack_out("pitch", "chance.stepped", Signal.PITCH),
        jack_out("gate", "gate.square", Signal.GATE),
        jack_out("trigger", "gate.square", Signal.TRIGGER),
        jack_out("clock", "gate.square", Signal.CLOCK),
    ],
)
"""One output for every signal that Ohm's law governs, and a second CV, so that no two inputs move as one."""


@cache
def folder_of_all(folder: Path) -> Mapping[str, Sheet]:
    """Load every sheet through a project in `folder` that owns one of each."""
    text = ['format = 1\nname = "all"\n']
    text += [f'[[module]]\nid = "{n}"\nsheet = "{n}"\nrow = 1\nhp = 0\n' for n in NAMES]
    (folder / "rig.toml").write_text("\n".join(text), "utf-8")
    (folder / "all.patch.toml").write_text("format = 1\n", "utf-8")
    return dict(load_project(folder / "all.patch.toml").require_project().sheets)


def on_the_bench(found: Sheet) -> Sheet:
    """The sheet as a module whose every jack can be reached: no wall around it."""
    jacks = {name: replace(jack, is_inside=False) for name, jack in found.jacks.items()}
    return replace(found, housing=Housing.MODULE, jacks=jacks)


def fed(found: Sheet, *, seed: int | None = None) -> Project:
    """A project of the sheet alone with all its inputs fed; with a seed every control stands anywhere in its range."""
    shown = on_the_bench(found)
    cables: list[Cable] = []
    for jack in shown.jacks.values():
        if jack.way is Way.IN and jack.signal.is_volts:
            is_second = jack.signal is Signal.CV and len(cables) % 2 == 1
            source = "cv-too" if is_second else jack.signal.value
            cables.append(Cable(f"feed.{source}", f"it.{jack.id}"))
    settings = []
    if seed is not None:
        rng = Random(f"{seed} {found.id}")
        for control in shown.controls.values():
            value = control.value_at(rng.random())
            if control.choices or control.unit == "steps":
                value = float(round(value))
            settings.append(Settings(f"it.{control.id}", value))
    return Project(
        Rig("bench", modules=(Mounted("it", found.id, 1, 0), Mounted("feed", "feed", 1, 100))),
        Patch("bench", cables=tuple(cables), settings=tuple(settings)),
        {found.id: shown, "feed": FEED},
    )
