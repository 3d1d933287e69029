"""Diagram: what a drawing of the patch needs: modules with their jacks, the ways between them, and which sounds belong
together. Everything stands in the order of the files, so that a drawing of the same patch comes out the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from rigproof.model.rig import Mounted, Outside
from rigproof.model.sheet import Housing, Jack, Plug, Signal, Way
from rigproof.net.graph import GROUND_ROW, Contact, Net
from rigproof.net.joints import Joint, Joints
from rigproof.readings.paths import Along
from rigproof.readings.proof import Readings
from rigproof.readings.reach import backward
from rigproof.readings.tour import Voice, voices

USB = (Plug.USB_HOST, Plug.USB_DEVICE)
LOOKED_THROUGH = ("ac-coupling", "one-sample-delay")
"""Kinds that the net puts between a jack and who reads it."""


class Sort(StrEnum):
    """What a way between two jacks is made of."""

    CABLE = "cable"
    MIDI = "midi"
    USB = "usb"
    LINK = "link"
    """A ribbon to an expander."""
    NORMAL = "normal"
    """Inside a module, while nothing is plugged."""


class GroupSort(StrEnum):
    """Why modules stand together."""

    VOICE = "voice"
    """They make or shape one voice, or steer it alone."""
    SHARED = "shared"
    """Several voices run through them."""
    STEERING = "steering"
    """They steer several voices: clocks, sequencers, hands."""
    OUT = "out"
    """What the room hears comes from there: interface, desk."""
    APART = "apart"
    """They have no part in anything that is heard."""


FLOW = (GroupSort.STEERING, GroupSort.VOICE, GroupSort.SHARED, GroupSort.OUT, GroupSort.APART)
"""The order of the groups: as what they carry flows."""


@dataclass(frozen=True, slots=True)
class DrawnJack:
    """A jack as it is drawn."""

    id: str
    label: str
    way: Way
    signal: str
    """What it carries: the sheet's word, or `usb`."""
    plug: Plug
    lanes: tuple[str, ...]
    is_used: bool
    """A cable is in it."""
    cables: tuple[int, ...]
    """The cables in it; more than one are stacked plugs."""
    is_needed: bool
    at_mm: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Block:
    """A module, controller or interface as it is drawn."""

    id: str
    title: str
    sheet: str
    housing: Housing
    group: str
    """The name of its group."""
    is_passive: bool
    """It only joins contacts: a mult."""
    is_host: bool
    """A patch of its own runs inside it."""
    jacks: tuple[DrawnJack, ...]
    settings: int
    """How many of its controls the patch sets."""
    mapped: tuple[str, ...]
    """Its controls that send messages, and its slots that listen to any."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """A passive place where more than two ends meet: contacts of a mult, or plugs stacked in one jack."""

    module: str
    sort: str
    """`mult` or `stack`."""
    jacks: tuple[str, ...]
    cables: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Edge:
    """A way between two jacks. `cable` is its number in the patch, None for a normal."""

    sort: Sort
    cable: int | None
    source: str
    target: str
    is_backwards: bool
    """What it carries comes from the end that is written second."""
    signal: str
    """What it carries: that of the output behind it, `usb`, `midi`, `link`; the target's where nothing drives it."""
    driver: str | None
    """The output jack whose voltage or messages it carries, None where nothing drives it."""
    colour: str
    cm: int | None
    lead: str | None
    is_loop: bool
    """What it carries comes back to where it is from."""


@dataclass(frozen=True, slots=True)
class Group:
    """Modules that belong together."""

    name: str
    sort: GroupSort
    modules: tuple[str, ...]
    voices: tuple[str, ...] = ()
    """The voices that run through them."""


@dataclass(frozen=True, slots=True)
class Diagram:
    """Everything that a drawing of the patch needs."""

    blocks: tuple[Block, ...]
    edges: tuple[Edge, ...]
    meetings: tuple[Meeting, ...]
    groups: tuple[Group, ...]


