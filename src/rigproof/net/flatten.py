"""From the model to the net: sections laid out, jacks joined into nodes, nodes solved by Ohm's law, loops cut.

Voltages that meet at a jack are one node, V = sum(Vi/Ri) / (sum 1/Rout + sum 1/Rin), so that loading, droop and joined
outputs need no special cases. While nothing is plugged, a normalled jack belongs to the node that its normal names. A
MIDI cable becomes a section that takes the time the messages take; a digital link joins its lanes as they are.

Source: nodal analysis (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from rigproof.errors import (
    NOWHERE,
    RigError,
    RigErrors,
    ShapeError,
    UnknownName,
    Where,
    WiringError,
)
from rigproof.kinds import KINDS
from rigproof.kinds.base import Kind, Setting, Span
from rigproof.model.patch import Cable
from rigproof.model.project import Project
from rigproof.model.sheet import LANE, Jack, Plug, RawValue, Signal, Way
from rigproof.net.graph import GROUND_ROW, Component, Contact, Net, NetSection, Node, ParamRef, Row
from rigproof.net.insides import LEAD, check_insides, unfolded
from rigproof.net.order import order_in_loop, strong_components
from rigproof.net.references import Names, check_references
from rigproof.net.sheets import SectionPlan, SheetPlan
from rigproof.net.values import as_written, control_value, param_value

SMALLEST_OHM = 1e-3
"""No output is stiffer than this, so that Ohm's law needs no special case. [ohm]"""
STEREO_LANES = ("tip", "ring")
LEADS = {
    Plug.MONO: "mono-3.5",
    Plug.STEREO: "stereo-3.5",
    Plug.MIDI_A: "stereo-3.5",
    Plug.MIDI_B: "stereo-3.5",
    Plug.MIDI_DIN: "midi-din",
    Plug.USB_HOST: "usb",
    Plug.USB_DEVICE: "usb",
    Plug.RIBBON: "ribbon",
    Plug.LINE: "line-6.3",
}
"""The lead that each connector takes."""

Key = tuple[str, str, str]
"""Module, jack, lane."""
GROUND: Key = ("", "ground", "")


@cache
def input_places(kind: str, ways: int) -> Mapping[str, int]:
    """Return where each input port of a kind stands among its inputs."""
    return {p.name: i for i, p in enumerate(KINDS[kind].expand_inputs(ways))}


@cache
def output_places(kind: str, ways: int) -> Mapping[str, int]:
    """Return where each output port of a kind stands among its outputs."""
    return {p.name: i for i, p in enumerate(KINDS[kind].expand_outputs(ways))}


def lead_of(cable: Cable, source: Jack, target: Jack) -> str:
    """Return the sort of lead of a cable: as written, else a stereo one only where both ends are stereo."""
    if cable.lead is not None:
        return cable.lead
    a, b = LEADS[source.plug], LEADS[target.plug]
    return a if a == b else "mono-3.5" if "mono-3.5" in (a, b) else a


def flatten(project: Project, *, rate_hz: float = 48_000.0) -> Net:
    """Return the net of a project.

    Raises `RigErrors` with everything that is wrong with names, units and ranges, all at once.
    """
    names = Names(unfolded(project))
    errors = check_insides(project) + check_references(names)
    builder = _Builder(names, rate_hz)
    builder.read_patch(errors)
    if errors:
        raise RigErrors(_distinct(errors))
    builder.source = project
    builder.lay_out()
    builder.join_jacks()
    builder.join_messages()
    builder.connect_inputs()
    return builder.finish()


def _distinct(errors: list[RigError]) -> list[RigError]:
    """Drop what was said twice about the same place."""
    kept: dict[tuple[Where, str], RigError] = {}
    for error in errors:
        kept.setdefault((error.where, error.problem), error)
    return list(kept.values())


@dataclass(slots=True)
class _Draft:
    """A section while the net is being built."""

    name: str
    module: str
    kind: Kind
    setting: Setting
    ins: list[int]
    outs: tuple[int, ...]
    where: Where = NOWHERE


