"""Edits: small changes to a project as values, to be shown, applied to a copy, or written to the files.

An edit changes one thing that the performer could change by hand. It never touches the project that it is given: it
returns a new one. Every edit says in `words` what a hand would do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol, TypeVar

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.model.patch import Cable, Declined, Filling, Map, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Board, Mounted, Supply
from rigproof.model.setlist import Move, Passage
from rigproof.model.sheet import RawValue

T = TypeVar("T")


class Edit(Protocol):
    """One change to a project."""

    @property
    def words(self) -> str:
        """What a hand would do, as an order without a full stop."""

    def apply(self, project: Project) -> Project:
        """Return the project with the change made; raises `RigError` when what it names is not there."""


def apply_edits(project: Project, edits: Sequence[Edit]) -> Project:
    """Return the project with all edits made, one after the other.

    Raises `RigError` when an edit names what is not there; nothing is changed then, since nothing ever is.
    """
    for edit in edits:
        project = edit.apply(project)
    return project


def swapped(items: tuple[T, ...], index: int, item: T) -> tuple[T, ...]:
    """Return the items with another one in the place of number `index`."""
    return (*items[:index], item, *items[index + 1 :])


def without(items: tuple[T, ...], index: int) -> tuple[T, ...]:
    """Return the items but for number `index`."""
    return (*items[:index], *items[index + 1 :])


# --- cables ----------------------------------------------------------------------------------------------------------


def cable_index(project: Project, source: str, target: str, nth: int = 0) -> int:
    """Return where the `nth` cable from `source` to `target` stands; raises `UnknownName` when there is none."""
    found = [
        i
        for i, cable in enumerate(project.patch.cables)
        if (cable.source, cable.target) == (source, target)
    ]
    if nth >= len(found):
        known = [f"{c.source} to {c.target}" for c in project.patch.cables]
        raise UnknownName(NOWHERE, "cable", f"{source} to {target}", known)
    return found[nth]


def _with_cables(project: Project, cables: tuple[Cable, ...]) -> Project:
    return replace(project, patch=replace(project.patch, cables=cables))


@dataclass(frozen=True, slots=True)
class AddCable:
    """Plug in one more cable."""

    cable: Cable

    @property
    def words(self) -> str:
        """What a hand would do."""
        length = f" with a cable of {self.cable.cm} cm" if self.cable.cm else ""
        return f"plug {self.cable.source} into {self.cable.target}{length}"

    def apply(self, project: Project) -> Project:
        """Return the project with the cable at the end of the list."""
        return _with_cables(project, (*project.patch.cables, self.cable))


@dataclass(frozen=True, slots=True)
class RemoveCable:
    """Pull out one cable: the `nth` (from 0) of those with these ends."""

    source: str
    target: str
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        which = f" (number {self.nth + 1} of them)" if self.nth else ""
        return f"pull out the cable {self.source} to {self.target}{which}"

    def apply(self, project: Project) -> Project:
        """Return the project without the cable."""
        index = cable_index(project, self.source, self.target, self.nth)
        return _with_cables(project, without(project.patch.cables, index))


@dataclass(frozen=True, slots=True)
class Replug:
    """Move a cable to other ends; its colour and length stay."""

    source: str
    target: str
    new_source: str
    new_target: str
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        moves = []
        if self.new_source != self.source:
            moves.append(f"from {self.source} to {self.new_source}")
        if self.new_target != self.target:
            moves.append(f"from {self.target} to {self.new_target}")
        return (
            f"on the cable {self.source} to {self.target}, move the plug "
            + " and the one ".join(moves or ["nowhere"])
        )

    def apply(self, project: Project) -> Project:
        """Return the project with the cable moved."""
        index = cable_index(project, self.source, self.target, self.nth)
        old = project.patch.cables[index]
        new = replace(old, source=self.new_source, target=self.new_target)
        return _with_cables(project, swapped(project.patch.cables, index, new))


@dataclass(frozen=True, slots=True)
class SetCableLength:
    """Take a cable of another length; None says nothing about it. [cm]"""

    source: str
    target: str
    cm: int | None
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        length = "any length" if self.cm is None else f"{self.cm} cm"
        return f"take a cable of {length} for {self.source} to {self.target}"

    def apply(self, project: Project) -> Project:
        """Return the project with the longer or shorter cable."""
        index = cable_index(project, self.source, self.target, self.nth)
        new = replace(project.patch.cables[index], cm=self.cm)
        return _with_cables(project, swapped(project.patch.cables, index, new))


@dataclass(frozen=True, slots=True)
class SetCableLead:
    """Take another sort of cable; None takes the sort that the jacks need."""

    source: str
    target: str
    lead: str | None
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        lead = "the lead that fits" if self.lead is None else f"a {self.lead} cable"
        return f"take {lead} for {self.source} to {self.target}"

    def apply(self, project: Project) -> Project:
        """Return the project with the other lead."""
        index = cable_index(project, self.source, self.target, self.nth)
        new = replace(project.patch.cables[index], lead=self.lead)
        return _with_cables(project, swapped(project.patch.cables, index, new))


# --- settings, rhythms, maps -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetControl:
    """Set a knob, fader, switch or menu (`module.control`) in the patch."""

    control: str
    value: RawValue

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"set {self.control} to {shown(self.value)}"

    def apply(self, project: Project) -> Project:
        """Return the project with the control there, whether or not the patch named it before."""
        settings = project.patch.settings
        for index, old in enumerate(settings):
            if old.control == self.control:
                settings = swapped(settings, index, replace(old, value=self.value))
                break
        else:
            settings = (*settings, Settings(self.control, self.value))
        return replace(project, patch=replace(project.patch, settings=settings))


def shown(value: RawValue) -> str:
    """Return a value as it is told."""
    return f"{value:.4g}" if isinstance(value, float) else str(value)


@dataclass(frozen=True, slots=True)
class ForgetControl:
    """Say nothing about a control any more: it stands where its sheet says."""

    control: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"put {self.control} back to where its sheet has it"

    def apply(self, project: Project) -> Project:
        """Return the project without the setting; raises `UnknownName` when the patch does not name it."""
        settings = project.patch.settings
        known = [s.control for s in settings]
        if self.control not in known:
            raise UnknownName(NOWHERE, "setting", self.control, known)
        kept = without(settings, known.index(self.control))
        return replace(project, patch=replace(project.patch, settings=kept))


@dataclass(frozen=True, slots=True)
class SetSamples:
    """Put sound files of the project folder into a sample slot (`module.slot`); none empties it."""

    slot: str
    files: tuple[str, ...]

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"load {', '.join(self.files) or 'nothing'} into {self.slot}"

    def apply(self, project: Project) -> Project:
        """Return the project with these files in the slot, whatever was in it before."""
        samples = project.patch.samples
        index = next((i for i, s in enumerate(samples) if s.slot == self.slot), len(samples))
        new = (Filling(self.slot, {"files": self.files}),) if self.files else ()
        samples = (*samples[:index], *new, *samples[index + 1 :])
        return replace(project, patch=replace(project.patch, samples=samples))


@dataclass(frozen=True, slots=True)
class SetRhythm:
    """Set one option of a rhythm slot (`module.slot`)."""

    slot: str
    option: str
    value: RawValue

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"in the rhythm {self.slot}, set {self.option} to {shown(self.value)}"

    def apply(self, project: Project) -> Project:
        """Return the project with the option set."""
        rhythms = project.patch.rhythms
        for index, old in enumerate(rhythms):
            if old.slot == self.slot:
                new = replace(old, values={**old.values, self.option: self.value})
                rhythms = swapped(rhythms, index, new)
                break
        else:
            rhythms = (*rhythms, Filling(self.slot, {self.option: self.value}))
        return replace(project, patch=replace(project.patch, rhythms=rhythms))


@dataclass(frozen=True, slots=True)
class AddMap:
    """Let a control send one more controller number."""

    link: Map

    @property
    def words(self) -> str:
        """What a hand would do."""
        heard = f" to {', '.join(self.link.to)}" if self.link.to else ""
        return (
            f"let {self.link.control} send controller {self.link.cc} on channel "
            f"{self.link.channel}{heard}"
        )

    def apply(self, project: Project) -> Project:
        """Return the project with the mapping at the end of the list."""
        maps = (*project.patch.maps, self.link)
        return replace(project, patch=replace(project.patch, maps=maps))


@dataclass(frozen=True, slots=True)
class SetMap:
    """Give the `nth` (from 0) mapping of a control another controller number and channel."""

    control: str
    cc: int
    channel: int = 1
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let {self.control} send controller {self.cc} on channel {self.channel}"

    def apply(self, project: Project) -> Project:
        """Return the project with the mapping changed; what it is mapped to stays."""
        index = map_index(project, self.control, self.nth)
        new = replace(project.patch.maps[index], cc=self.cc, channel=self.channel)
        maps = swapped(project.patch.maps, index, new)
        return replace(project, patch=replace(project.patch, maps=maps))


@dataclass(frozen=True, slots=True)
class RemoveMap:
    """Take away the `nth` (from 0) mapping of a control."""

    control: str
    nth: int = 0

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"take away the mapping of {self.control}"

    def apply(self, project: Project) -> Project:
        """Return the project without the mapping."""
        index = map_index(project, self.control, self.nth)
        maps = without(project.patch.maps, index)
        return replace(project, patch=replace(project.patch, maps=maps))


def map_index(project: Project, control: str, nth: int) -> int:
    """Return where the `nth` mapping of a control stands; raises `UnknownName` when there is none."""
    maps: tuple[Map, ...] = project.patch.maps
    found = [i for i, link in enumerate(maps) if link.control == control]
    if nth >= len(found):
        raise UnknownName(NOWHERE, "mapped control", control, [m.control for m in maps])
    return found[nth]


@dataclass(frozen=True, slots=True)
class Decline:
    """Let a finding stand, and say why."""

    finding: str
    at: str
    reason: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let {self.finding} at {self.at} stand: {self.reason}"

    def apply(self, project: Project) -> Project:
        """Return the project with the finding declined; where it is already, with this reason instead."""
        key = (self.finding, self.at)
        before = project.patch.declined
        if any((d.finding, d.at) == key for d in before):
            declined = tuple(
                replace(d, reason=self.reason) if (d.finding, d.at) == key else d for d in before
            )
        else:
            declined = (*before, Declined(self.finding, self.at, self.reason))
        return replace(project, patch=replace(project.patch, declined=declined))


# --- rig -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AddModule:
    """Screw one more module in; what its sheet says must be loaded with the project afterwards."""

    module: Mounted

    @property
    def words(self) -> str:
        """What a hand would do."""
        way = ", upside down" if self.module.turned else ""
        return f"mount {self.module.id} in row {self.module.row} from HP {self.module.hp}{way}"

    def apply(self, project: Project) -> Project:
        """Return the project with the module; raises `RigError` when its id is taken."""
        if self.module.id in project.rig.sheet_names:
            raise RigError(
                NOWHERE,
                f"the id '{self.module.id}' is taken",
                expected="an id of its own for everything in the rig",
            )
        return _with_modules(project, (*project.rig.modules, self.module))


@dataclass(frozen=True, slots=True)
class MoveModule:
    """Screw a module in elsewhere: row from 1, left edge in HP from 0."""

    module: str
    row: int
    hp: int
    turned: bool = False

    @property
    def words(self) -> str:
        """What a hand would do."""
        way = ", upside down" if self.turned else ""
        return f"mount {self.module} in row {self.row} from HP {self.hp}{way}"

    def apply(self, project: Project) -> Project:
        """Return the project with the module there."""
        index = _module_index(project, self.module)
        old = project.rig.modules[index]
        new = replace(old, row=self.row, hp=self.hp, turned=self.turned)
        return _with_modules(project, swapped(project.rig.modules, index, new))


@dataclass(frozen=True, slots=True)
class RemoveModule:
    """Take a module out of the case, one that nothing in patch or set names."""

    module: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"take {self.module} out of the case"

    def apply(self, project: Project) -> Project:
        """Return the project without the module; raises `RigError` while something still names it."""
        if self.module in used_modules(project):
            raise RigError(NOWHERE, f"patch or set still use '{self.module}'")
        index = _module_index(project, self.module)
        project = _with_modules(project, without(project.rig.modules, index))
        return _with_boards(project, _off_all(_boards(project), self.module))


def _module_index(project: Project, module: str) -> int:
    ids = [m.id for m in project.rig.modules]
    if module not in ids:
        raise UnknownName(NOWHERE, "module", module, ids)
    return ids.index(module)


def _with_modules(project: Project, modules: tuple[Mounted, ...]) -> Project:
    return replace(project, rig=replace(project.rig, modules=modules))


def used_modules(project: Project) -> set[str]:
    """Return the ids of all modules that a cable, setting, rhythm, sample bank, mapping or move names."""
    patch = project.patch
    names = [end for cable in patch.cables for end in (cable.source, cable.target)]
    names += [setting.control for setting in patch.settings]
    names += [filling.slot for filling in (*patch.rhythms, *patch.samples)]
    names += [name for link in patch.maps for name in (link.control, *link.to)]
    if project.setlist is not None:
        for passage in project.setlist.sections:
            names += [setting.control for setting in passage.settings]
            names += [move.control for move in passage.moves]
    return {name.partition(".")[0] for name in names}


@dataclass(frozen=True, slots=True)
class SetRail:
    """Fit a supply that gives another current on one rail. [mA]"""

    rail: str
    ma: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"fit a supply that gives {self.ma:g} mA on {self.rail}"

    def apply(self, project: Project) -> Project:
        """Return the project with that supply."""
        supply = project.rig.supply or Supply()
        new = replace(supply, rails_ma={**supply.rails_ma, self.rail: self.ma})
        return replace(project, rig=replace(project.rig, supply=new))


@dataclass(frozen=True, slots=True)
class SetSurge:
    """Fit a supply that bears another surge on one rail. [mA]"""

    rail: str
    ma: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"fit a supply that bears a surge of {self.ma:g} mA on {self.rail}"

    def apply(self, project: Project) -> Project:
        """Return the project with that supply."""
        supply = project.rig.supply or Supply()
        new = replace(supply, surge_ma={**supply.surge_ma, self.rail: self.ma})
        return replace(project, rig=replace(project.rig, supply=new))


@dataclass(frozen=True, slots=True)
class SetRibbon:
    """Join a module to the bus by another ribbon."""

    module: str
    ribbon: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"with the power off, join {self.module} to the bus by a {self.ribbon} ribbon"

    def apply(self, project: Project) -> Project:
        """Return the project with that ribbon."""
        index = _module_index(project, self.module)
        new = replace(project.rig.modules[index], ribbon=self.ribbon)
        return _with_modules(project, swapped(project.rig.modules, index, new))


@dataclass(frozen=True, slots=True)
class HangOnBoard:
    """Plug a module's ribbon into a bus board, and out of any other."""

    module: str
    board: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"with the power off, plug the ribbon of {self.module} into the board {self.board}"

    def apply(self, project: Project) -> Project:
        """Return the project with the module on that board only."""
        _module_index(project, self.module)
        boards = _off_all(_boards(project), self.module)
        index = _board_index(boards, self.board)
        new = replace(boards[index], modules=(*boards[index].modules, self.module))
        return _with_boards(project, swapped(boards, index, new))


