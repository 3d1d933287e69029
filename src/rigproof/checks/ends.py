"""Ends: to which jacks a cable from one jack may go, and why not to the others, before anybody plugs it.

What it says is what the checks of the cables would say afterwards: messages and leads are judged by those checks
themselves, on the cables that meet at the two jacks; voltages by which outputs would meet, normals broken by the plug.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rigproof.checks.base import Bench, Check, Finding, listed
from rigproof.checks.cables import (
    USB,
    connectors_unlike,
    midi_line_shared,
    midi_types_crossed,
    mono_plug_in_stereo_jack,
    same_cable_twice,
    usb_ends_alike,
    usb_port_overdrawn,
)
from rigproof.errors import NOWHERE, UnknownName
from rigproof.model.edits import SetCableLead
from rigproof.model.patch import Cable
from rigproof.model.sheet import Housing, Jack, Signal, Way
from rigproof.net.flatten import lead_of
from rigproof.net.joints import Joints, lanes_of

WORLDS = {Signal.MIDI: "MIDI", Signal.LINK: "a digital link"}
"""What never meets a voltage, nor each other."""
SORTS = {
    Signal.AUDIO: "sound",
    Signal.CV: "a control voltage",
    Signal.PITCH: "a control voltage",
    Signal.GATE: "pulses",
    Signal.TRIGGER: "pulses",
    Signal.CLOCK: "pulses",
}
"""Voltages of different sorts may meet, and often are not meant to."""
STOPPING: tuple[Check, ...] = (usb_ends_alike, midi_line_shared)
"""Checks of messages and leads whose finding forbids an end; `midi-types-crossed` asks for another lead first."""
WARNING: tuple[Check, ...] = (same_cable_twice, mono_plug_in_stereo_jack, connectors_unlike)


@dataclass(frozen=True, slots=True)
class End:
    """What becomes of a cable that goes to a jack."""

    jack: str
    why_not: str | None = None
    """In plain words; None where the cable may go there."""
    warnings: tuple[str, ...] = ()
    lead: str | None = None
    """The lead that it takes, where the usual one would not do."""
    cables: tuple[int, ...] = ()
    """The cables of the patch that are plugged there already."""


def ends_for(bench: Bench, jack: str, *, without: int | None = None) -> tuple[End, ...]:
    """Return every other jack of the rig, in the order of the rig, and whether a cable from `jack` may go there.

    `without` is the number of a cable of the patch that is thought away: the one whose other plug is being moved.
    Raises `UnknownName` when there is no such jack, or it lies inside a host, `IndexError` when there is no such cable.
    """
    if without is not None:
        return _ends_without(bench, jack, without)
    jacks = outer_jacks(bench)
    if jack not in jacks:
        raise UnknownName(NOWHERE, "jack", jack, jacks)
    joints, lacking = Joints(bench.net), _lacking(bench)
    return tuple(
        _end(bench, joints, lacking, jacks, jack, other) for other in jacks if other != jack
    )


def _ends_without(bench: Bench, jack: str, without: int) -> tuple[End, ...]:
    patch = bench.project.patch
    if not 0 <= without < len(patch.cables):
        raise IndexError(without)
    cables = (*patch.cables[:without], *patch.cables[without + 1 :])
    rest = Bench.of(replace(bench.project, patch=replace(patch, cables=cables)))
    return tuple(
        replace(end, cables=tuple(c + (c >= without) for c in end.cables))
        for end in ends_for(rest, jack)
    )


def outer_jacks(bench: Bench) -> dict[str, Jack]:
    """Return the jacks that a hand can plug a cable into, by name."""
    found = {}
    for module, sheet_name in bench.project.rig.sheet_names.items():
        sheet = bench.project.sheets[sheet_name]
        if sheet.housing is Housing.PROGRAM:
            continue
        found.update({f"{module}.{j.id}": j for j in sheet.jacks.values() if not j.is_inside})
    return found


def _end(
    bench: Bench,
    joints: Joints,
    lacking: Mapping[str, Sequence[str]],
    jacks: Mapping[str, Jack],
    start: str,
    other: str,
) -> End:
    a, b = jacks[start], jacks[other]
    there = bench.cables_at.get(other, ())
    cable = Cable(start, other)
    if b.way is Way.OUT and a.way is not Way.OUT:
        cable = Cable(other, start)
    worlds = [WORLDS.get(j.signal, "a voltage") for j in (a, b)]
    if worlds[0] != worlds[1]:
        return End(other, f"{start} carries {worlds[0]}, {other} {worlds[1]}", cables=there)
    if a.signal.is_volts:
        why = _why_no_volts(joints, start, other, lead_of(cable, a, b))
        is_plain = all("ring" not in j.lanes for j in (a, b)) and not _share(bench, start, other)
        if is_plain:  # most pairs of most rigs: no check of leads has anything to say
            warnings = [] if why else list(_warnings(bench, joints, lacking, jacks, cable))
            return End(other, why, tuple(warnings), cables=there)
    few = _with_cable(bench, cable, around=(start, other))
    lead = _lead_of_fix(next(iter(midi_types_crossed(few)), None))
    if lead is not None:
        few = _with_cable(bench, replace(cable, lead=lead), around=(start, other))
    if a.signal is Signal.LINK:
        why = _why_no_link(bench, jacks, cable)
    elif a.signal is Signal.MIDI:
        why = _why_no_message(bench, few, jacks, cable)
    if why is not None:
        return End(other, why, cables=there)
    warnings = [f.message for check in WARNING for f in check(few) if _is_about(f, cable)]
    warnings += _warnings(bench, joints, lacking, jacks, cable)
    return End(other, None, tuple(dict.fromkeys(warnings)), lead, there)


def _share(bench: Bench, a: str, b: str) -> bool:
    return not set(bench.cables_at.get(a, ())).isdisjoint(bench.cables_at.get(b, ()))


def _with_cable(bench: Bench, cable: Cable, *, around: Sequence[str] | None) -> Bench:
    """Return the bench with one more cable; with `around` of the others only those plugged into these jacks."""
    patch = bench.project.patch
    kept: Sequence[Cable] = patch.cables
    if around is not None:
        indices = {i for jack in around for i in bench.cables_at.get(jack, ())}
        kept = [patch.cables[i] for i in sorted(indices)]
    project = replace(bench.project, patch=replace(patch, cables=(*kept, cable)))
    return replace(bench, project=project)


def _lead_of_fix(finding: Finding | None) -> str | None:
    edits = finding.fix.edits if finding is not None and finding.fix is not None else ()
    return next((e.lead for e in edits if isinstance(e, SetCableLead)), None)


def _is_about(finding: Finding, cable: Cable) -> bool:
    """Whether a finding of the few cables is about the new one, whichever way round it is named."""
    ends = (f"{cable.source} to {cable.target}", f"{cable.target} to {cable.source}")
    return finding.at.startswith(ends)


def _why_no_link(bench: Bench, jacks: Mapping[str, Jack], cable: Cable) -> str | None:
    a, b = jacks[cable.source], jacks[cable.target]
    if a.way is b.way:
        return _alike(cable, a)
    if not set(a.lanes) & set(b.lanes):
        return f"{cable.source} and {cable.target} belong to different modules' ribbons"
    for jack in (cable.target, cable.source):
        if jack in bench.cables_at:
            return f"there is a ribbon in {jack} already"
    return None


def _why_no_message(
    bench: Bench, few: Bench, jacks: Mapping[str, Jack], cable: Cable
) -> str | None:
    a, b = jacks[cable.source], jacks[cable.target]
    stopped = next((f for check in STOPPING for f in check(few)), None)
    if stopped is not None:
        return stopped.message.rstrip(".")
    if a.way is b.way and a.way is not Way.BARE:
        return _alike(cable, a)
    if a.plug in USB:
        before = {f.at for f in usb_port_overdrawn(bench)}
        more = _with_cable(bench, cable, around=None)
        drawn = next((f for f in usb_port_overdrawn(more) if f.at not in before), None)
        if drawn is not None:
            return drawn.message.rstrip(".")
    return None


def _alike(cable: Cable, jack: Jack) -> str:
    if jack.way is Way.OUT:
        return f"{cable.source} and {cable.target} are both outputs"
    return f"{cable.source} and {cable.target} are both inputs: nothing would drive them"


def _warnings(
    bench: Bench,
    joints: Joints,
    lacking: Mapping[str, Sequence[str]],
    jacks: Mapping[str, Jack],
    cable: Cable,
) -> Iterator[str]:
    a, b = jacks[cable.source], jacks[cable.target]
    sorts = [SORTS.get(j.signal) for j in (a, b)]
    if a.way is Way.OUT and b.way is Way.IN and sorts[0] != sorts[1]:
        yield f"{cable.source} gives {sorts[0]}, {cable.target} takes {sorts[1]}"
    if a.signal.is_volts:
        if not _is_driven(joints, cable):
            yield "no output drives it yet"
        for jack in (cable.source, cable.target):
            if jack in bench.cables_at:
                yield f"{jack} holds a plug already: stack the plugs, or use a mult"
    for module in dict.fromkeys(end.partition(".")[0] for end in (cable.source, cable.target)):
        needed = [n for n in lacking.get(module, ()) if n not in (cable.source, cable.target)]
        if needed:
            yield f"{module} does nothing useful before {listed(needed)} is plugged too"


def _lacking(bench: Bench) -> dict[str, list[str]]:
    """Return for every module with no cable in it the inputs that it needs and that nothing drives."""
    used = {end.partition(".")[0] for end in bench.cables_at}
    found: dict[str, list[str]] = {}
    for name, contacts in bench.contacts_of.items():
        contact = contacts[0]
        is_needed = contact.jack.needed and contact.jack.way is Way.IN
        is_open = is_needed and not any(bench.is_driven(c) for c in contacts)
        if is_open and contact.module not in used:
            found.setdefault(contact.module, []).append(name)
    return found


def _outputs_at(joints: Joints, start: str, other: str, lead: str) -> list[list[str]]:
    """Return for every lane that a cable joins which outputs meet there."""
    here, there = joints.lanes[start], joints.lanes[other]
    found = []
    for lane in lanes_of(lead):
        if lane in here and lane in there:
            met = joints.meeting((here[lane], there[lane]), plugged=(start, other))
            if joints.grounded.isdisjoint(met):
                found.append([n for n in sorted(met) if joints.contacts[n].jack.way is Way.OUT])
    return found


def _is_driven(joints: Joints, cable: Cable) -> bool:
    """Whether any output drives what a cable between two jacks joins."""
    lead = lead_of(cable, joints.jack(cable.source), joints.jack(cable.target))
    return any(_outputs_at(joints, cable.source, cable.target, lead))


def _why_no_volts(joints: Joints, start: str, other: str, lead: str) -> str | None:
    """Return why no cable may join two jacks that carry voltages; None where it may."""
    ends = start, other
    lanes = _outputs_at(joints, start, other, lead)
    for outputs in lanes:
        if len(outputs) > 1:
            own = [n for n in outputs if n.partition(":")[0] in ends]
            rest = [n for n in outputs if n not in own]
            if len(own) == 1 and rest:
                taken = other if own[0].partition(":")[0] == start else start
                return f"{taken} is driven by {listed(rest)} already"
            return f"two outputs would meet: {listed(outputs)}"
    if any(lanes):
        return None
    if all(joints.jack(name).way is Way.IN for name in ends):
        return f"{start} and {other} are both inputs: nothing would drive them"
    cut = next((name for name in ends if _is_cut(joints, name)), None)
    return f"the plug would cut {cut} off from what drives it now" if cut is not None else None


def _is_cut(joints: Joints, name: str) -> bool:
    """Whether a module that needs an input would lose what its normal gives it."""
    jack = joints.jack(name)
    contacts = [joints.contacts[n] for n in joints.lanes[name].values()]
    return (
        jack.needed
        and jack.way is Way.IN
        and jack.normal is not None
        and jack.normal_v is None
        and not any(c.is_plugged for c in contacts)
    )
