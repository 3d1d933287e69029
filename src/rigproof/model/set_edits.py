"""Edits of the set: its tempo, its sections and the moves in them; see `edits`."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.model.edits import passage_of, shown, swapped, with_passage, without
from rigproof.model.patch import Settings
from rigproof.model.project import Project
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import RawValue


def _setlist(project: Project) -> Setlist:
    if project.setlist is None:
        raise RigError(NOWHERE, "this project has no set", expected="a file NAME.set.toml")
    return project.setlist


@dataclass(frozen=True, slots=True)
class SetSetTempo:
    """Let the set be played at another tempo; None takes the patch's. [beats a minute]"""

    tempo_bpm: float | None

    @property
    def words(self) -> str:
        """What a hand would do."""
        if self.tempo_bpm is None:
            return "play the set at the tempo of the patch"
        return f"play the set at {self.tempo_bpm:g} beats a minute"

    def apply(self, project: Project) -> Project:
        """Return the project with the set at that tempo."""
        return replace(project, setlist=replace(_setlist(project), tempo_bpm=self.tempo_bpm))


@dataclass(frozen=True, slots=True)
class SetBeatsPerBar:
    """Count so many beats in a bar of the set."""

    beats_per_bar: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"count {self.beats_per_bar} beats in a bar"

    def apply(self, project: Project) -> Project:
        """Return the project with such bars."""
        setlist = replace(_setlist(project), beats_per_bar=self.beats_per_bar)
        return replace(project, setlist=setlist)


@dataclass(frozen=True, slots=True)
class SetSetName:
    """Call the set something else."""

    name: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"call the set '{self.name}'"

    def apply(self, project: Project) -> Project:
        """Return the project with the set called so."""
        return replace(project, setlist=replace(_setlist(project), name=self.name))


# --- sections --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AddPassage:
    """Put a section into the set, as number `index` (from 0); at the end where nobody says."""

    passage: str
    bars: int
    title: str = ""
    tempo_bpm: float | None = None
    index: int | None = None

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"add the section {self.passage} of {self.bars} bars"

    def apply(self, project: Project) -> Project:
        """Return the project with the section; raises `RigError` when its id is taken."""
        setlist = _setlist(project)
        if any(p.id == self.passage for p in setlist.sections):
            raise RigError(
                NOWHERE,
                f"the id '{self.passage}' is taken",
                expected="an id of its own for every section",
            )
        place = len(setlist.sections) if self.index is None else self.index
        require_place(place, len(setlist.sections))
        new = Passage(self.passage, self.title, self.bars, self.tempo_bpm)
        sections = (*setlist.sections[:place], new, *setlist.sections[place:])
        return replace(project, setlist=replace(setlist, sections=sections))


def require_place(index: int, last: int) -> None:
    """Raise `RigError` when a place in a list is none."""
    if not 0 <= index <= last:
        raise RigError(NOWHERE, "there is no such place", found=str(index), expected=f"0 to {last}")


@dataclass(frozen=True, slots=True)
class SetPassage:
    """Give a section of the set its title, its bars and its tempo; None takes the set's. [beats a minute]"""

    passage: str
    bars: int
    title: str = ""
    tempo_bpm: float | None = None

    @property
    def words(self) -> str:
        """What a hand would do."""
        tempo = f" at {self.tempo_bpm:g} beats a minute" if self.tempo_bpm is not None else ""
        return f"let the section {self.passage} last {self.bars} bars{tempo}"

    def apply(self, project: Project) -> Project:
        """Return the project with the section so."""
        place, old = passage_of(project, self.passage)
        new = replace(old, title=self.title, bars=self.bars, tempo_bpm=self.tempo_bpm)
        return with_passage(project, place, new)


@dataclass(frozen=True, slots=True)
class RemovePassage:
    """Take a section out of the set, with its moves."""

    passage: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"take the section {self.passage} out"

    def apply(self, project: Project) -> Project:
        """Return the project without the section."""
        place, _ = passage_of(project, self.passage)
        setlist = _setlist(project)
        kept = without(setlist.sections, place)
        return replace(project, setlist=replace(setlist, sections=kept))


