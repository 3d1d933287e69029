"""Edits of the patch as a whole, of its rhythms and mappings, and of what it lets stand; see `edits`."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rigproof.errors import NOWHERE, UnknownName
from rigproof.model.edits import cable_index, map_index, swapped, without
from rigproof.model.project import Project


@dataclass(frozen=True, slots=True)
class SetTempo:
    """Let the patch stand at another tempo. [beats a minute]"""

    tempo_bpm: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"set the tempo to {self.tempo_bpm:g} beats a minute"

    def apply(self, project: Project) -> Project:
        """Return the project at that tempo."""
        return replace(project, patch=replace(project.patch, tempo_bpm=self.tempo_bpm))


@dataclass(frozen=True, slots=True)
class SetSeed:
    """Let all chance follow from another number."""

    seed: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let chance follow from {self.seed}"

    def apply(self, project: Project) -> Project:
        """Return the project with that seed."""
        return replace(project, patch=replace(project.patch, seed=self.seed))


@dataclass(frozen=True, slots=True)
class SetPatchName:
    """Call the patch something else."""

    name: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"call the patch '{self.name}'"

    def apply(self, project: Project) -> Project:
        """Return the project with the patch called so."""
        return replace(project, patch=replace(project.patch, name=self.name))


@dataclass(frozen=True, slots=True)
class SetCableColour:
    """Take a cable of another colour; none says nothing about it."""

    source: str
    target: str
    colour: str
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"take a {self.colour or 'plain'} cable for {self.source} to {self.target}"

    def apply(self, project: Project) -> Project:
        """Return the project with the cable of that colour."""
        cables = project.patch.cables
        index = cable_index(project, self.source, self.target, self.nth)
        new = swapped(cables, index, replace(cables[index], colour=self.colour))
        return replace(project, patch=replace(project.patch, cables=new))


@dataclass(frozen=True, slots=True)
class RemoveRhythm:
    """Take everything out of a rhythm slot (`module.slot`)."""

    slot: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"empty the rhythm {self.slot}"

    def apply(self, project: Project) -> Project:
        """Return the project without it; raises `UnknownName` when nothing is in the slot."""
        rhythms = project.patch.rhythms
        known = [r.slot for r in rhythms]
        if self.slot not in known:
            raise UnknownName(NOWHERE, "rhythm", self.slot, known)
        kept = without(rhythms, known.index(self.slot))
        return replace(project, patch=replace(project.patch, rhythms=kept))


@dataclass(frozen=True, slots=True)
class SetMapTargets:
    """Let other slots listen to the `nth` (from 0) mapping of a control."""

    control: str
    to: tuple[str, ...]
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let {', '.join(self.to) or 'nothing'} listen to {self.control}"

    def apply(self, project: Project) -> Project:
        """Return the project with these slots listening and no others."""
        index = map_index(project, self.control, self.nth)
        maps = swapped(project.patch.maps, index, replace(project.patch.maps[index], to=self.to))
        return replace(project, patch=replace(project.patch, maps=maps))


@dataclass(frozen=True, slots=True)
class Undecline:
    """Let a finding stand no longer."""

    finding: str
    at: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let {self.finding} at {self.at} stand no longer"

    def apply(self, project: Project) -> Project:
        """Return the project without what declines it; raises `UnknownName` when nothing does."""
        declined = project.patch.declined
        kept = tuple(d for d in declined if (d.finding, d.at) != (self.finding, self.at))
        if len(kept) == len(declined):
            known = [f"{d.finding} at {d.at}" for d in declined]
            name = f"{self.finding} at {self.at}"
            raise UnknownName(NOWHERE, "declined finding", name, known)
        return replace(project, patch=replace(project.patch, declined=kept))
