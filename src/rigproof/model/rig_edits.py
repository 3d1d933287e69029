"""Edits of what the performer owns: case, supply, what stands beside the case, the box, names; see `edits`."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.model.edits import used_modules, without
from rigproof.model.patch import Map, Patch, Settings
from rigproof.model.project import Inside, Project
from rigproof.model.rig import Board, CableStock, Outside, Rig, Row, Supply
from rigproof.model.setlist import Setlist
from rigproof.model.sheet import Housing

OUTSIDE_SORTS = (Housing.CONTROLLER.value, Housing.INTERFACE.value)


def _rows(project: Project) -> tuple[Row, ...]:
    return project.rig.rows


def _require_row(project: Project, row: int) -> None:
    if not 1 <= row <= len(_rows(project)):
        known = [str(i) for i in range(1, len(_rows(project)) + 1)]
        raise UnknownName(NOWHERE, "row", str(row), known)


def _require_free(project: Project, id_: str) -> None:
    if id_ in project.rig.sheet_names:
        raise RigError(
            NOWHERE,
            f"the id '{id_}' is taken",
            expected="an id of its own for everything in the rig",
        )


@dataclass(frozen=True, slots=True)
class SetRigName:
    """Call the rig something else."""

    name: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"call the rig '{self.name}'"

    def apply(self, project: Project) -> Project:
        """Return the project with the rig called so."""
        return replace(project, rig=replace(project.rig, name=self.name))


# --- case ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AddRow:
    """Put one more row below the others of the case."""

    hp: int
    depth_mm: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"add a row of {self.hp} HP, {self.depth_mm:g} mm deep"

    def apply(self, project: Project) -> Project:
        """Return the project with the row."""
        rows = (*_rows(project), Row(self.hp, self.depth_mm))
        return replace(project, rig=replace(project.rig, rows=rows))


@dataclass(frozen=True, slots=True)
class SetRow:
    """Let a row of the case (from 1) have another width and depth."""

    row: int
    hp: int
    depth_mm: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let row {self.row} be {self.hp} HP wide and {self.depth_mm:g} mm deep"

    def apply(self, project: Project) -> Project:
        """Return the project with the row so."""
        _require_row(project, self.row)
        rows = list(_rows(project))
        rows[self.row - 1] = replace(rows[self.row - 1], hp=self.hp, depth_mm=self.depth_mm)
        return replace(project, rig=replace(project.rig, rows=tuple(rows)))


@dataclass(frozen=True, slots=True)
class RemoveRow:
    """Take an empty row (from 1) out of the case; those below move up, with what hangs in them."""

    row: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"take row {self.row} out of the case"

    def apply(self, project: Project) -> Project:
        """Return the project without the row; raises `RigError` while a module hangs in it."""
        _require_row(project, self.row)
        here = [m.id for m in project.rig.modules if m.row == self.row]
        if here:
            raise RigError(NOWHERE, f"row {self.row} is not empty", found=", ".join(here))
        modules = tuple(
            replace(m, row=m.row - 1) if m.row > self.row else m for m in project.rig.modules
        )
        rows = without(_rows(project), self.row - 1)
        return replace(project, rig=replace(project.rig, rows=rows, modules=modules))


# --- supply ----------------------------------------------------------------------------------------------------------


def _supply(project: Project) -> Supply:
    if project.rig.supply is None:
        raise RigError(NOWHERE, "the rig has no supply", expected="a current for a rail first")
    return project.rig.supply


def _with_supply(project: Project, supply: Supply) -> Project:
    return replace(project, rig=replace(project.rig, supply=supply))


@dataclass(frozen=True, slots=True)
class RemoveRail:
    """Fit a supply without a rail."""

    rail: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"fit a supply without {self.rail}"

    def apply(self, project: Project) -> Project:
        """Return the project with that supply."""
        supply = _supply(project)
        if self.rail not in supply.rails_ma:
            raise UnknownName(NOWHERE, "rail", self.rail, supply.rails_ma)
        rails = {rail: ma for rail, ma in supply.rails_ma.items() if rail != self.rail}
        surge = {rail: ma for rail, ma in supply.surge_ma.items() if rail != self.rail}
        return _with_supply(project, replace(supply, rails_ma=rails, surge_ma=surge))


@dataclass(frozen=True, slots=True)
class SetHeadroom:
    """Keep another share of each rail free."""

    headroom_ratio: float

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"keep {100 * self.headroom_ratio:g} % of each rail free"

    def apply(self, project: Project) -> Project:
        """Return the project with that share."""
        return _with_supply(project, replace(_supply(project), headroom_ratio=self.headroom_ratio))


@dataclass(frozen=True, slots=True)
class AddBoard:
    """Fit one more bus board."""

    board: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"with the power off, fit a bus board {self.board}"

    def apply(self, project: Project) -> Project:
        """Return the project with the board; raises `RigError` when its id is taken."""
        supply = _supply(project)
        if any(b.id == self.board for b in supply.boards):
            raise RigError(
                NOWHERE,
                f"the board '{self.board}' stands already",
                expected="an id of its own for every board",
            )
        return _with_supply(project, replace(supply, boards=(*supply.boards, Board(self.board))))


@dataclass(frozen=True, slots=True)
class RemoveBoard:
    """Take a bus board out; what hangs on it hangs on none then."""

    board: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"with the power off, take the bus board {self.board} out"

    def apply(self, project: Project) -> Project:
        """Return the project without the board."""
        supply = _supply(project)
        ids = [b.id for b in supply.boards]
        if self.board not in ids:
            raise UnknownName(NOWHERE, "bus board", self.board, ids)
        boards = without(supply.boards, ids.index(self.board))
        return _with_supply(project, replace(supply, boards=boards))


# --- beside the case -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AddOutside:
    """Put a controller or an interface beside the case; its sheet must be loaded with the project afterwards."""

    sort: str
    """One of OUTSIDE_SORTS."""
    id: str
    sheet: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"put {self.id} ({self.sheet}) beside the case"

    def apply(self, project: Project) -> Project:
        """Return the project with it; raises `RigError` when its id is taken or it can be no such thing."""
        _require_free(project, self.id)
        if self.sort not in OUTSIDE_SORTS:
            raise UnknownName(NOWHERE, "sort", self.sort, OUTSIDE_SORTS)
        new = Outside(self.id, self.sheet)
        old = project.rig.outside
        place = len(old)
        if self.sort == Housing.CONTROLLER.value:  # controllers stand before interfaces
            place = sum(not _is_interface(project, thing) for thing in old)
        outside = (*old[:place], new, *old[place:])
        return replace(project, rig=replace(project.rig, outside=outside))


def _is_interface(project: Project, thing: Outside) -> bool:
    sheet = project.sheets.get(thing.sheet)
    return sheet is not None and sheet.housing is Housing.INTERFACE


@dataclass(frozen=True, slots=True)
class RemoveOutside:
    """Leave a controller or interface at home, one that nothing in patch or set names."""

    id: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"leave {self.id} at home"

    def apply(self, project: Project) -> Project:
        """Return the project without it; raises `RigError` while something still names it."""
        ids = [o.id for o in project.rig.outside]
        if self.id not in ids:
            raise UnknownName(NOWHERE, "controller or interface", self.id, ids)
        if self.id in used_modules(project):
            raise RigError(NOWHERE, f"patch or set still use '{self.id}'")
        outside = without(project.rig.outside, ids.index(self.id))
        return replace(project, rig=replace(project.rig, outside=outside))


@dataclass(frozen=True, slots=True)
class SetSheet:
    """Take another sheet for a module, controller or interface: its maker's figures, another model."""

    id: str
    sheet: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"let {self.id} be a {self.sheet}"

    def apply(self, project: Project) -> Project:
        """Return the project with it; the sheet must be loaded with the project afterwards."""
        rig = project.rig
        if self.id not in rig.sheet_names:
            raise UnknownName(NOWHERE, "module", self.id, rig.sheet_names)
        return replace(
            project,
            rig=replace(
                rig,
                modules=tuple(
                    replace(m, sheet=self.sheet) if m.id == self.id else m for m in rig.modules
                ),
                outside=tuple(
                    replace(o, sheet=self.sheet) if o.id == self.id else o for o in rig.outside
                ),
            ),
        )


