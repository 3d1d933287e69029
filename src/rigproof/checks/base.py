"""What a check is: a function with a name that reads one bench and yields findings. Every family builds on this.

A check reads and yields, and does nothing else: it prints nothing, orders nothing and silences nothing; the runner
does that once. Its docstring is what the performer reads: the fault in the first line, then `On stage:`, `Fix:`,
`Blind to:` and `Source:`.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from rigproof.checks.told import read_parts, table_of
from rigproof.errors import NOWHERE, Where
from rigproof.kinds.base import Level, Pulse, Span
from rigproof.model.edits import Edit
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Outside
from rigproof.model.sheet import Jack, Sheet
from rigproof.net.flatten import flatten
from rigproof.net.graph import Contact, Net, NetSection, Node
from rigproof.readings.heard import Heard
from rigproof.readings.messages import Message, is_sender, message_of
from rigproof.readings.proof import Readings, read

LIBRARY = "library/"
"""How the file of a library sheet begins."""


class Severity(StrEnum):
    """How much a finding matters, worst first."""

    STOPS_THE_SHOW = "stops-the-show"
    HURTS = "hurts"
    WORTH_KNOWING = "worth-knowing"

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True)
class Fix:
    """What would end the finding: in words, as edits, and whether it may be done unasked."""

    words: str
    edits: tuple[Edit, ...]
    is_safe: bool = False
    """Nothing that is heard or seen changes but the fault itself."""


def fix_of(*edits: Edit, is_safe: bool = False) -> Fix:
    """Return the fix that consists of these edits, in their own words."""
    return Fix("; ".join(edit.words for edit in edits), edits, is_safe)


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check has to say: where, the numbers, why it matters, and the computed fix (None if none is honest)."""

    at: str
    message: str
    evidence: Mapping[str, float] = field(default_factory=dict)
    """Numbers with their unit as suffix of the key."""
    fix: Fix | None = None
    where: Where = NOWHERE
    check: str = ""
    """Name and severity of the check: the runner puts them here."""
    severity: Severity = Severity.WORTH_KNOWING
    declined: str | None = None
    """Why the performer lets it stand, if they do."""