@dataclass(frozen=True, slots=True)
class SetBoardLead:
    """Feed a bus board through a lead of another cross-section. [mm2]"""

    board: str
    mm2: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"have the board {self.board} fed by a lead of {self.mm2:g} mm2 a conductor"

    def apply(self, project: Project) -> Project:
        """Return the project with the other lead."""
        boards = _boards(project)
        index = _board_index(boards, self.board)
        new = replace(boards[index], mm2=self.mm2)
        return _with_boards(project, swapped(boards, index, new))


def _boards(project: Project) -> tuple[Board, ...]:
    return project.rig.supply.boards if project.rig.supply is not None else ()


def _board_index(boards: tuple[Board, ...], board: str) -> int:
    ids = [b.id for b in boards]
    if board not in ids:
        raise UnknownName(NOWHERE, "bus board", board, ids)
    return ids.index(board)


def _off_all(boards: tuple[Board, ...], module: str) -> tuple[Board, ...]:
    return tuple(replace(b, modules=tuple(m for m in b.modules if m != module)) for b in boards)


def _with_boards(project: Project, boards: tuple[Board, ...]) -> Project:
    supply = project.rig.supply
    if supply is None or supply.boards == boards:
        return project
    return replace(project, rig=replace(project.rig, supply=replace(supply, boards=boards)))


