"""Set: how the patch is played. Tempo, sections counted in bars, and the moves of two hands."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.errors import NOWHERE, Where
from rigproof.model.patch import Settings
from rigproof.model.sheet import RawValue


@dataclass(frozen=True, slots=True)
class Move:
    """One gesture: a control goes to a value over some beats, by a hand. Bar and beat count from 1 in its section."""

    control: str
    to: RawValue
    bar: int = 1
    beat: float = 1.0
    beats: float = 0.0
    start: RawValue | None = None
    """Where it starts from; None starts from where the control stands."""
    hand: str = "right"
    note: str = ""
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Passage:
    """A section of the set: so many bars at a tempo, with settings at its start and moves inside it."""

    id: str
    title: str = ""
    bars: int = 16
    tempo_bpm: float | None = None
    settings: tuple[Settings, ...] = ()
    moves: tuple[Move, ...] = ()
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Setlist:
    """How the patch is played, from the first bar to the last."""

    name: str
    patch: str = ""
    tempo_bpm: float | None = None
    beats_per_bar: int = 4
    sections: tuple[Passage, ...] = ()
    where: Where = NOWHERE