@dataclass(frozen=True)
class Bench:
    """What every check gets: the project, its net and the readings, with the questions that checks share."""

    project: Project
    net: Net
    readings: Readings
    heard: Heard | None = None
    """What a stretch of sound has shown, where one was played."""

    @classmethod
    def of(cls, project: Project, *, heard: Heard | None = None) -> Bench:
        """Flatten and read a project; raises `RigErrors` when its names or numbers are wrong."""
        net = flatten(project)
        return cls(project, net, read(net), heard)

    def seen(self, row: int) -> Span | None:
        """Return how far a row went in the sound that was played; None where none was. [V]"""
        return None if self.heard is None else self.heard.span(row)

    @cached_property
    def sheet_names(self) -> Mapping[str, str]:
        """The sheet name of every module, controller, interface and program."""
        return self.net.project.rig.sheet_names

    def sheet(self, module: str) -> Sheet:
        """Return the sheet of a module."""
        return self.project.sheets[self.sheet_names[module]]

    def jack(self, name: str) -> Jack:
        """Return the jack that `module.jack` names."""
        module, _, jack = name.partition(".")
        return self.sheet(module).jacks[jack]

    @cached_property
    def contacts_of(self) -> Mapping[str, tuple[Contact, ...]]:
        """The contacts of every jack (`module.jack`), one a lane."""
        found: dict[str, list[Contact]] = {}
        for contact in self.net.contacts.values():
            found.setdefault(f"{contact.module}.{contact.jack.id}", []).append(contact)
        return {name: tuple(contacts) for name, contacts in found.items()}

    def jack_into(self, section: NetSection, port: str) -> Contact | None:
        """Return the input contact that feeds a port of a section, if one does."""
        local = section.name.removeprefix(f"{section.module}.")
        return self._feeds.get((section.module, f"{local}.{port}"))

    @cached_property
    def _feeds(self) -> Mapping[tuple[str, str], Contact]:
        return {
            (contact.module, port): contact
            for contact in self.net.contacts.values()
            if contact.source_row is None
            for port in contact.jack.lanes.get(contact.lane, ())
        }

    @cached_property
    def cables_at(self) -> Mapping[str, tuple[int, ...]]:
        """Which cables of the patch are plugged into each jack (`module.jack`)."""
        found: dict[str, list[int]] = {}
        for index, cable in enumerate(self.project.patch.cables):
            for end in dict.fromkeys((cable.source, cable.target)):
                found.setdefault(end, []).append(index)
        return {name: tuple(indices) for name, indices in found.items()}

    def where(self, place: str) -> Where:
        """Return the lines that say what stands at a place: a contact, a jack or a section."""
        contact = self.net.contacts.get(place)
        if contact is not None:
            return contact.jack.where
        if place in self.net.by_name:
            return self.net.section(place).where
        return NOWHERE

    def line_of_ones_own(self, place: str, where: Where) -> Where:
        """Return `where`, or where that is in a library sheet the line of the project that leads there.

        That is the first cable at the jack, else the module's own lines: nobody can change the library's, nor open
        them beside the project.
        """
        if not where.file.startswith(LIBRARY):
            return where
        jack = place.partition(":")[0]
        if jack in self.cables_at:
            return self.project.patch.cables[self.cables_at[jack][0]].where
        module = jack.partition(".")[0]
        return self._things.get(module, where)

    @cached_property
    def _things(self) -> Mapping[str, Where]:
        """The lines that put every module, controller, interface and program into the rig."""
        rig = self.net.project.rig
        things: tuple[Mounted | Outside, ...] = (*rig.modules, *rig.outside, *rig.programs)
        return {thing.id: thing.where for thing in things}

    def node(self, contact: Contact) -> Node | None:
        """Return the node of a contact; None for MIDI and links."""
        return None if contact.node is None else self.net.nodes[contact.node]

    def is_driven(self, contact: Contact) -> bool:
        """Whether an output or a steady normal gives the contact's node its voltage."""
        node = self.node(contact)
        if node is None:
            return self.net.rows[contact.row].writer is not None
        return bool(node.outputs) or contact.jack.normal_v is not None

    def driver(self, row: int) -> NetSection | None:
        """Return the section that writes a row, looking through a node that a single output drives."""
        writer = self.net.rows[row].writer
        section = None if writer is None else self.net.sections[writer]
        while section is not None and section.kind.is_internal and len(section.ins) == 1:
            writer = self.net.rows[section.ins[0]].writer
            section = None if writer is None else self.net.sections[writer]
        return section

    def readers(self, row: int) -> Iterator[NetSection]:
        """Yield the sections that read a row, through what the net itself put in between."""
        for index, _ in self.net.readers.get(row, ()):
            section = self.net.sections[index]
            if section.kind.is_internal and section.kind.name != "junction":
                for out in section.outs:
                    yield from self.readers(out)
            else:
                yield section

    def volts(self, row: int) -> Span:
        """Return what the voltage of a row can never leave. [V]"""
        return self.readings.volts[row]

    def level(self, row: int) -> Level:
        """Return what is typical of a row. [V]"""
        return self.readings.level[row]

    def pulse(self, row: int) -> Pulse:
        """Return the pulses of a row."""
        return self.readings.pulses[row]

    @cached_property
    def listeners(self) -> Mapping[Message, tuple[NetSection, ...]]:
        """Every section that turns a message into something else, plugged or not, by the message."""
        found: dict[Message, list[NetSection]] = {}
        for section in self.net.sections:
            message = message_of(section)
            if message is not None and section.ins and not is_sender(section):
                found.setdefault(message, []).append(section)
        return {message: tuple(sections) for message, sections in found.items()}

    @cached_property
    def played(self) -> frozenset[str]:
        """Every control that the set moves or puts somewhere: where the patch has it settles little."""
        passages = self.project.setlist.sections if self.project.setlist is not None else ()
        return frozenset(
            {setting.control for passage in passages for setting in passage.settings}
            | {move.control for passage in passages for move in passage.moves}
        )

    @cached_property
    def numbers_in_use(self) -> Mapping[int, frozenset[int]]:
        """The controller numbers that anything in the patch sends or hears, by channel."""
        found: dict[int, set[int]] = {}
        for link in self.project.patch.maps:
            found.setdefault(link.channel, set()).add(link.cc)
        for section in self.net.sections:
            message = message_of(section)
            if message is not None:
                found.setdefault(message.channel, set()).add(message.number)
        return {channel: frozenset(numbers) for channel, numbers in found.items()}

    def nth(self, cable_index: int) -> int:
        """Return how many cables with the same ends stand before a cable of the patch."""
        cables = self.project.patch.cables
        ends = (cables[cable_index].source, cables[cable_index].target)
        return sum((c.source, c.target) == ends for c in cables[:cable_index])

    @cached_property
    def _controls_by_param(self) -> Mapping[tuple[int, str], tuple[str, ...]]:
        found: dict[tuple[int, str], list[str]] = {}
        for name, refs in self.net.controls.items():
            for ref in refs:
                found.setdefault((ref.section, ref.name), []).append(name)
        return {key: tuple(names) for key, names in found.items()}

    def controls_of(self, section: NetSection, param: str) -> tuple[str, ...]:
        """Return the controls that set a parameter of a section."""
        return self._controls_by_param.get((section.index, param), ())