@dataclass(frozen=True, slots=True)
class MovePassage:
    """Play a section of the set as number `index` (from 0)."""

    passage: str
    index: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"play the section {self.passage} as number {self.index + 1}"

    def apply(self, project: Project) -> Project:
        """Return the project with the section in that place."""
        place, moved = passage_of(project, self.passage)
        setlist = _setlist(project)
        require_place(self.index, len(setlist.sections) - 1)
        rest = without(setlist.sections, place)
        sections = (*rest[: self.index], moved, *rest[self.index :])
        return replace(project, setlist=replace(setlist, sections=sections))


@dataclass(frozen=True, slots=True)
class SetPassageControl:
    """Let a control stand somewhere when a section of the set begins."""

    passage: str
    control: str
    value: RawValue

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"begin the section {self.passage} with {self.control} at {shown(self.value)}"

    def apply(self, project: Project) -> Project:
        """Return the project with the setting, whether or not the section named the control before."""
        place, old = passage_of(project, self.passage)
        known = [s.control for s in old.settings]
        if self.control in known:
            index = known.index(self.control)
            new = replace(old.settings[index], value=self.value)
            settings = swapped(old.settings, index, new)
        else:
            settings = (*old.settings, Settings(self.control, self.value))
        return with_passage(project, place, replace(old, settings=settings))


@dataclass(frozen=True, slots=True)
class ForgetPassageControl:
    """Say nothing about a control any more when a section of the set begins."""

    passage: str
    control: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"begin the section {self.passage} with {self.control} as it stands"

    def apply(self, project: Project) -> Project:
        """Return the project without the setting; raises `UnknownName` when there is none."""
        place, old = passage_of(project, self.passage)
        known = [s.control for s in old.settings]
        if self.control not in known:
            raise UnknownName(NOWHERE, "setting", self.control, known, owner=self.passage)
        settings = without(old.settings, known.index(self.control))
        return with_passage(project, place, replace(old, settings=settings))


# --- moves -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AddMove:
    """Let a hand move a control in a section of the set."""

    passage: str
    control: str
    to: RawValue
    bar: int = 1
    beat: float = 1.0
    beats: float = 0.0
    start: RawValue | None = None
    hand: str = "right"
    note: str = ""

    @property
    def words(self) -> str:
        """What a hand would do."""
        return (
            f"in section {self.passage}, bar {self.bar}, move {self.control} to {shown(self.to)} "
            f"with the {self.hand} hand"
        )

    @property
    def move(self) -> Move:
        """The move itself."""
        return _move_of(self)

    def apply(self, project: Project) -> Project:
        """Return the project with the move at the end of the section's list."""
        place, old = passage_of(project, self.passage)
        return with_passage(project, place, replace(old, moves=(*old.moves, self.move)))


@dataclass(frozen=True, slots=True)
class SetMove:
    """Make the move number `index` (from 0) of a section of the set another one."""

    passage: str
    index: int
    control: str
    to: RawValue
    bar: int = 1
    beat: float = 1.0
    beats: float = 0.0
    start: RawValue | None = None
    hand: str = "right"
    note: str = ""

    @property
    def words(self) -> str:
        """What a hand would do."""
        return (
            f"in section {self.passage}, let move {self.index + 1} take {self.control} to "
            f"{shown(self.to)} in bar {self.bar}"
        )

    @property
    def move(self) -> Move:
        """The move itself."""
        return _move_of(self)

    def apply(self, project: Project) -> Project:
        """Return the project with the move in the other's place."""
        place, old = passage_of(project, self.passage)
        _require_move(old, self.index)
        new = replace(self.move, where=old.moves[self.index].where)
        return with_passage(project, place, replace(old, moves=swapped(old.moves, self.index, new)))


def _move_of(said: AddMove | SetMove) -> Move:
    return Move(
        said.control, said.to, said.bar, said.beat, said.beats, said.start, said.hand, said.note
    )


@dataclass(frozen=True, slots=True)
class RemoveMove:
    """Take out the move number `index` (from 0) of a section of the set."""

    passage: str
    index: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"in section {self.passage}, leave out move {self.index + 1}"

    def apply(self, project: Project) -> Project:
        """Return the project without the move."""
        place, old = passage_of(project, self.passage)
        _require_move(old, self.index)
        return with_passage(project, place, replace(old, moves=without(old.moves, self.index)))


def _require_move(passage: Passage, index: int) -> None:
    if not 0 <= index < len(passage.moves):
        known = [str(i) for i in range(len(passage.moves))]
        raise UnknownName(NOWHERE, "move", str(index), known, owner=passage.id)
