"""What is drawn is what is plugged: worked out by hand on a small rig, held by invariants on the demo and on chance."""

from __future__ import annotations

from pathlib import Path

import rigproof.demo
from rigproof.files.load import load_project
from rigproof.files.load_sheet import library_sheets
from rigproof.model.patch import Cable, Map, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Outside, Rig
from rigproof.model.sheet import Way
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.diagram import Diagram, Edge, GroupSort, Sort, diagram
from rigproof.readings.proof import read
from tests.random_patches import random_project

DEMO = Path(rigproof.demo.__file__).parent / "lowtide"
MODULES = {
    "osc": "oscillator",
    "mult": "mult-3",
    "mix": "mixer-4",
    "filter": "multimode-filter",
    "vca": "quad-vca",
    "lfo": "dual-lfo",
    "idle": "mixer-4",
}
CABLES = (
    ("osc.saw", "mult.a-1"),
    ("mix.in-1", "mult.a-2"),  # written against the flow
    ("mult.a-3", "vca.in-4"),
    ("mix.out", "filter.in"),
    ("filter.low", "mix.in-2"),  # back again: a loop of two cables
    ("filter.band", "vca.in-1"),
    ("vca.mix", "desk.left"),
    ("vca.mix", "desk.right"),  # stacked
    ("lfo.sine-1", "vca.cv-3"),
    ("idle.out", "idle.in-1"),
)


def small() -> Project:
    sheets = library_sheets()
    rig = Rig(
        "small",
        modules=tuple(Mounted(id_, sheet, 1, 0) for id_, sheet in MODULES.items()),
        outside=(Outside("desk", "interface-2"), Outside("faders", "fader-box-8")),
    )
    patch = Patch(
        "small",
        cables=tuple(Cable(a, b, colour="red", cm=30) for a, b in CABLES),
        settings=(Settings("osc.tune", "220 Hz"), Settings("mix.level-1", 0.5)),
        maps=(Map("faders.f1", 20),),
    )
    names = {*MODULES.values(), "interface-2", "fader-box-8"}
    return Project(rig, patch, {name: sheets[name] for name in names})


def drawn(project: Project) -> tuple[Net, Diagram]:
    net = flatten(project)
    return net, diagram(read(net))


def test_a_small_rig_by_hand() -> None:
    _, found = drawn(small())
    cables = [e for e in found.edges if e.cable is not None]
    assert [(e.source, e.target) for e in cables] == list(CABLES)
    assert [e.cable for e in cables] == list(range(len(CABLES)))
    assert [e.is_backwards for e in cables] == [i == 1 for i in range(len(CABLES))]
    assert [e.is_loop for e in cables] == [i in (3, 4, 9) for i in range(len(CABLES))]
    assert {e.signal for e in cables} == {"audio", "cv"}
    assert [e.driver for e in cables[:3]] == ["osc.saw"] * 3
    assert (cables[8].signal, cables[8].colour, cables[8].cm) == ("cv", "red", 30)
    normals = [(e.source, e.target, e.signal) for e in found.edges if e.sort is Sort.NORMAL]
    assert normals == [("vca.cv-3", "vca.cv-4", "cv")]
    assert [(m.sort, m.jacks, m.cables) for m in found.meetings] == [
        ("mult", ("mult.a-1", "mult.a-2", "mult.a-3"), (0, 1, 2)),
        ("stack", ("vca.mix",), (6, 7)),
    ]
    blocks = {b.id: b for b in found.blocks}
    assert list(blocks) == [*MODULES, "desk", "faders"]
    assert [b.id for b in found.blocks if b.is_passive] == ["mult"]
    assert (blocks["osc"].settings, blocks["faders"].mapped) == (1, ("faders.f1",))
    assert {j.id for j in blocks["vca"].jacks if j.is_used} == {"in-1", "in-4", "mix", "cv-3"}
    groups = {g.name: g for g in found.groups}
    assert groups["osc"].sort is GroupSort.VOICE
    assert set(groups["osc"].modules) >= {"osc", "mult", "mix", "filter", "vca", "lfo"}
    assert groups["not heard"].modules == ("idle", "faders")


