"""Hosts unfolded: what runs inside a module laid out beside it, so that one net holds both.

A host is a module like any other, with jacks that belong to the patch inside it. Its programs are named `host/program`
from outside, `program` in the inside file, where `host` means the host itself. Programs are joined by numbers, not by
copper: their outputs have no resistance and their inputs load nothing (their sheets say so), so the nodes of the net
pass them on unchanged.
"""

from __future__ import annotations

from dataclasses import replace

from rigproof.errors import RigError, UnknownName, Where, WiringError
from rigproof.model.patch import Cable, Filling, Map, Patch, Settings
from rigproof.model.project import Inside, Project

HOST = "host"
"""What an inside file calls the module that it runs in."""
LEAD = "inside"
"""The lead of a connection between programs: no cable at all."""


def inner_name(host: str, name: str) -> str:
    """Return `module.thing` of an inside file as the rest of the project names it.

    >>> inner_name("mill", "reverb.size"), inner_name("mill", "host.to-left")
    ('mill/reverb.size', 'mill.to-left')
    """
    module, dot, thing = name.partition(".")
    return f"{host}{dot}{thing}" if module == HOST else f"{host}/{name}"


def unfolded(project: Project) -> Project:
    """Return the project with every inside laid out: more programs, more cables, settings, rhythms, samples and maps.

    What the patch itself says of a program (`host/program.control`) stands behind what the inside file says, and so
    has the last word.
    """
    if not project.insides:
        return project
    patch = project.patch
    inner = [_renamed(inside) for inside in project.insides]
    programs = tuple(
        replace(program, id=f"{inside.host}/{program.id}")
        for inside in project.insides
        for program in inside.programs
    )
    return replace(
        project,
        rig=replace(project.rig, programs=programs),
        patch=replace(
            patch,
            cables=(*patch.cables, *(c for p in inner for c in p.cables)),
            settings=(*(s for p in inner for s in p.settings), *patch.settings),
            rhythms=(*(r for p in inner for r in p.rhythms), *patch.rhythms),
            samples=(*(s for p in inner for s in p.samples), *patch.samples),
            maps=(*(m for p in inner for m in p.maps), *patch.maps),
        ),
        insides=(),
    )


def _renamed(inside: Inside) -> Patch:
    host, patch = inside.host, inside.patch
    return Patch(
        patch.name,
        cables=tuple(
            Cable(inner_name(host, c.source), inner_name(host, c.target), lead=LEAD, where=c.where)
            for c in patch.cables
        ),
        settings=tuple(
            Settings(inner_name(host, s.control), s.value, s.where) for s in patch.settings
        ),
        rhythms=tuple(Filling(inner_name(host, r.slot), r.values, r.where) for r in patch.rhythms),
        samples=tuple(Filling(inner_name(host, s.slot), s.values, s.where) for s in patch.samples),
        maps=tuple(
            Map(m.control, m.cc, m.channel, tuple(inner_name(host, t) for t in m.to), m.where)
            for m in patch.maps
        ),
    )


def check_insides(project: Project) -> list[RigError]:
    """Return what is wrong with where the insides are: a host that is not there, twice filled, or without an inside."""
    errors: list[RigError] = []
    sheets = project.rig.sheet_names
    seen: dict[str, Where] = {}
    for inside in project.insides:
        if inside.host not in sheets:
            errors.append(UnknownName(inside.where, "module", inside.host, sheets))
            continue
        if inside.host in seen:
            errors.append(
                WiringError(
                    inside.where,
                    f"'{inside.host}' has two insides",
                    found=f"also {seen[inside.host]}",
                )
            )
        seen.setdefault(inside.host, inside.where)
        sheet = project.sheets.get(sheets[inside.host])
        if sheet is not None and not any(j.is_inside for j in sheet.jacks.values()):
            errors.append(
                WiringError(
                    inside.where,
                    f"nothing can run inside '{inside.host}'",
                    expected="a module whose sheet has jacks with inside = true",
                )
            )
    return errors


def crosses_the_wall(cable: Cable, *, is_inside: tuple[bool, bool]) -> str | None:
    """Return which end of a cable lies on the wrong side of a host's wall, or None.

    `is_inside` tells of both ends whether the jack belongs to an inside: an inner jack of a host, or any of a program.
    """
    wanted = cable.lead == LEAD
    for name, inside in ((cable.source, is_inside[0]), (cable.target, is_inside[1])):
        if inside is not wanted:
            return name
    return None