class _Groups:
    """Union of contacts that are joined. Source: Tarjan, disjoint sets with path halving (1975)."""

    def __init__(self) -> None:
        self.parent: dict[Key, Key] = {}

    def find(self, key: Key) -> Key:
        parent = self.parent
        parent.setdefault(key, key)
        while parent[key] != key:
            parent[key] = parent[parent[key]]
            key = parent[key]
        return key

    def join(self, a: Key, b: Key) -> None:
        first, second = self.find(a), self.find(b)
        if first != second:
            self.parent[second] = first


class _Builder:
    def __init__(self, names: Names, rate_hz: float) -> None:
        self.names = names
        self.project = names.project
        self.source = names.project
        """The project as written, with its insides still folded."""
        self.rate_hz = rate_hz
        self.rows: list[Row] = [Row(GROUND_ROW, "0 V", 0.0)]
        self.steady: dict[float, int] = {0.0: GROUND_ROW}
        self.drafts: list[_Draft] = []
        self.by_name: dict[str, int] = {}
        self.values: dict[str, dict[str, float]] = {}
        self.spans: dict[str, dict[str, Span]] = {}
        self.options: dict[str, dict[str, RawValue]] = {}
        self.controls: dict[str, tuple[tuple[str, str], ...]] = {}
        self.controlled: set[tuple[str, str]] = set()
        """(section, parameter) pairs that some control sets."""
        self.contacts: dict[Key, Contact] = {}
        self.nodes: list[Node] = []
        self.links: dict[int, Cable] = {}
        self.plugged: set[tuple[str, str]] = set()
        """(module, jack) with a cable in it."""
        self.delayed_to: dict[int, int] = {}

    # --- what the patch says -------------------------------------------------------------------------------------

    def plan(self, module: str) -> SheetPlan | None:
        return self.names.plans.get(self.names.sheet_of.get(module, ""))

    def read_patch(self, errors: list[RigError]) -> None:
        """Collect the values, spans and options of every section, from sheet, settings, slots, maps and set."""
        for module in self.names.sheet_of:
            plan = self.plan(module)
            if plan is None:
                continue
            for section in plan.sections.values():
                key = f"{module}.{section.id}"
                self.values[key] = dict(section.values)
                self.spans[key] = {}
                self.options[key] = dict(section.options)
            for control_id, pairs in plan.controls.items():
                control = plan.sheet.controls[control_id]
                self.controls[f"{module}.{control_id}"] = tuple(
                    (f"{module}.{s}", p) for s, p in pairs
                )
                self._set(f"{module}.{control_id}", control.default)
        self.controlled = {pair for pairs in self.controls.values() for pair in pairs}
        for key, section in self._sections():
            for param in section.kind.params:
                if param.from_tempo and not self._is_controlled(key, param.name):
                    self.values[key][param.name] = self.project.patch.tempo_bpm
        quiet: list[RigError] = []
        for place in self.project.patch.settings:
            control_found = self.names.control(place.control, place.where, quiet)
            if control_found is not None:
                value = control_value(place.value, control_found, place.where)
                if not isinstance(value, RigError):
                    self._set(place.control, value)
        for filling in self.project.patch.rhythms:
            self._fill(filling.slot, filling.values, filling.where, errors)
        for filling in self.project.patch.samples:
            self._fill(filling.slot, filling.values, filling.where, errors)
        for link in self.project.patch.maps:
            senders = [
                s
                for s, _ in self.controls.get(link.control, ())
                if "number" in self.values.get(s, {})
            ]
            if link.control in self.controls and not senders:
                errors.append(
                    WiringError(link.where.child("control"), f"'{link.control}' sends no MIDI")
                )
            targets = [
                f"{t.partition('.')[0]}.{s}" for t in link.to for s in self._slot_sections(t)
            ]
            for section_name in (*senders, *targets):
                if section_name in self.values:
                    self.values[section_name]["number"] = float(link.cc)
                    self.values[section_name]["channel"] = float(link.channel)
            module, _, control_id = link.control.partition(".")
            plan = self.plan(module)
            if plan is not None and control_id in plan.sheet.controls:
                control = plan.sheet.controls[control_id]
                self._play(link.control, min(control.lo, control.hi), max(control.lo, control.hi))
        self._read_set()

    def _read_set(self) -> None:
        setlist = self.project.setlist
        if setlist is None:
            return
        tempi = [
            t
            for t in (setlist.tempo_bpm, *(p.tempo_bpm for p in setlist.sections))
            if t is not None
        ]
        if tempi:
            tempi.append(self.project.patch.tempo_bpm)
            for key, section in self._sections():
                for param in section.kind.params:
                    if param.from_tempo and not self._is_controlled(key, param.name):
                        self.spans[key][param.name] = Span.around(*tempi)
        quiet: list[RigError] = []
        for passage in setlist.sections:
            wanted = [(s.control, s.value) for s in passage.settings]
            for move in passage.moves:
                wanted.append((move.control, move.to))
                if move.start is not None:
                    wanted.append((move.control, move.start))
            for name, raw in wanted:
                control = self.names.control(name, NOWHERE, quiet)
                if control is None:
                    continue
                value = control_value(raw, control, NOWHERE)
                if not isinstance(value, RigError):
                    self._play(name, value, value)

    def _sections(self) -> list[tuple[str, SectionPlan]]:
        return [
            (f"{module}.{section.id}", section)
            for module in self.names.sheet_of
            if (plan := self.plan(module)) is not None
            for section in plan.sections.values()
        ]

    def _is_controlled(self, section: str, param: str) -> bool:
        return (section, param) in self.controlled

    def _set(self, control: str, value: float) -> None:
        for section, param in self.controls.get(control, ()):
            self.values[section][param] = value

    def _play(self, control: str, lo: float, hi: float) -> None:
        for section, param in self.controls.get(control, ()):
            here = self.spans[section].get(param, Span.point(self.values[section][param]))
            self.spans[section][param] = here.hull(Span(lo, hi))

    def _slot_sections(self, slot: str) -> tuple[str, ...]:
        module, _, thing = slot.partition(".")
        plan = self.plan(module)
        return (
            plan.sheet.slots[thing].sections
            if plan is not None and thing in plan.sheet.slots
            else ()
        )

    def _fill(
        self, slot: str, values: Mapping[str, RawValue], where: Where, errors: list[RigError]
    ) -> None:
        module = slot.partition(".")[0]
        plan = self.plan(module)
        for section_id in self._slot_sections(slot):
            if plan is None or section_id not in plan.sections:
                continue
            section = plan.sections[section_id]
            params = {p.name: p for p in section.kind.expand_params(section.ways)}
            options = {o.name: o for o in section.kind.options}
            for key, raw in values.items():
                here = where.child(key)
                if key in params:
                    value = param_value(raw, params[key], here)
                    if isinstance(value, RigError):
                        errors.append(value)
                    else:
                        self.values[f"{module}.{section_id}"][key] = value
                elif key in options:
                    expected = options[key].check(raw)
                    if expected is not None:
                        errors.append(
                            ShapeError(
                                here, "no such value", found=as_written(raw), expected=expected
                            )
                        )
                    else:
                        self.options[f"{module}.{section_id}"][key] = raw
                else:
                    known = (*options, *params)
                    errors.append(UnknownName(here, "option", key, known, owner=f"slot '{slot}'"))

    # --- sections ------------------------------------------------------------------------------------------------

    def steady_row(self, value_v: float) -> int:
        row = self.steady.get(value_v)
        if row is None:
            row = len(self.rows)
            self.rows.append(Row(row, f"{value_v:g} V", value_v))
            self.steady[value_v] = row
        return row

    def add(
        self,
        name: str,
        module: str,
        kind: Kind,
        setting: Setting,
        ins: list[int],
        where: Where = NOWHERE,
    ) -> _Draft:
        index = len(self.drafts)
        outs = []
        for port in kind.expand_outputs(setting.ways):
            outs.append(len(self.rows))
            self.rows.append(Row(outs[-1], f"{name}.{port.name}", None, index, port.is_midi))
        draft = _Draft(name, module, kind, setting, ins, tuple(outs), where)
        self.drafts.append(draft)
        self.by_name[name] = index
        return draft

    def lay_out(self) -> None:
        """Make every section of every module; inputs rest until they are connected."""
        patch = self.project.patch
        for key, section in self._sections():
            setting = Setting(
                key,
                self.values[key],
                self.spans[key],
                self.options[key],
                section.ways,
                patch.tempo_bpm,
                patch.seed,
                self.rate_hz,
            )
            rests = [
                GROUND_ROW if p.is_midi else self.steady_row(p.rest_v)
                for p in section.kind.expand_inputs(section.ways)
            ]
            self.add(key, key.partition(".")[0], section.kind, setting, rests, section.where)

    def internal(
        self, kind_name: str, name: str, module: str, ins: list[int], **values: float
    ) -> _Draft:
        """Add a section that no sheet names."""
        kind = KINDS[kind_name]
        ways = len(ins) if kind.ways else 1
        full = {p.name: values.get(p.name, p.default) for p in kind.expand_params(ways)}
        patch = self.project.patch
        setting = Setting(name, full, {}, {}, ways, patch.tempo_bpm, patch.seed, self.rate_hz)
        return self.add(name, module, kind, setting, ins)

    # --- jacks ---------------------------------------------------------------------------------------------------

    def jacks(self) -> list[tuple[str, Jack]]:
        return [
            (module, jack)
            for module in self.names.sheet_of
            if (sheet := self.names.sheet(module)) is not None
            for jack in sheet.jacks.values()
        ]

    def jack(self, name: str) -> tuple[str, Jack]:
        module, _, jack = name.partition(".")
        sheet = self.names.sheet(module)
        assert sheet is not None  # references have been checked
        return module, sheet.jacks[jack]

    def source_row(self, module: str, jack: Jack, lane: str) -> int:
        """Return the row of the section output behind an output jack's lane."""
        return self.output_row(module, jack.lanes[lane][0])

    def output_row(self, module: str, port: str) -> int:
        """Return the row that `section.port` of a module writes."""
        section, _, name = port.partition(".")
        draft = self.drafts[self.by_name[f"{module}.{section}"]]
        return draft.outs[output_places(draft.kind.name, draft.setting.ways)[name]]

    def join_jacks(self) -> None:
        """Join contacts into nodes and solve each node."""
        groups = _Groups()
        lanes_of: dict[tuple[str, str], tuple[str, ...]] = {}
        volts = [(m, j) for m, j in self.jacks() if j.signal.is_volts]
        for module, jack in volts:
            lanes_of[module, jack.id] = tuple(jack.lanes) or (LANE,)
            for lane in lanes_of[module, jack.id]:
                groups.find((module, jack.id, lane))
        for cable in self.project.patch.cables:
            (ma, a), (mb, b) = self.jack(cable.source), self.jack(cable.target)
            self.plugged.update(((ma, a.id), (mb, b.id)))
            if not a.signal.is_volts:
                continue
            stereo = lead_of(cable, a, b) != "mono-3.5"
            for lane in STEREO_LANES if stereo else (LANE,):
                ends = [
                    (m, j.id, lane) if lane in lanes_of[m, j.id] else None
                    for m, j in ((ma, a), (mb, b))
                ]
                if ends[0] is not None and ends[1] is not None:
                    groups.join(ends[0], ends[1])
                else:  # the ring of a stereo lead meets the sleeve of a mono jack
                    for end in ends:
                        if end is not None:
                            groups.join(GROUND, end)
            if not stereo:  # a mono plug shorts the ring of a stereo jack to its sleeve
                for m, j in ((ma, a), (mb, b)):
                    if "ring" in lanes_of[m, j.id]:
                        groups.join(GROUND, (m, j.id, "ring"))
        for module, jack in volts:
            for lane in lanes_of[module, jack.id]:
                for other in jack.joins:
                    groups.join((module, jack.id, lane), (module, other, lane))
                if jack.normal is not None and (module, jack.id) not in self.plugged:
                    there = lanes_of.get((module, jack.normal), ())
                    if there:
                        groups.join(
                            (module, jack.normal, lane if lane in there else there[0]),
                            (module, jack.id, lane),
                        )
        members: dict[Key, list[tuple[str, Jack, str]]] = {}
        for module, jack in volts:
            for lane in lanes_of[module, jack.id]:
                members.setdefault(groups.find((module, jack.id, lane)), []).append(
                    (module, jack, lane)
                )
        ground = groups.find(GROUND)
        for root, found in members.items():
            self._solve(found, is_grounded=root == ground)

    def _solve(self, found: list[tuple[str, Jack, str]], *, is_grounded: bool) -> None:
        outputs = [(m, j, lane) for m, j, lane in found if j.way is Way.OUT]
        inputs = [(m, j, lane) for m, j, lane in found if j.way is Way.IN]
        conductance_s = sum(
            1.0 / max(j.resistance_ohm, SMALLEST_OHM) for _, j, _ in (*outputs, *inputs)
        )
        label = _contact_name(*(outputs or found)[0])
        if is_grounded:
            row = GROUND_ROW
        elif outputs:
            weights = {}
            for i, (_, jack, _) in enumerate(outputs, start=1):
                weights[f"weight-{i}"] = (
                    1.0 / max(jack.resistance_ohm, SMALLEST_OHM) / conductance_s
                )
                weights[f"lo-{i}"], weights[f"hi-{i}"] = jack.clamp_v
            sources = [self.source_row(m, j, lane) for m, j, lane in outputs]
            row = self.internal(
                "junction", f"node {label}", outputs[0][0], sources, **weights
            ).outs[0]
        else:
            # The first of the open inputs that names a steady voltage gives it to those normalled to it.
            steady = [
                j.normal_v
                for m, j, _ in inputs
                if j.normal_v is not None and (m, j.id) not in self.plugged
            ]
            row = self.steady_row(steady[0] if steady else 0.0)
        node = Node(
            len(self.nodes),
            row,
            tuple(_contact_name(*c) for c in (*outputs, *(c for c in found if c not in outputs))),
            tuple(_contact_name(*c) for c in outputs),
            conductance_s,
        )
        self.nodes.append(node)
        for module, jack, lane in found:
            source = self.source_row(module, jack, lane) if jack.way is Way.OUT else None
            self.contacts[module, jack.id, lane] = Contact(
                module, jack, lane, row, source, node.index, (module, jack.id) in self.plugged
            )

    # --- messages and links --------------------------------------------------------------------------------------

    def join_messages(self) -> None:
        """Join MIDI jacks by lines that take time, and digital links lane by lane."""
        for module, jack in self.jacks():
            if jack.signal.is_volts:
                continue
            for lane in jack.lanes:
                source = self.source_row(module, jack, lane) if jack.way is Way.OUT else None
                self.contacts[module, jack.id, lane] = Contact(
                    module,
                    jack,
                    lane,
                    GROUND_ROW if source is None else source,
                    source,
                    None,
                    (module, jack.id) in self.plugged,
                )
        taken: set[Key] = set()
        for cable in self.project.patch.cables:
            (ma, a), (mb, b) = self.jack(cable.source), self.jack(cable.target)
            if a.signal.is_volts:
                continue
            if a.way is Way.IN and b.way is Way.OUT:
                (ma, a), (mb, b) = (mb, b), (ma, a)
            if a.way is not Way.OUT or b.way is not Way.IN:
                continue  # two outputs or two inputs: nothing flows, and a finding says so
            for lane in b.lanes:
                here = self.contacts.get((ma, a.id, lane))
                if here is None or (mb, b.id, lane) in taken:
                    continue
                taken.add((mb, b.id, lane))
                row = here.row
                if a.signal is Signal.MIDI and cable.lead != LEAD:
                    kind = (
                        "midi-usb-link"
                        if a.plug in (Plug.USB_HOST, Plug.USB_DEVICE)
                        else "midi-serial-link"
                    )
                    line = self.internal(kind, f"line {cable.source} to {cable.target}", mb, [row])
                    self.links[self.by_name[line.name]] = cable
                    row = line.outs[0]
                self.contacts[mb, b.id, lane] = replace(self.contacts[mb, b.id, lane], row=row)

    # --- inputs --------------------------------------------------------------------------------------------------

    def connect_inputs(self) -> None:
        """Let wires and jacks drive the section inputs."""
        for module in self.names.sheet_of:
            plan = self.plan(module)
            if plan is None:
                continue
            coupled: dict[str, int] = {}
            for target, driver in plan.drivers.items():
                section_id, _, port = target.partition(".")
                draft = self.drafts[self.by_name[f"{module}.{section_id}"]]
                place = input_places(draft.kind.name, draft.setting.ways)[port]
                if driver[0] == "wire":
                    draft.ins[place] = self.output_row(module, driver[1])
                    continue
                contact = self.contacts[module, driver[1], driver[2]]
                row = self._open_row(contact, resting=draft.ins[place])
                if contact.jack.is_ac_coupled and self.rows[row].steady_v is None:
                    if contact.name not in coupled:
                        made = self.internal(
                            "ac-coupling", f"coupling {contact.name}", module, [row]
                        )
                        coupled[contact.name] = made.outs[0]
                    row = coupled[contact.name]
                draft.ins[place] = row

    def _open_row(self, contact: Contact, *, resting: int) -> int:
        """Return what a section reads from a jack: its node, or its own rest while nothing at all drives the jack."""
        is_open = (
            contact.row == GROUND_ROW and not contact.is_plugged and contact.jack.normal_v is None
        )
        return resting if is_open else contact.row

    # --- loops, order --------------------------------------------------------------------------------------------

    def _edges(self) -> list[tuple[int, int]]:
        edges = []
        for index, draft in enumerate(self.drafts):
            for row in draft.ins:
                writer = self.rows[row].writer
                if writer is not None:
                    edges.append((writer, index))
        return edges

    def finish(self) -> Net:
        """Cut every loop once, put everything in order and return the net."""
        edges = self._edges()
        looping = {a for a, b in edges if a == b}
        components: list[Component] = []
        by_member: dict[int, list[tuple[int, int]]] = {}
        parts = strong_components(len(self.drafts), edges)
        home = {m: i for i, part in enumerate(parts) for m in part}
        for a, b in edges:
            if home[a] == home[b]:
                by_member.setdefault(home[a], []).append((a, b))
        for i, part in enumerate(parts):
            if len(part) == 1 and part[0] not in looping:
                components.append(Component((part[0],)))
                continue
            order = order_in_loop(part, by_member.get(i, []))
            components.append(Component(tuple(self._cut(order)), is_loop=True))
        sections = tuple(
            NetSection(i, d.name, d.module, d.kind, d.setting, tuple(d.ins), d.outs, d.where)
            for i, d in enumerate(self.drafts)
        )
        readers: dict[int, list[tuple[int, int]]] = {}
        for section in sections:
            for position, row in enumerate(section.ins):
                readers.setdefault(row, []).append((section.index, position))
        rows_of = {
            s.name: {p.name: r for r, p in enumerate(s.kind.expand_params(s.setting.ways), start=1)}
            for s in sections
        }
        controls = {
            name: tuple(ParamRef(self.by_name[s], rows_of[s][p], p) for s, p in pairs)
            for name, pairs in self.controls.items()
        }
        tempo = tuple(
            ParamRef(s.index, rows_of[s.name][p.name], p.name)
            for s in sections
            for p in s.kind.params
            if p.from_tempo and not self._is_controlled(s.name, p.name)
        )
        return Net(
            self.project,
            tuple(self.rows),
            sections,
            tuple(components),
            {c.name: c for c in self.contacts.values()},
            tuple(self.nodes),
            controls,
            tempo,
            self.links,
            self.by_name,
            {row: tuple(found) for row, found in readers.items()},
            self.source,
        )

    def _cut(self, order: list[int]) -> list[int]:
        """Put a one-sample delay where the loop comes back; return the sections with the delays first."""
        place = {member: i for i, member in enumerate(order)}
        delays: list[int] = []
        delayed: dict[int, int] = {}
        for member in order:
            draft = self.drafts[member]
            for position, row in enumerate(draft.ins):
                writer = self.rows[row].writer
                if writer is None or writer not in place or place[writer] < place[member]:
                    continue
                if row not in delayed:
                    made = self.internal(
                        "one-sample-delay", f"return {self.rows[row].name}", draft.module, [row]
                    )
                    delayed[row] = made.outs[0]
                    delays.append(self.by_name[made.name])
                draft.ins[position] = delayed[row]
        return [*delays, *order]


def _contact_name(module: str, jack: Jack, lane: str) -> str:
    base = f"{module}.{jack.id}"
    return base if len(jack.lanes) <= 1 else f"{base}:{lane}"