Run = Callable[[Bench], Iterator[Finding]]
PARTS = ("On stage", "Fix", "Blind to", "Source")
"""What a check's docstring says after its first line."""


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that can be wrong, under a stable name that says the fault."""

    name: str
    severity: Severity
    since: str
    run: Run
    family: str
    parts: Mapping[str, str]
    """`Fault` and the PARTS, as its docstring tells them."""
    caution: str = ""
    """What to mind before a hand does anything about it, where that can hurt: its family's words."""

    def __call__(self, bench: Bench) -> Iterator[Finding]:
        """Yield what it finds."""
        return self.run(bench)

    @property
    def explanation(self) -> str:
        """The whole docstring as paragraphs, for people."""
        rest = [f"{part}: {self.parts[part]}" for part in PARTS]
        caution = [f"Caution: {self.caution}"] if self.caution else []
        return "\n".join([self.parts["Fault"], "", *rest, *caution])


def check(name: str, *, severity: Severity, since: str = "0.1") -> Callable[[Run], Check]:
    """Make a check out of a function; the family is the file that it stands in."""

    def made(run: Run) -> Check:
        family = run.__module__.rpartition(".")[2]
        parts = read_parts(inspect.getdoc(run) or "", PARTS)
        about = sys.modules[run.__module__].__doc__ or ""
        return Check(name, severity, since, run, family, parts, read_caution(about))

    return made


def read_caution(doc: str) -> str:
    r"""Return the paragraph of a family's docstring that begins with `Caution:`, or nothing.

    >>> read_caution("Power: rails.\n\nCaution: unplug\nfirst.\n")
    'unplug first.'
    """
    found = [p for p in doc.split("\n\n") if p.startswith("Caution: ")]
    return " ".join(found[0].removeprefix("Caution: ").split()) if found else ""


def checks_in(*families: object) -> dict[str, Check]:
    """Return the table of all checks in the family modules, in order; raises `ValueError` on a name used twice."""
    return table_of(Check, families)


def listed(names: Sequence[str], *, most: int = 4) -> str:
    """Return names in a row, the rest counted.

    >>> listed(["a", "b", "c"], most=2)
    'a, b and 1 more'
    """
    shown = list(names[:most])
    rest = len(names) - len(shown)
    if rest:
        return f"{', '.join(shown)} and {rest} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else "".join(shown)