def diagram(readings: Readings) -> Diagram:
    """Return what there is to draw of a patch; what runs inside a host is left out, the host itself is there."""
    net = readings.net
    joints = Joints(net)
    groups = _groups(readings, joints)
    group_of = {module: group.name for group in groups for module in group.modules}
    cables_at = _cables_at(net)
    blocks = tuple(_blocks(net, group_of, cables_at))
    edges = (*_cables(net, joints), *_normals(net, joints))
    return Diagram(blocks, edges, tuple(_meetings(blocks, joints)), groups)


def _patch_cables(net: Net) -> int:
    """Return how many cables the patch itself has; those inside hosts stand behind them."""
    return len((net.source or net.project).patch.cables)


def _cables_at(net: Net) -> Mapping[str, list[int]]:
    found: dict[str, list[int]] = {}
    for index, cable in enumerate(net.project.patch.cables[: _patch_cables(net)]):
        for end in dict.fromkeys((cable.source, cable.target)):
            found.setdefault(end, []).append(index)
    return found


# --- modules ---------------------------------------------------------------------------------------------------------


def _blocks(
    net: Net, group_of: Mapping[str, str], cables_at: Mapping[str, list[int]]
) -> Iterator[Block]:
    project = net.project
    settings: dict[str, int] = {}
    mapped: dict[str, dict[str, None]] = {}
    for setting in (net.source or project).patch.settings:
        module = setting.control.partition(".")[0]
        settings[module] = settings.get(module, 0) + 1
    for link in project.patch.maps:
        for name in (link.control, *link.to):
            mapped.setdefault(name.partition(".")[0], {})[name] = None
    hosts = {inside.host for inside in (net.source or project).insides}
    things: tuple[Mounted | Outside, ...] = (*project.rig.modules, *project.rig.outside)
    for thing in things:
        sheet = project.sheets[thing.sheet]
        jacks = [j for j in sheet.jacks.values() if not j.is_inside]
        yield Block(
            thing.id,
            sheet.title,
            sheet.id,
            sheet.housing,
            group_of[thing.id],
            not sheet.sections and bool(jacks) and all(j.way is Way.BARE for j in jacks),
            thing.id in hosts,
            tuple(_drawn(j, cables_at.get(f"{thing.id}.{j.id}", ())) for j in jacks),
            settings.get(thing.id, 0),
            tuple(mapped.get(thing.id, ())),
        )


def _drawn(jack: Jack, cables: list[int] | tuple[int, ...]) -> DrawnJack:
    return DrawnJack(
        jack.id,
        jack.label or jack.id,
        jack.way,
        _signal(jack),
        jack.plug,
        tuple(jack.lanes),
        bool(cables),
        tuple(cables),
        jack.needed,
        jack.at_mm,
    )


def _signal(jack: Jack) -> str:
    return Sort.USB.value if jack.plug in USB else jack.signal.value


def _meetings(blocks: tuple[Block, ...], joints: Joints) -> Iterator[Meeting]:
    for block in blocks:
        jacks = {f"{block.id}.{j.id}": j for j in block.jacks}
        seen: set[str] = set()
        for name, jack in jacks.items():
            if jack.way is Way.BARE and name not in seen and name in joints.lanes:
                met = _joined_inside(joints, name)
                seen |= set(met)
                cables = tuple(dict.fromkeys(i for n in met for i in jacks[n].cables))
                if cables:
                    yield Meeting(block.id, "mult", met, cables)
            elif len(jack.cables) > 1:
                yield Meeting(block.id, "stack", (name,), jack.cables)


def _joined_inside(joints: Joints, jack: str) -> tuple[str, ...]:
    """Return the jacks of a module that are joined to one of them inside, itself first."""
    found = {jack: None}
    todo = [jack]
    for here in todo:
        for name in joints.lanes[here].values():
            for joint in joints.at[name]:
                other = joint.to.partition(":")[0]
                if joint.cable is None and joint.hole is None and other not in found:
                    found[other] = None
                    todo.append(other)
    return tuple(found)


# --- ways ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Flow:
    """What a joint carries: from which contact to which, and from which output."""

    source: str
    target: str
    driver: str
    is_loop: bool