# --- set -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetMoveLength:
    """Let the move number `index` (from 0) of a section of the set take other beats."""

    passage: str
    index: int
    beats: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"in section {self.passage}, let move {self.index + 1} take {self.beats:g} beats"

    def apply(self, project: Project) -> Project:
        """Return the project with the move longer or shorter."""
        return _with_move(project, self.passage, self.index, beats=self.beats)


@dataclass(frozen=True, slots=True)
class SetMoveHand:
    """Give the move number `index` (from 0) of a section of the set to a hand."""

    passage: str
    index: int
    hand: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"in section {self.passage}, give move {self.index + 1} to the {self.hand} hand"

    def apply(self, project: Project) -> Project:
        """Return the project with the move in that hand."""
        return _with_move(project, self.passage, self.index, hand=self.hand)


@dataclass(frozen=True, slots=True)
class FreeMoveStart:
    """Let the move number `index` (from 0) of a section of the set begin where the control stands."""

    passage: str
    index: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return (
            f"in section {self.passage}, let move {self.index + 1} begin where the control stands"
        )

    def apply(self, project: Project) -> Project:
        """Return the project with the move's own start taken out."""
        return _with_move(project, self.passage, self.index, start=None)


@dataclass(frozen=True, slots=True)
class GlideSetting:
    """Turn a setting at the start of a section of the set into a move of so many beats by a hand."""

    passage: str
    control: str
    beats: float
    hand: str = "right"

    @property
    def words(self) -> str:
        """What a hand would do."""
        return (
            f"in section {self.passage}, move {self.control} there over {self.beats:g} beats with "
            f"the {self.hand} hand instead of setting it"
        )

    def apply(self, project: Project) -> Project:
        """Return the project with the move in the setting's place."""
        place, old = passage_of(project, self.passage)
        index = next((i for i, s in enumerate(old.settings) if s.control == self.control), None)
        if index is None:
            known = [s.control for s in old.settings]
            raise UnknownName(NOWHERE, "setting", self.control, known, owner=self.passage)
        move = Move(self.control, old.settings[index].value, beats=self.beats, hand=self.hand)
        new = replace(old, settings=without(old.settings, index), moves=(*old.moves, move))
        return with_passage(project, place, new)


def passage_of(project: Project, name: str) -> tuple[int, Passage]:
    """Return where a section of the set stands, and the section; raises `UnknownName` when there is none."""
    passages = project.setlist.sections if project.setlist is not None else ()
    ids = [p.id for p in passages]
    if name not in ids:
        raise UnknownName(NOWHERE, "section of the set", name, ids)
    place = ids.index(name)
    return place, passages[place]


def with_passage(project: Project, place: int, new: Passage) -> Project:
    """Return the project with another section in that place."""
    assert project.setlist is not None  # it has a section, so it is there
    setlist = project.setlist
    return replace(
        project, setlist=replace(setlist, sections=swapped(setlist.sections, place, new))
    )


def _with_move(project: Project, passage: str, index: int, **changes: Any) -> Project:
    place, old = passage_of(project, passage)
    if not 0 <= index < len(old.moves):
        known = [str(i) for i in range(len(old.moves))]
        raise UnknownName(NOWHERE, "move", str(index), known, owner=passage)
    move = replace(old.moves[index], **changes)
    return with_passage(project, place, replace(old, moves=swapped(old.moves, index, move)))
