"""Moves of which nothing is heard, against renders in which nothing changes where they are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from numpy.typing import NDArray

from rigproof.engine.render import Player, ear_rows
from rigproof.engine.schedule import schedule
from rigproof.model.project import Project
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.net.flatten import flatten
from rigproof.net.timeline import timeline
from rigproof.readings.proof import read
from tests.checks import rigs
from tests.checks.play_cases import played, turned
from tests.random_patches import random_project
from tests.readings.fader_rig import fader_project


def unheard(project: Project) -> list[tuple[str, str]]:
    return [(e.passage, e.control) for e in read(flatten(project)).unheard]


def heard_sound(project: Project) -> NDArray[np.float64]:
    net = flatten(project)
    player = Player(schedule(net), list(ear_rows(net)), timeline(net).events)
    return np.concatenate(list(player.chunks(timeline(net).length_s)), axis=1)


def without_moves(project: Project) -> Project:
    assert project.setlist is not None
    passages = tuple(replace(p, moves=()) for p in project.setlist.sections)
    return replace(project, setlist=replace(project.setlist, sections=passages))


@pytest.mark.parametrize(
    ("control", "second_v", "mixed", "is_heard"),
    [
        ("mix.level-1", 2.0, 1.0, True),
        ("mix.level-2", 2.0, 1.0, True),
        ("mix.level-2", 0.0, 1.0, False),  # nothing comes in there
        ("second.level", 2.0, 0.0, False),  # its channel is shut while the other one sounds
        ("second.level", 2.0, 0.1, True),
        ("mix.master", 2.0, 0.0, True),
        ("spare.level-1", 2.0, 1.0, False),  # it sounds, and no cable leads out
    ],
)
def test_a_move_is_told_as_unheard_where_the_sound_is_the_same_without_it(
    control: str, second_v: float, mixed: float, is_heard: bool
) -> None:
    project = turned(control, second_v=second_v, mixed=mixed)
    assert unheard(project) == ([] if is_heard else [("second", control)])
    same = np.array_equal(heard_sound(project), heard_sound(without_moves(project)))
    assert same is not is_heard


def set_of(*moves: Sequence[Move]) -> Setlist:
    """A section of four bars for each group of moves."""
    return Setlist(
        "tiny",
        tempo_bpm=120.0,
        sections=tuple(Passage(f"s{i}", bars=4, moves=tuple(m)) for i, m in enumerate(moves, 1)),
    )


def test_what_is_made_ready_for_a_later_section_is_heard() -> None:
    """The second voice is tuned while its channel is shut, which a later section opens; or closes for good."""
    tuned = Move("second.level", 1.0, 2, 1.0, 4.0)
    ready = turned("mix.level-2", mixed=0.0)
    later = [tuned], [Move("mix.level-2", 1.0, 1, 1.0, 4.0)]
    assert unheard(replace(ready, setlist=set_of(*later))) == []
    again = [tuned], [replace(tuned, to=2.0)], [Move("mix.level-2", 1.0, 1, 1.0, 4.0)]
    assert unheard(replace(ready, setlist=set_of(*again))) == [("s1", "second.level")]


def test_a_fade_out_is_heard_though_it_ends_in_silence() -> None:
    out = set_of([Move("mix.master", 0.0, 1, 1.0, 16.0)])
    assert unheard(replace(turned("mix.master"), setlist=out)) == []


def test_a_fader_is_followed_through_its_messages() -> None:
    """Fader 5 opens an amplifier; fader 6 is mapped to a voltage that no cable takes on."""
    moves = [Move("faders.f5", 0.5, 1, 1.0, 4.0), Move("faders.f6", 0.5, 1, 1.0, 4.0)]
    project = replace(fader_project(faders__f5=1.0), setlist=set_of(moves))
    assert unheard(project) == [("s1", "faders.f6")]


def test_an_echo_that_remembers_is_heard_when_nothing_comes_in_any_more() -> None:
    project = rigs.project(
        {
            "voice": rigs.voice(level_v=2.0),
            "mix": rigs.mixer(ways=1),
            "echo": rigs.echo(),
            "desk": rigs.interface(),
        },
        [("voice.sine", "mix.in-1"), ("mix.out", "echo.left-in"), ("echo.left", "desk.in-1")],
        setlist=set_of(
            [Move("mix.master", 0.0, 4, 1.0, 4.0)],
            [Move("echo.feedback", 0.9, 1, 1.0, 4.0)],
        ),
    )
    assert unheard(project) == []


def test_nothing_is_said_of_a_rig_that_is_silent_all_the_time() -> None:
    assert unheard(played(Move("faders.f1", 1.0, 1, 1.0, 4.0))) == []
    assert unheard(turned("mix.level-2", second_v=0.0, mixed=0.0)) == [("second", "mix.level-2")]


def with_moves(project: Project, seed: int) -> Project:
    """Up to four controls of a project go somewhere, at once."""
    rng = Random(seed)
    names = [name for name, refs in flatten(project).controls.items() if refs]
    moves = []
    for name in rng.sample(names, min(4, len(names))):
        module, _, control_id = name.partition(".")
        control = project.sheets[project.rig.sheet_names[module]].controls[control_id]
        middle = control.hi if control.is_stepped else 0.5 * (control.lo + control.hi)
        moves.append(Move(name, rng.choice([control.lo, middle, control.hi]), 1, 1.0, 2.0))
    return replace(project, setlist=set_of(moves))


def test_leaving_out_an_unheard_move_changes_no_sample_over_random_patches() -> None:
    told = 0
    for seed in range(250):
        project = random_project(seed)
        if not flatten(project).ears:
            continue
        project = with_moves(project, seed)
        assert project.setlist is not None
        (section,) = project.setlist.sections
        for event in read(flatten(project)).unheard:
            told += 1
            kept = [m for i, m in enumerate(section.moves) if i != event.move]
            silent = replace(project, setlist=set_of(kept))
            assert np.array_equal(heard_sound(project), heard_sound(silent)), (seed, event.control)
    assert told >= 2