def _flows(net: Net, joints: Joints) -> tuple[dict[int, _Flow], dict[str, _Flow]]:
    """Return what every cable and every normal in use carries, by its number and by its normalled jack."""
    loops = {s: i for i, part in enumerate(net.components) if part.is_loop for s in part.sections}
    by_cable: dict[int, _Flow] = {}
    by_hole: dict[str, _Flow] = {}
    for node in net.nodes:
        if not node.outputs or node.row == GROUND_ROW:
            continue
        met = joints.meeting(node.outputs)
        looping = _way_of_loop(net, node.row, loops, met)
        for name, come in met.items():
            if come is None:
                continue
            here, joint = come
            flow = _Flow(here, name, _driver(met, here), name in looping)
            if joint.cable is not None:
                old = by_cable.get(joint.cable)  # the tip speaks for a stereo lead, a loop for both
                if old is None or (flow.is_loop and not old.is_loop):
                    by_cable[joint.cable] = flow
            elif joint.hole is not None:
                by_hole.setdefault(joint.hole, flow)
    return by_cable, by_hole


def _driver(met: Mapping[str, tuple[str, Joint] | None], name: str) -> str:
    come = met[name]
    while come is not None:
        name = come[0]
        come = met[name]
    return name


def _way_of_loop(
    net: Net, row: int, loops: Mapping[int, int], met: Mapping[str, tuple[str, Joint] | None]
) -> set[str]:
    """Return the contacts of a node by which its voltage comes back to what drives it."""
    writer = net.rows[row].writer
    if writer is None or writer not in loops:
        return set()
    readers = _readers(net, row, loops, loops[writer])
    found: set[str] = set()
    for name in met:
        contact = net.contacts[name]
        if contact.jack.way is not Way.IN or contact.module not in readers:
            continue
        here: str | None = name
        while here is not None and here not in found:
            found.add(here)
            come = met[here]
            here = come[0] if come is not None else None
    return found


def _readers(net: Net, row: int, loops: Mapping[int, int], loop: int) -> set[str]:
    """Return the modules whose sections read a row inside one loop."""
    found: set[str] = set()
    for index, _ in net.readers.get(row, ()):
        section = net.sections[index]
        if loops.get(index) != loop:
            continue
        if section.kind.name in LOOKED_THROUGH:
            for out in section.outs:
                found |= _readers(net, out, loops, loop)
        else:
            found.add(section.module)
    return found


def _cables(net: Net, joints: Joints) -> Iterator[Edge]:
    by_cable, _ = _flows(net, joints)
    loops = {s for part in net.components if part.is_loop for s in part.sections}
    lines = {id(cable): net.sections[i] for i, cable in net.links.items()}
    for index, cable in enumerate(net.project.patch.cables[: _patch_cables(net)]):
        ends = [_contacts(net, end)[0] for end in (cable.source, cable.target)]
        a, b = (end.jack for end in ends)
        if a.signal.is_volts:
            flow = by_cable.get(index)
            driver = net.contacts[flow.driver] if flow is not None else None
            is_back = (
                flow.source.partition(":")[0] != cable.source
                if flow is not None
                else b.way is Way.OUT or (a.way is Way.IN and b.way is not Way.IN)
            )
            is_loop = flow is not None and flow.is_loop
            sort = Sort.CABLE
        else:
            is_back = a.way is Way.IN and b.way is Way.OUT
            driver = ends[1] if is_back else ends[0]
            line = lines.get(id(cable))
            is_loop = line is not None and line.index in loops
            sort = _message_sort(a)
        target = a if is_back else b
        yield Edge(
            sort,
            index,
            cable.source,
            cable.target,
            is_back,
            _signal(driver.jack if driver is not None else target),
            None if driver is None else f"{driver.module}.{driver.jack.id}",
            cable.colour,
            cable.cm,
            cable.lead,
            is_loop,
        )


def _message_sort(jack: Jack) -> Sort:
    if jack.signal is Signal.LINK:
        return Sort.LINK
    return Sort.USB if jack.plug in USB else Sort.MIDI