def test_the_demo() -> None:
    project = load_project(DEMO).require_project()
    net, found = drawn(project)
    edges = {(e.source, e.target): e for e in found.edges}
    assert edges["faders.usb", "bridge.usb"].sort is Sort.USB
    assert edges["bridge.midi-out", "sampler.midi-in"].sort is Sort.MIDI
    assert edges["sampler.ribbon", "outs.ribbon"].sort is Sort.LINK
    assert edges["mult.d-2", "rhythm.clock"].signal == "clock"
    assert not any(e.is_loop for e in found.edges)
    assert not any(part.is_loop for part in net.components)
    groups = {g.name: g for g in found.groups}
    assert groups["sampler"].voices == ("thud", "hull", "spray", "bell", "chord", "horn")
    assert groups["pad"].modules == ("pad", "tilt")
    assert set(groups["what they share"].modules) == {"vcas", "submix", "out"}
    assert "clock" in groups["what steers them"].modules
    assert found == drawn(project)[1]  # the same every time


def holds(project: Project, net: Net, found: Diagram) -> None:
    assert [e.cable for e in found.edges if e.cable is not None] == list(
        range(len(project.patch.cables))
    )
    modules = [*(m.id for m in project.rig.modules), *(o.id for o in project.rig.outside)]
    assert [b.id for b in found.blocks] == modules
    assert sorted(m for g in found.groups for m in g.modules) == sorted(modules)
    assert {g.name for g in found.groups} == {b.group for b in found.blocks}
    for edge in found.edges:
        if edge.sort is Sort.NORMAL:
            a, b = (net.contact(name) for name in (edge.source, edge.target))
            assert not b.is_plugged
            assert a.row == b.row
            assert edge.driver is not None
        elif edge.driver is not None and edge.sort is Sort.CABLE:
            ends = [c for c in net.contacts.values() if f"{c.module}.{c.jack.id}" == edge.target]
            nodes = {net.nodes[c.node].outputs for c in ends if c.node is not None}
            assert any(edge.driver == name.partition(":")[0] for n in nodes for name in n)


def reaches_itself(net: Net, edge: Edge) -> bool:
    """Whether what a cable carries comes back to its driver: a search through the sections, not through the joints."""
    assert edge.driver is not None
    target = edge.source if edge.is_backwards else edge.target
    inputs = [c for c in net.contacts.values() if f"{c.module}.{c.jack.id}" == target]
    goals = {
        net.rows[c.source_row].writer
        for c in net.contacts.values()
        if f"{c.module}.{c.jack.id}" == edge.driver and c.source_row is not None
    }
    todo = [
        index
        for c in inputs
        for row in (c.row,)
        for index, _ in net.readers.get(row, ())
        if net.sections[index].module == c.module
    ]
    seen = set(todo)
    while todo:
        index = todo.pop()
        if index in goals:
            return True
        for row in net.sections[index].outs:
            for other, _ in net.readers.get(row, ()):
                if other not in seen:
                    seen.add(other)
                    todo.append(other)
    return False


def test_any_patch() -> None:
    """The joints and the components on one side, a plain search through the sections on the other."""
    asked = {True: 0, False: 0}
    for seed in range(16):
        project = random_project(seed)
        net, found = drawn(project)
        holds(project, net, found)
        for edge in found.edges:
            target = edge.source if edge.is_backwards else edge.target
            ends = [c for c in net.contacts.values() if f"{c.module}.{c.jack.id}" == target]
            nodes = [net.nodes[c.node] for c in ends if c.node is not None]
            is_plain = (
                edge.sort is Sort.CABLE
                and edge.driver is not None
                and len(ends) == 1
                and ends[0].jack.way is Way.IN
                and len(_plugs(project, target)) == 1
                and all(len(n.outputs) == 1 and n.row for n in nodes)
            )
            if is_plain:
                assert edge.is_loop is reaches_itself(net, edge), (seed, edge)
                asked[edge.is_loop] += 1
    assert min(asked.values()) > 5, asked


def _plugs(project: Project, jack: str) -> list[Cable]:
    return [c for c in project.patch.cables if jack in (c.source, c.target)]


def test_the_demo_holds_too() -> None:
    project = load_project(DEMO).require_project()
    holds(project, *drawn(project))
