"""The net: sections, the rows that join them, and the nodes where jacks meet. Plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigproof.errors import NOWHERE, Where
from rigproof.kinds.base import Kind, Setting
from rigproof.model.patch import Cable
from rigproof.model.project import Project
from rigproof.model.sheet import Jack

GROUND_ROW = 0
"""The row that is always 0 V."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the bus: what a section writes, or a steady voltage that nobody writes."""

    index: int
    name: str
    steady_v: float | None = None
    writer: int | None = None
    """The section that writes it."""
    is_midi: bool = False


@dataclass(frozen=True, slots=True)
class NetSection:
    """A section of the net, with the rows it reads and writes in the order of its kind's ports."""

    index: int
    name: str
    """`module.section`, or for what the net adds itself a name that says so, such as `node mix.in-1`."""
    module: str
    kind: Kind
    setting: Setting
    ins: tuple[int, ...]
    outs: tuple[int, ...]
    where: Where = NOWHERE

    def input_row(self, port: str) -> int:
        """Return the row that an input port reads."""
        names = [p.name for p in self.kind.expand_inputs(self.setting.ways)]
        return self.ins[names.index(port)]

    def output_row(self, port: str) -> int:
        """Return the row that an output port writes."""
        names = [p.name for p in self.kind.expand_outputs(self.setting.ways)]
        return self.outs[names.index(port)]


@dataclass(frozen=True, slots=True)
class Contact:
    """One conductor of one jack of one module."""

    module: str
    jack: Jack
    lane: str
    row: int
    """The row that holds what is at the jack: the node's voltage, or the message."""
    source_row: int | None = None
    """For an output: what drives it, before its resistance and clamp."""
    node: int | None = None
    """The electrical node it belongs to; None for MIDI and links."""
    is_plugged: bool = False

    @property
    def name(self) -> str:
        """`module.jack`, with the lane where the jack has several."""
        base = f"{self.module}.{self.jack.id}"
        return base if len(self.jack.lanes) <= 1 else f"{base}:{self.lane}"


@dataclass(frozen=True, slots=True)
class Node:
    """Contacts that are joined by cables, mults or normals, and so share one voltage."""

    index: int
    row: int
    contacts: tuple[str, ...]
    """Names of the contacts, outputs first."""
    outputs: tuple[str, ...]
    conductance_s: float
    """Sum of 1/R over outputs and inputs. [S]"""


@dataclass(frozen=True, slots=True)
class Component:
    """Sections that run together: one alone, or a loop that must run sample by sample."""

    sections: tuple[int, ...]
    is_loop: bool = False


@dataclass(frozen=True, slots=True)
class ParamRef:
    """One parameter of one section: its row in the section's `params` and its name."""

    section: int
    row: int
    name: str


@dataclass(frozen=True, slots=True)
class Net:
    """One patch, flat. `components` are in the order in which sound flows."""

    project: Project
    """The project with everything that runs inside a host laid out; names in the net are names in it."""
    rows: tuple[Row, ...]
    sections: tuple[NetSection, ...]
    components: tuple[Component, ...]
    contacts: Mapping[str, Contact]
    """By contact name: `module.jack`, or `module.jack:lane`."""
    nodes: tuple[Node, ...]
    controls: Mapping[str, tuple[ParamRef, ...]]
    """Which parameters each control (`module.control`) sets."""
    tempo_params: tuple[ParamRef, ...] = ()
    links: Mapping[int, Cable] = field(default_factory=dict)
    """The cable behind each section that stands for a MIDI line."""
    by_name: Mapping[str, int] = field(default_factory=dict)
    """Section index by section name."""
    readers: Mapping[int, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    """For each row, who reads it: (section index, position among its inputs)."""
    source: Project | None = None
    """The project as written, its insides still folded: what a fix changes."""

    def section(self, name: str) -> NetSection:
        """Return a section by its name."""
        return self.sections[self.by_name[name]]

    def contact(self, name: str) -> Contact:
        """Return a contact by its name; a bare `module.jack` means the first lane of a jack with several."""
        found = self.contacts.get(name)
        if found is None:
            found = next(
                (c for key, c in self.contacts.items() if key.startswith(name + ":")), None
            )
        if found is None:
            raise KeyError(name)
        return found

    @property
    def ears(self) -> tuple[NetSection, ...]:
        """The sections whose inputs are what the room hears."""
        return tuple(s for s in self.sections if s.kind.is_ear)