def _normals(net: Net, joints: Joints) -> Iterator[Edge]:
    _, by_hole = _flows(net, joints)
    for jack, flow in by_hole.items():
        module = jack.partition(".")[0]
        if "/" in module or joints.jack(jack).is_inside:
            continue
        driver = net.contacts[flow.driver]
        yield Edge(
            Sort.NORMAL,
            None,
            flow.source.partition(":")[0],
            flow.target.partition(":")[0],
            False,
            _signal(driver.jack),
            f"{driver.module}.{driver.jack.id}",
            "",
            None,
            None,
            flow.is_loop,
        )


def _contacts(net: Net, jack: str) -> list[Contact]:
    module, _, id_ = jack.partition(".")
    sheet = net.project.sheets[net.project.rig.sheet_names[module]]
    lanes = tuple(sheet.jacks[id_].lanes)
    names = [jack] if len(lanes) <= 1 else [f"{jack}:{lane}" for lane in lanes]
    return [net.contacts[name] for name in names]


# --- what belongs together -------------------------------------------------------------------------------------------


def _groups(readings: Readings, joints: Joints) -> tuple[Group, ...]:
    """Return the groups: each voice's own modules, those that are shared, those that steer several, and the rest."""
    net = readings.net
    found = voices(readings)
    named = _voices_by_group(found)
    through: dict[str, dict[str, None]] = {}
    steered: dict[str, dict[str, None]] = {}
    for name, some in named.items():
        sections = {s.index for voice in some for s in (*voice.sources, *voice.way)}
        for index in sections:
            through.setdefault(net.sections[index].module, {})[name] = None
    for name, some in named.items():
        own = [
            s for voice in some for s in (*voice.sources, *voice.way) if len(through[s.module]) == 1
        ]
        rows = {row for s in own for row in s.ins}
        for index in backward(readings.paths, rows, along=Along.ANYTHING).sections:
            steered.setdefault(net.sections[index].module, {})[name] = None
    rig = net.project.rig
    modules = [*(m.id for m in rig.modules), *(o.id for o in rig.outside)]
    _add_passive(net, joints, modules, through, steered)
    ears = {section.module for section in net.ears}
    members: dict[tuple[str, GroupSort], list[str]] = {}
    for name in named:
        members[name, GroupSort.VOICE] = []
    for module in modules:
        runs, steers = list(through.get(module, ())), list(steered.get(module, ()))
        if len(runs) == 1:
            key = runs[0], GroupSort.VOICE
        elif runs:
            key = "what they share", GroupSort.SHARED
        elif module in ears:
            key = "the way out", GroupSort.OUT
        elif len(steers) == 1:
            key = steers[0], GroupSort.VOICE
        elif steers:
            key = "what steers them", GroupSort.STEERING
        else:
            key = "not heard", GroupSort.APART
        members.setdefault(key, []).append(module)
    return tuple(
        Group(
            name,
            sort,
            tuple(some),
            tuple(v.name for v in found if any(s.module in some for s in (*v.sources, *v.way))),
        )
        for (name, sort), some in sorted(members.items(), key=lambda m: FLOW.index(m[0][1]))
        if some
    )


def _voices_by_group(found: tuple[Voice, ...]) -> dict[str, list[Voice]]:
    """Return the voices by the name of their group: those of one module that makes several stand together."""
    by_module: dict[str, list[Voice]] = {}
    for voice in found:
        by_module.setdefault(voice.sources[0].module, []).append(voice)
    return {some[0].name if len(some) == 1 else module: some for module, some in by_module.items()}


def _add_passive(
    net: Net,
    joints: Joints,
    modules: list[str],
    through: dict[str, dict[str, None]],
    steered: dict[str, dict[str, None]],
) -> None:
    """Let a module without sections belong to what its cables lead to."""
    own = {s.module for s in net.sections}
    for module in modules:
        if module in own:
            continue
        for jack, lanes in joints.lanes.items():
            if jack.partition(".")[0] != module:
                continue
            for other in joints.meeting(lanes.values()):
                contact = net.contacts[other]
                if contact.jack.way is not Way.IN:
                    continue
                for group in through.get(contact.module, steered.get(contact.module, {})):
                    steered.setdefault(module, {})[group] = None
