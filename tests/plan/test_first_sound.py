"""A first patch is made of what is there, is heard for real, and no check of ours would stop it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from rigproof.checks import Bench, Severity, run_checks
from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.errors import RigError, UnknownName
from rigproof.files.load_sheet import library_sheets
from rigproof.model.patch import Patch
from rigproof.model.project import Project
from rigproof.model.rig import Row
from rigproof.plan.first_rig import FirstRig, first_rig
from rigproof.plan.first_sound import first_sound

ROWS = (Row(84, 50.0), Row(84, 50.0))
RAILS_MA = {"+12V": 2000.0, "-12V": 1500.0, "+5V": 500.0}


def rig_of(modules: Sequence[str], outside: Sequence[str] = ("interface-2",)) -> FirstRig:
    return first_rig(
        library_sheets(),
        name="first",
        rows=ROWS,
        rails_ma=RAILS_MA,
        modules=modules,
        outside=outside,
    )


def project_of(modules: Sequence[str], outside: Sequence[str] = ("interface-2",)) -> Project:
    sheets = {name: library_sheets()[name] for name in (*modules, *outside)}
    return Project(rig_of(modules, outside).rig, Patch("first"), sheets)


def heard(project: Project, seconds: float = 1.0) -> np.ndarray:
    """What the room hears, as full scale has it."""
    net = Bench.of(project).net
    rows = [row for ear in net.ears for row in ear.outs]
    player = Player(schedule(net, sounds={}, wanted=rows), rows, [])
    return np.concatenate(list(player.chunks(seconds)), axis=1)


MELODY = ["clock-6", "note-sequencer-16", "oscillator", "dual-envelope", "quad-vca", "line-out-2"]


@pytest.mark.parametrize(
    ("modules", "cables"),
    [
        (["oscillator"], {"oscillator.saw to interface-2.left"}),
        (
            MELODY,
            {
                "note-sequencer-16.pitch to oscillator.pitch",
                "note-sequencer-16.gate to dual-envelope.trig-1",
                "dual-envelope.env-1 to quad-vca.cv-1",
                "line-out-2.line-right to interface-2.right",
            },
        ),
        (
            ["clock-6", "step-rhythm-4", "drum-kit-4", "balanced-out-2"],
            {"step-rhythm-4.trig-1 to drum-kit-4.kick-trig"},
        ),
        (["bass-voice", "clock-6"], {"bass-voice.out to interface-2.left"}),
        (["noise-filter", "mixer-4"], {"mixer-4.out to interface-2.left"}),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else None,
)
def test_a_first_patch_is_heard(modules: list[str], cables: set[str]) -> None:
    found = first_sound(project_of(modules))
    assert found.is_heard
    patch = found.project.patch
    assert cables <= {f"{c.source} to {c.target}" for c in patch.cables}
    stopping = [
        f for f in run_checks(Bench.of(found.project)) if f.severity is Severity.STOPS_THE_SHOW
    ]
    assert not stopping
    sound = heard(found.project)
    assert (
        np.abs(sound).max() > 0.01
    )  # -40 dBFS: far above any noise floor, so that something plays
    assert np.abs(sound).max() < 1.0
    assert all(np.abs(side).max() > 0.01 for side in sound)


def test_a_level_that_is_too_high_is_turned_down() -> None:
    """A pocket recorder takes 2.19 V at full scale, an oscillator gives 5 V: the mixer has to take half of it away."""
    found = first_sound(project_of(["oscillator", "mixer-4"], ["pocket-recorder"]))
    assert found.is_heard
    (setting,) = found.project.patch.settings
    assert setting.control == "mixer-4.level-1"
    assert f"set mixer-4.level-1 to {setting.value}" in found.says
    assert 0.01 < np.abs(heard(found.project)).max() < 1.0
    hot = first_sound(project_of(["oscillator"], ["pocket-recorder"]))
    assert not hot.is_heard
    assert any("full scale is 2.19 V" in said for said in hot.says)


def test_a_melody_has_more_than_one_note() -> None:
    """Two of its steps in a row, a fifth apart, cross zero at rates of about 3 to 2."""
    sound = heard(first_sound(project_of(MELODY)).project, 0.25)[0]
    step = int(48_000 * 60 / 120 / 4)
    counts = [
        int(np.count_nonzero(np.diff(np.signbit(part))))
        for part in (sound[:step], sound[step : 2 * step])
    ]
    assert counts[1] > counts[0] * 1.2


@pytest.mark.parametrize(
    ("modules", "outside", "words"),
    [
        (["mixer-4", "quad-vca"], ["interface-2"], "Nothing here makes a sound"),
        (["oscillator"], [], "Nothing here is heard by the room"),
        (["oscillator"], ["fader-box-8"], "Nothing here is heard by the room"),
        (["sampler-6", "clock-6"], ["interface-2"], "Nothing here makes a sound"),
        (["bass-voice"], ["interface-2"], "bass-voice.out sounds when it is triggered"),
    ],
)
def test_where_nothing_can_be_heard_it_says_so(
    modules: list[str], outside: list[str], words: str
) -> None:
    project = project_of(modules, outside)
    found = first_sound(project)
    assert not found.is_heard
    assert found.project == project
    assert any(said.startswith(words) for said in found.says)


def test_first_fit_minds_width_and_depth() -> None:
    found = rig_of(["oscillator"] * 12)
    places = [(m.id, m.row, m.hp) for m in found.rig.modules]
    hp = library_sheets()["oscillator"].hp
    fits = 84 // hp
    assert places[0] == ("oscillator", 1, 0)
    assert places[1] == ("oscillator-no-2", 1, hp)
    assert places[fits] == (f"oscillator-no-{fits + 1}", 2, 0)
    assert len({(row, at) for _, row, at in places}) == 12
    deep = first_rig(
        library_sheets(), name="x", rows=(Row(84, 20.0),), rails_ma={}, modules=["oscillator"]
    )
    assert deep.rig.modules[0].hp == 84
    assert deep.says[0].startswith("oscillator has no room in the case")


def test_what_is_not_there_or_lives_elsewhere() -> None:
    with pytest.raises(UnknownName):
        rig_of(["osclator"])
    for modules, outside in ((["interface-2"], []), ([], ["oscillator"])):
        with pytest.raises(RigError):
            rig_of(modules, outside)