# --- the box ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetStock:
    """Have so many cables of a lead and a length in the box; none takes them out. [cm]"""

    lead: str
    cm: int
    count: int

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"have {self.count} cables of {self.cm} cm ({self.lead}) in the box"

    def apply(self, project: Project) -> Project:
        """Return the project with that stock."""
        old = project.rig.cables
        index = stock_index(old, self.lead, self.cm)
        if self.count == 0:
            if index is None:
                known = [f"{c.lead} {c.cm} cm" for c in old]
                raise UnknownName(NOWHERE, "stock", f"{self.lead} {self.cm} cm", known)
            cables = without(old, index)
        elif index is None:
            cables = (*old, CableStock(self.lead, self.cm, self.count))
        else:
            new = replace(old[index], count=self.count)
            cables = (*old[:index], new, *old[index + 1 :])
        return replace(project, rig=replace(project.rig, cables=cables))


def stock_index(stock: tuple[CableStock, ...], lead: str, cm: int) -> int | None:
    """Return where cables of this lead and length stand first, None where there are none."""
    return next((i for i, c in enumerate(stock) if (c.lead, c.cm) == (lead, cm)), None)


# --- names -----------------------------------------------------------------------------------------------------------


def renamed(name: str, old: str, new: str) -> str:
    """Return `module.thing` or `host/program.thing` with the module called something else.

    >>> (
    ...     renamed("osc.saw", "osc", "low"),
    ...     renamed("osc-2.saw", "osc", "low"),
    ...     renamed("osc/echo.mix", "osc", "low"),
    ... )
    ('low.saw', 'osc-2.saw', 'low/echo.mix')
    """
    if name == old or name.startswith((f"{old}.", f"{old}/")):
        return new + name[len(old) :]
    return name


