"""What has been read, made into the model, with the place of every thing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from rigproof.files.reading import Node, Report
from rigproof.model.patch import Cable, Declined, Filling, InsideFile, Map, Patch, Settings
from rigproof.model.project import Inside
from rigproof.model.rig import (
    Board,
    CableStock,
    Mounted,
    Outside,
    Rig,
    Row,
    Supply,
    mm2_from_awg,
)
from rigproof.model.setlist import Move, Passage, Setlist

HOST = "host"
"""What an inside file calls the module that it runs in; no program may have this id."""


def build_rig(node: Node, report: Report) -> Rig:
    """Return the rig; of things with the same id the first is kept, and an error says so."""
    where = report.lines.where
    case, supply = node["case"], node["supply"]
    mounted = [
        Mounted(m["id"], m["sheet"], m["row"], m["hp"], m["turned"], where(m.path), m["ribbon"])
        for m in node["module"]
    ]
    outside = [
        Outside(o["id"], o["sheet"], where(o.path))
        for o in (*node["controller"], *node["interface"])
    ]
    seen: dict[str, Any] = {}
    for thing in (*node["module"], *node["controller"], *node["interface"]):
        first = seen.setdefault(thing["id"], thing)
        if first is not thing:
            report.add(
                (*thing.path, "id"),
                f"the id '{thing['id']}' stands twice",
                found=f"also {where(first.path)}",
                expected="an id of its own for everything in the rig",
            )
    kept = {id_: where(thing.path) for id_, thing in seen.items()}
    return Rig(
        name=node["name"],
        rows=tuple(
            Row(r["hp"], r["depth_mm"], where(r.path)) for r in (case["rows"] if case else ())
        ),
        supply=_supply(supply, report, [m.id for m in mounted]) if supply else None,
        modules=tuple(m for m in mounted if kept[m.id] == m.where),
        outside=tuple(o for o in outside if kept[o.id] == o.where),
        cables=tuple(
            CableStock(c["lead"], c["cm"], c["count"], where(c.path)) for c in node["cables"]
        ),
        where=where(node.path),
    )


def _supply(node: Node, report: Report, known: list[str]) -> Supply:
    """Return the supply; a module that no rig has, or that hangs on two boards, is reported and left out."""
    where = report.lines.where
    boards: dict[str, Board] = {}
    taken: dict[str, str] = {}
    for b in node["board"]:
        if b["id"] in boards:
            report.add(
                (*b.path, "id"),
                f"the board '{b['id']}' stands twice",
                found=f"also {boards[b['id']].where}",
                expected="an id of its own for every board",
            )
            continue
        if b["awg"] is not None and b["mm2"] is not None:
            report.add(
                (*b.path, "mm2"),
                "one wire has one size",
                found="both 'awg' and 'mm2'",
                expected="one of the two",
            )
        modules = []
        for name in b["modules"]:
            if name not in known:
                report.add(
                    (*b.path, "modules"),
                    f"there is no module '{name}'",
                    known=tuple(known),
                    name=name,
                )
            elif name in taken:
                report.add(
                    (*b.path, "modules"),
                    f"the module '{name}' hangs on two boards",
                    found=f"also on '{taken[name]}'",
                    expected="one board for every module",
                )
            else:
                taken[name] = b["id"]
                modules.append(name)
        boards[b["id"]] = Board(
            b["id"],
            tuple(modules),
            b["lead_cm"],
            mm2_from_awg(b["awg"]) if b["awg"] is not None else b["mm2"],
            dict(b["limit_ma"]),
            where(b.path),
        )
    return Supply(
        dict(node["rails_ma"]),
        node["headroom"],
        where(node.path),
        dict(node["surge_ma"]),
        tuple(boards.values()),
    )


def build_patch(node: Node, report: Report, name: str) -> Patch:
    """Return the patch; `name` stands where the file gives none."""
    where = report.lines.where
    return replace(
        _wiring(node, report, name),
        rig=node["rig"],
        tempo_bpm=node["tempo_bpm"],
        seed=node["seed"],
        declined=tuple(
            Declined(d["finding"], d["at"], d["reason"], where(d.path)) for d in node["declined"]
        ),
        insides=tuple(
            InsideFile(host, file, where(("inside", host))) for host, file in node["inside"].items()
        ),
        where=where(node.path),
    )


def _wiring(node: Node, report: Report, name: str) -> Patch:
    """Return what a patch and an inside have in common: how things are wired, set and filled."""
    where = report.lines.where
    return Patch(
        name=node["name"] or name,
        cables=tuple(
            Cable(
                c["from"], c["to"], c.get("colour", ""), c.get("cm"), c.get("lead"), where(c.path)
            )
            for c in node["cables"]
        ),
        settings=_settings(node["settings"], report),
        rhythms=tuple(
            Filling(slot, dict(options), where(options.path))
            for slot, options in node["rhythm"].items()
        ),
        samples=tuple(
            Filling(slot, {"files": files}, where(("samples", slot)))
            for slot, files in node["samples"].items()
        ),
        maps=tuple(
            Map(m["control"], m["cc"], m["channel"], m["to"], where(m.path)) for m in node["map"]
        ),
        where=where(node.path),
    )


def build_inside(node: Node, report: Report, host: str, name: str) -> Inside:
    """Return what runs inside a host; of programs with the same id the first is kept, and an error says so."""
    where = report.lines.where
    programs: dict[str, Outside] = {}
    for p in node["program"]:
        if p["id"] in (*programs, HOST):
            report.add(
                (*p.path, "id"),
                f"the id '{p['id']}' is taken",
                found="the host itself" if p["id"] == HOST else f"also {programs[p['id']].where}",
                expected="an id of its own for every program",
            )
            continue
        programs[p["id"]] = Outside(p["id"], p["sheet"], where(p.path))
    return Inside(host, tuple(programs.values()), _wiring(node, report, name), where(node.path))


def build_setlist(node: Node, report: Report, name: str, patch: str) -> Setlist:
    """Return the set; `name` and `patch` stand where the file gives none."""
    where = report.lines.where
    passages: dict[str, Passage] = {}
    for p in node["section"]:
        if p["id"] in passages:
            report.add(
                (*p.path, "id"),
                f"the section '{p['id']}' stands twice",
                found=f"also {passages[p['id']].where}",
                expected="an id of its own for every section",
            )
            continue
        moves = tuple(
            Move(
                m["control"],
                m["to"],
                m["bar"],
                m["beat"],
                m["beats"],
                m["start"],
                m["hand"],
                m["note"],
                where(m.path),
            )
            for m in p["moves"]
        )
        passages[p["id"]] = Passage(
            p["id"],
            p["title"],
            p["bars"],
            p["tempo_bpm"],
            _settings(p["settings"], report),
            moves,
            where(p.path),
        )
    return Setlist(
        name=node["name"] or name,
        patch=node["patch"] or patch,
        tempo_bpm=node["tempo_bpm"],
        beats_per_bar=node["beats_per_bar"],
        sections=tuple(passages.values()),
        where=where(node.path),
    )


def _settings(node: Node | dict[str, Any], report: Report) -> tuple[Settings, ...]:
    path = node.path if isinstance(node, Node) else ()
    return tuple(
        Settings(control, value, report.lines.where((*path, control)))
        for control, value in node.items()
    )