def renamed_in(text: str, old: str, new: str) -> str:
    """Return a text that names jacks, such as the place of a finding, with a module called something else.

    >>> renamed_in("osc.saw to my-osc.in (2)", "osc", "low")
    'low.saw to my-osc.in (2)'
    """
    return re.sub(rf"(?<![\w./-]){re.escape(old)}(?![\w-])", new, text)


@dataclass(frozen=True, slots=True)
class RenameModule:
    """Call a module, controller or interface something else; everything that names it follows."""

    id: str
    new_id: str

    @property
    def words(self) -> str:
        """What a hand would do."""
        return f"call {self.id} {self.new_id}"

    def apply(self, project: Project) -> Project:
        """Return the project with the new name everywhere; raises `RigError` when it is taken."""
        if self.id not in project.rig.sheet_names:
            raise UnknownName(NOWHERE, "module", self.id, project.rig.sheet_names)
        _require_free(project, self.new_id)
        return replace(
            project,
            rig=self._rig(project.rig),
            patch=self._patch(project.patch),
            setlist=None if project.setlist is None else self._setlist(project.setlist),
            insides=tuple(self._inside(inside) for inside in project.insides),
        )

    def _name(self, name: str) -> str:
        return renamed(name, self.id, self.new_id)

    def _rig(self, rig: Rig) -> Rig:
        supply = rig.supply
        if supply is not None:
            boards = tuple(
                replace(b, modules=tuple(self._name(m) for m in b.modules)) for b in supply.boards
            )
            supply = replace(supply, boards=boards)
        return replace(
            rig,
            supply=supply,
            modules=tuple(replace(m, id=self._name(m.id)) for m in rig.modules),
            outside=tuple(replace(o, id=self._name(o.id)) for o in rig.outside),
        )

    def _patch(self, patch: Patch) -> Patch:
        return replace(
            patch,
            cables=tuple(
                replace(c, source=self._name(c.source), target=self._name(c.target))
                for c in patch.cables
            ),
            settings=self._settings(patch.settings),
            rhythms=tuple(replace(r, slot=self._name(r.slot)) for r in patch.rhythms),
            samples=tuple(replace(s, slot=self._name(s.slot)) for s in patch.samples),
            maps=tuple(self._map(m) for m in patch.maps),
            declined=tuple(
                replace(d, at=renamed_in(d.at, self.id, self.new_id)) for d in patch.declined
            ),
            insides=tuple(replace(i, host=self._name(i.host)) for i in patch.insides),
        )

    def _settings(self, settings: tuple[Settings, ...]) -> tuple[Settings, ...]:
        return tuple(replace(s, control=self._name(s.control)) for s in settings)

    def _map(self, link: Map) -> Map:
        to = tuple(self._name(name) for name in link.to)
        return replace(link, control=self._name(link.control), to=to)

    def _setlist(self, setlist: Setlist) -> Setlist:
        return replace(
            setlist,
            sections=tuple(
                replace(
                    passage,
                    settings=self._settings(passage.settings),
                    moves=tuple(replace(m, control=self._name(m.control)) for m in passage.moves),
                )
                for passage in setlist.sections
            ),
        )

    def _inside(self, inside: Inside) -> Inside:
        """What runs inside a host names its own programs, and from outside only what its mappings listen to."""
        maps = tuple(replace(m, control=self._name(m.control)) for m in inside.patch.maps)
        return replace(inside, host=self._name(inside.host), patch=replace(inside.patch, maps=maps))
