"""Cables: what is plugged into what, whether it can reach, and whether the box holds it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.model.edits import AddCable, RemoveCable, SetCableLead, SetCableLength
from rigproof.model.panel import straight_mm
from rigproof.model.patch import Cable
from rigproof.model.sheet import LANE, Plug, Signal, Way
from rigproof.net.flatten import lead_of
from rigproof.net.graph import GROUND_ROW, Contact, Node
from rigproof.readings.paths import Along
from rigproof.readings.reach import DeadEnd, forward, mute_voices
from rigproof.units import plural

SAG_RATIO = 0.1
"""The least by which a cable must be longer than the straight line: sag and routing add 10 to 30 %. Common practice, no
source."""
GOOD_SAG_RATIO = 0.2
"""The middle of those 10 to 30 %: what a fix asks for."""
USUAL_CM = (15, 30, 45, 60, 90, 120, 150, 200)
"""Lengths of patch cables, for rigs that state no stock. Common practice, no source. [cm]"""
TRS_TYPES = (Plug.MIDI_A, Plug.MIDI_B)
USB = (Plug.USB_HOST, Plug.USB_DEVICE)
LINES = (*TRS_TYPES, Plug.MIDI_DIN)
"""Serial MIDI, which one output drives into one input."""
USB_PORT_MA = 500.0
"""What a USB host gives a device where its sheet is silent. USB 2.0 specification, 7.2.1, from memory. [mA]"""
SLOW = (Signal.CV, Signal.PITCH)
"""What loses its meaning with its steady part."""
CROSSED = "midi-crossed"
"""A stereo lead with tip and ring swapped."""
UNBOXED = ("ribbon",)
"""Leads that stay in the case and are not counted in the box."""


def name_of(cable: Cable) -> str:
    """Return what a cable is called in findings."""
    return f"{cable.source} to {cable.target}"


def place_of(bench: Bench, index: int) -> str:
    """Return what a cable of the patch is called, numbered from the second with the same ends."""
    nth = bench.nth(index)
    return name_of(bench.project.patch.cables[index]) + (f" ({nth + 1})" if nth else "")


def lead_at(bench: Bench, cable: Cable) -> str:
    """Return the sort of lead that a cable is."""
    return lead_of(cable, bench.jack(cable.source), bench.jack(cable.target))


def unplug(bench: Bench, indices: list[int]) -> Fix:
    """Return the fix that pulls out cables of the patch; the last first, so that their numbers hold."""
    cables = bench.project.patch.cables
    return fix_of(
        *(
            RemoveCable(cables[i].source, cables[i].target, bench.nth(i))
            for i in sorted(indices, reverse=True)
        )
    )


def alike(bench: Bench, cable: Cable) -> list[int]:
    """Return which cables of the patch join the same two jacks, either way round."""
    there = set(bench.cables_at[cable.target])
    ends = {cable.source, cable.target}
    cables = bench.project.patch.cables
    return [
        i
        for i in bench.cables_at[cable.source]
        if i in there and {cables[i].source, cables[i].target} == ends
    ]


def is_world(bench: Bench, cable: Cable, *, volts: bool) -> bool:
    """Whether a cable carries volts, or messages and links."""
    return bench.jack(cable.source).signal.is_volts is volts


# --- what meets what -------------------------------------------------------------------------------------------------


def cables_that_join(bench: Bench, node: Node) -> list[int]:
    """Return the fewest cables without which no two outputs of a node meet, the later ones of the patch.

    Kruskal's way: fixed joins first, then cables in their order; those that would join two outputs are left out.
    """
    parent = {name: name for name in node.contacts}
    has_output = {name: name in node.outputs for name in node.contacts}

    def find(name: str) -> str:
        while parent[name] != name:
            name = parent[name]
        return name

    def join(a: str, b: str) -> None:
        first, second = find(a), find(b)
        if first != second:
            parent[second] = first
            has_output[first] = has_output[first] or has_output[second]

    by_jack: dict[str, dict[str, str]] = {}
    for name in node.contacts:
        contact = bench.net.contacts[name]
        by_jack.setdefault(f"{contact.module}.{contact.jack.id}", {})[contact.lane] = name
    for name in node.contacts:
        contact = bench.net.contacts[name]
        fixed = [*contact.jack.joins]
        if contact.jack.normal is not None and not contact.is_plugged:
            fixed.append(contact.jack.normal)
        for other in fixed:
            for there in by_jack.get(f"{contact.module}.{other}", {}).values():
                join(there, name)
    left_out = []
    for index, cable in enumerate(bench.project.patch.cables):
        ends = by_jack.get(cable.source, {}), by_jack.get(cable.target, {})
        for lane in ends[0].keys() & ends[1].keys():
            if lane != LANE and lead_at(bench, cable) == "mono-3.5":
                continue
            first, second = find(ends[0][lane]), find(ends[1][lane])
            if first != second and has_output[first] and has_output[second]:
                left_out.append(index)
            else:
                join(ends[0][lane], ends[1][lane])
    return list(dict.fromkeys(left_out))


@check("outputs-joined", severity=Severity.STOPS_THE_SHOW)
def outputs_joined(bench: Bench) -> Iterator[Finding]:
    """Two or more outputs meet at one jack, mult or stacked plug.

    On stage: each pulls the other towards itself; the jack gets a mean of the two, and both run warm.
    Fix: the fewest cables, the later ones, without which no two outputs meet. Where a mix is wanted, use a mixer.
    Blind to: outputs that have resistors meant for this, where the mean is wanted; decline the finding there.
    Source: V = sum(Vi/Ri) / sum(1/R), nodal analysis (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
    """
    for node in bench.net.nodes:
        if len(node.outputs) < 2 or node.row == GROUND_ROW:
            continue  # rings that a mono plug grounds are said by their own check
        contacts = [bench.net.contacts[name] for name in node.outputs]
        lowest_ohm = sorted(c.jack.resistance_ohm for c in contacts)[:2]
        apart_v = max(_apart_v(bench, a, b) for a in contacts for b in contacts if a.name < b.name)
        current_ma = 1e3 * apart_v / max(sum(lowest_ohm), 1e-3)
        cut = cables_that_join(bench, node)
        yield Finding(
            listed(node.outputs, most=8),
            f"{plural(len(node.outputs), 'output')} meet: {listed(node.outputs)}. They can stand "
            f"{apart_v:.3g} V apart, which drives {current_ma:.3g} mA from one into the other.",
            {"outputs": len(node.outputs), "apart_v": apart_v, "current_ma": current_ma},
            unplug(bench, cut) if cut else None,
            bench.project.patch.cables[cut[-1]].where if cut else contacts[0].jack.where,
        )
    for cable in bench.project.patch.cables:
        a, b = bench.jack(cable.source), bench.jack(cable.target)
        if not a.signal.is_volts and a.way is Way.OUT and b.way is Way.OUT:
            yield Finding(
                f"{cable.source} and {cable.target}",
                f"two outputs meet: {name_of(cable)}; nothing listens.",
                {"outputs": 2},
                unplug(bench, alike(bench, cable)),
                cable.where,
            )


def _apart_v(bench: Bench, a: Contact, b: Contact) -> float:
    """Return how far apart two outputs can stand behind their clamps, before their resistors. [V]"""
    spans = [
        bench.volts(c.source_row if c.source_row is not None else c.row).clipped(*c.jack.clamp_v)
        for c in (a, b)
    ]
    return max(spans[0].hi - spans[1].lo, spans[1].hi - spans[0].lo)


@check("cable-without-source", severity=Severity.HURTS)
def cable_without_source(bench: Bench) -> Iterator[Finding]:
    """A cable joins inputs, and no output is among all that it is joined to.

    On stage: nothing arrives, and a plugged input no longer gets what it is normalled to.
    Fix: pull the cable out.
    Blind to: cables whose other end waits for a guest's gear; decline the finding there.
    Source: definition: current comes from an output or a normal.
    """
    for cable in bench.project.patch.cables:
        if is_world(bench, cable, volts=True):
            contacts = [*bench.contacts_of[cable.source], *bench.contacts_of[cable.target]]
            is_dead = not any((n := bench.node(c)) is not None and n.outputs for c in contacts)
        else:
            is_dead = Way.OUT not in (bench.jack(cable.source).way, bench.jack(cable.target).way)
        if is_dead:
            yield Finding(
                name_of(cable),
                f"{name_of(cable)} joins inputs only; no output drives them.",
                {"outputs": 0},
                unplug(bench, alike(bench, cable)),
                cable.where,
            )


@check("same-cable-twice", severity=Severity.WORTH_KNOWING)
def same_cable_twice(bench: Bench) -> Iterator[Finding]:
    """Two cables join the same two jacks.

    On stage: nothing; but one of them is needed elsewhere, and a jack holds one plug.
    Fix: pull out the second.
    Blind to: longer ways round, through a mult, that join the same jacks.
    Source: definition: one cable carries what two carry.
    """
    for index, cable in enumerate(bench.project.patch.cables):
        indices = alike(bench, cable)
        if len(indices) > 1 and indices[0] == index:
            fix = unplug(bench, indices[1:])
            yield Finding(
                name_of(cable),
                f"{name_of(cable)} is plugged {len(indices)} times.",
                {"cables": len(indices)},
                Fix(fix.words, fix.edits, is_safe=True),
                bench.project.patch.cables[indices[1]].where,
            )


@check("needed-input-open", severity=Severity.STOPS_THE_SHOW)
def needed_input_open(bench: Bench) -> Iterator[Finding]:
    """An input without which the module does nothing useful is open, and the module is in use.

    On stage: the module sits there: a silent voice, a sequencer that does not step.
    Fix: none is computed: which output belongs there is the performer's to say.
    Blind to: what the sheet does not call needed, and modules with no cable at all.
    Source: the sheet's `needed`.
    """
    used = {end.partition(".")[0] for end in bench.cables_at}
    for name, contacts in bench.contacts_of.items():
        contact = contacts[0]
        jack = contact.jack
        if not jack.needed or contact.module not in used or jack.way is not Way.IN:
            continue
        if jack.signal is Signal.LINK:
            continue  # said by its own check
        if any(bench.is_driven(c) for c in contacts):
            continue
        yield Finding(
            name,
            f"{name} is open, and without it {contact.module} does nothing useful.",
            {"cables": len(bench.cables_at.get(name, ()))},
            None,
            jack.where,
        )


@check("link-not-fitted", severity=Severity.STOPS_THE_SHOW)
def link_not_fitted(bench: Bench) -> Iterator[Finding]:
    """A module that lives on another one's ribbon is in use, and the ribbon is not plugged.

    On stage: its jacks are dead, and the case has to be opened to mend it.
    Fix: the ribbon from the one module of the rig that has such a link free. Switch off and unplug the case first.
    Blind to: modules that do something useful without their link, where the sheet does not say that they need it.
    Source: the sheet's `needed`, or reach in the net from the link to a plugged jack.
    """
    used = {end.partition(".")[0] for end in bench.cables_at}
    for name, contacts in bench.contacts_of.items():
        jack, module = contacts[0].jack, contacts[0].module
        if jack.signal is not Signal.LINK or jack.way is not Way.IN or name in bench.cables_at:
            continue
        if module not in used:
            continue
        fed = {p.partition(".")[0] for ports in jack.lanes.values() for p in ports}
        sections = [bench.net.section(f"{module}.{section}") for section in fed]
        reached = forward(bench.readings.paths, [row for s in sections for row in s.outs])
        dead = [
            c.name
            for c in bench.net.contacts.values()
            if c.module == module
            and c.jack.way is Way.OUT
            and c.is_plugged
            and (c.source_row in reached.rows or jack.needed)
        ]
        if not dead and not jack.needed:
            continue
        hosts = [
            other
            for other, there in bench.contacts_of.items()
            if there[0].jack.signal is Signal.LINK
            and there[0].jack.way is Way.OUT
            and there[0].jack.lanes.keys() == jack.lanes.keys()
            and other not in bench.cables_at
        ]
        yield Finding(
            name,
            f"{name} is not plugged, and {module} lives on it"
            + (f": {listed(dead)} dead." if dead else "."),
            {"outputs": len(dead), "hosts": len(hosts)},
            fix_of(AddCable(Cable(hosts[0], name))) if len(hosts) == 1 else None,
            jack.where,
        )


@check("steady-voltage-blocked", severity=Severity.HURTS)
def steady_voltage_blocked(bench: Bench) -> Iterator[Finding]:
    """A control or pitch voltage goes through a jack that lets no steady voltage through.

    On stage: the pitch falls back to where it was after every note, a held envelope sags, a slow wave hardly moves.
    Fix: none is computed: the voltage needs a way that is DC-coupled.
    Blind to: coupling inside a module that the sheet does not tell of its jacks.
    Source: a series capacitor has the gain 0 at 0 Hz (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1); control
    must be DC-coupled: common practice, no source.
    """
    for name, contacts in bench.contacts_of.items():
        jack = contacts[0].jack
        if not jack.is_ac_coupled or name not in bench.cables_at or jack.way is Way.BARE:
            continue
        node = bench.node(contacts[0])
        if node is None:
            continue
        ends = [bench.net.contacts[c] for c in node.contacts]
        if jack.way is Way.IN:
            makers = [c for c in ends if c.jack.way is Way.OUT and c.jack.signal in SLOW]
            own = [name] if jack.signal in SLOW else []
            takers = own or (_slow_inputs(bench, contacts[0]) if makers else [])
        else:
            is_slow = jack.signal in SLOW
            makers = [contacts[0]] if is_slow else []
            takers = [c.name for c in ends if c.jack.way is Way.IN and c.jack.signal in SLOW]
        if not makers or not takers:
            continue
        level = bench.level(makers[0].row)
        yield Finding(
            name,
            f"{makers[0].name} steers {listed(takers)} by way of {name}, which is AC-coupled.",
            {"lost_v": abs(level.dc_v), "inputs": len(takers)},
            None,
            bench.project.patch.cables[bench.cables_at[name][0]].where,
        )


def _slow_inputs(bench: Bench, contact: Contact) -> list[str]:
    """Return the control inputs to which what arrives at a jack is passed on."""
    rows = [out for s in bench.readers(contact.row) if s.module == contact.module for out in s.outs]
    reached = forward(bench.readings.paths, rows, along=Along.SIGNAL).rows
    return [
        c.name
        for c in bench.net.contacts.values()
        if c.jack.way is Way.IN
        and c.jack.signal in SLOW
        and c.is_plugged
        and c.row in reached
        and c.module != contact.module
    ]


@check("voice-without-way-out", severity=Severity.STOPS_THE_SHOW)
def voice_without_way_out(bench: Bench) -> Iterator[Finding]:
    """A module whose audio output is plugged is not heard at all.

    On stage: the silent channel at soundcheck.
    Fix: none is computed: whether a cable is missing or a module too many is the performer's to say.
    Blind to: a fader that is down, and modules that are heard by some other way than the one meant.
    Source: reach in the net: a signal that is heard has a way along cables, wires and sections to a line input.
    """
    if not bench.net.ears:
        return
    for module in mute_voices(bench.readings.paths, bench.readings.heard):
        cables = [
            i
            for end, found in bench.cables_at.items()
            if end.startswith(f"{module}.")
            for i in found
        ]
        yield Finding(
            module,
            f"nothing of {module} reaches the way out, though its audio output is plugged.",
            {"cables": len(set(cables))},
            None,
            bench.project.patch.cables[min(cables)].where,
        )


@check("signal-ends-nowhere", severity=Severity.WORTH_KNOWING)
def signal_ends_nowhere(bench: Bench) -> Iterator[Finding]:
    """A cable carries something that takes no part in what is heard.

    On stage: one cable more to carry, to plug and to search through.
    Fix: none is computed: either the cable is not needed or the next one is missing.
    Blind to: what is there for the eye: lamps, meters, a tuner; and single lanes of a link or stereo lead.
    Source: reach in the net: what is heard has a way along cables, wires and sections to a line input.
    """
    if not bench.net.ears:
        return
    mute = set(mute_voices(bench.readings.paths, bench.readings.heard))
    dead: dict[str, list[DeadEnd]] = {}
    for end in bench.readings.dead_ends:
        dead.setdefault(f"{end.contact.module}.{end.contact.jack.id}", []).append(end)
    for name, ends in dead.items():
        end = ends[0]
        is_whole = len(ends) == len(bench.contacts_of[name])
        if end.contact.module in mute or not is_whole or not bench.is_driven(end.contact):
            continue
        stops = [section.removeprefix("node ") for section in end.last]
        last = f"; it ends in {listed(stops)}" if stops else ""
        yield Finding(
            name,
            f"{name} is plugged, but nothing that is heard depends on it{last}.",
            {"cables": len(bench.cables_at.get(name, ()))},
            None,
            bench.project.patch.cables[bench.cables_at[name][0]].where
            if name in bench.cables_at
            else end.contact.jack.where,
        )


# --- leads and connectors --------------------------------------------------------------------------------------------


@check("mono-plug-in-stereo-jack", severity=Severity.HURTS)
def mono_plug_in_stereo_jack(bench: Bench) -> Iterator[Finding]:
    """A mono plug is in a stereo jack, or a stereo lead meets a mono jack, and the ring goes to ground.

    On stage: one side is gone; an output's ring works into a short circuit.
    Fix: a stereo lead where both jacks are stereo; else none, since a mono jack stays mono.
    Blind to: jacks made for insert leads and balanced lines.
    Source: a TRS plug has tip, ring and sleeve, a TS plug's sleeve covers the ring: common practice, no source.
    """
    for index, cable in enumerate(bench.project.patch.cables):
        ends = [bench.jack(cable.source), bench.jack(cable.target)]
        if not is_world(bench, cable, volts=True):
            continue
        stereo = [j for j in ends if "ring" in j.lanes]
        if not stereo or (len(stereo) == 2 and lead_at(bench, cable) != "mono-3.5"):
            continue
        fits = len(stereo) == 2 and all(j.plug is Plug.STEREO for j in ends)
        edit = SetCableLead(cable.source, cable.target, "stereo-3.5", bench.nth(index))
        yield Finding(
            place_of(bench, index),
            f"{name_of(cable)} grounds the ring of "
            + " and ".join(
                end
                for end, jack in zip((cable.source, cable.target), ends, strict=True)
                if "ring" in jack.lanes
            )
            + "; the right side is lost.",
            {"stereo_jacks": len(stereo)},
            fix_of(edit) if fits else None,
            cable.where,
        )


@check("midi-types-crossed", severity=Severity.STOPS_THE_SHOW)
def midi_types_crossed(bench: Bench) -> Iterator[Finding]:
    """A MIDI jack of type A meets one of type B over a straight lead, or two alike over a crossed or mono one.

    On stage: no message arrives. A mono plug may also short the sender's line.
    Fix: a crossed lead between unlike types, a straight stereo one between like types.
    Blind to: jacks whose type the sheet has wrong, and switches that change it.
    Source: MIDI Association RP-054 (2018): type A has DIN pin 5 on the tip and pin 4 on the ring; type B swaps them.
    """
    for index, cable in enumerate(bench.project.patch.cables):
        plugs = [bench.jack(cable.source).plug, bench.jack(cable.target).plug]
        if any(p not in TRS_TYPES for p in plugs):
            continue
        needed, lead = ("stereo-3.5" if plugs[0] is plugs[1] else CROSSED), lead_at(bench, cable)
        if lead != needed:
            yield Finding(
                place_of(bench, index),
                f"{name_of(cable)} goes from {plugs[0]} to {plugs[1]} over a {lead} lead; "
                f"it takes a {needed} one.",
                {"unlike_types": int(plugs[0] is not plugs[1])},
                fix_of(SetCableLead(cable.source, cable.target, needed, bench.nth(index))),
                cable.where,
            )


@check("usb-ends-alike", severity=Severity.STOPS_THE_SHOW)
def usb_ends_alike(bench: Bench) -> Iterator[Finding]:
    """A USB cable joins two hosts, two devices, or USB to something that is not.

    On stage: no message arrives: a bus has one host, and a device speaks only when it is asked.
    Fix: none is computed: a host between two devices, or another way, has to be found.
    Blind to: jacks that can be either.
    Source: USB Device Class Definition for MIDI Devices 1.0 (USB-IF, 1999): a host talks to devices.
    """
    for cable in bench.project.patch.cables:
        plugs = [bench.jack(cable.source).plug, bench.jack(cable.target).plug]
        hosts = plugs.count(Plug.USB_HOST)
        if any(p in USB for p in plugs) and not (hosts == 1 and Plug.USB_DEVICE in plugs):
            yield Finding(
                name_of(cable),
                f"{name_of(cable)} goes from {plugs[0]} to {plugs[1]}; "
                "it takes one USB host and one USB device.",
                {"hosts": hosts, "devices": plugs.count(Plug.USB_DEVICE)},
                None,
                cable.where,
            )


BODIES = {
    Plug.MONO: "3.5 mm",
    Plug.STEREO: "3.5 mm",
    Plug.MIDI_A: "3.5 mm",
    Plug.MIDI_B: "3.5 mm",
    Plug.LINE: "3.5 mm",  # leads from 3.5 to 6.3 mm are in every box
    Plug.MIDI_DIN: "5-pin DIN",
    Plug.RIBBON: "ribbon",
}
"""What a plug looks like, USB left out: that is said by its own check."""


@check("connectors-unlike", severity=Severity.WORTH_KNOWING)
def connectors_unlike(bench: Bench) -> Iterator[Finding]:
    """The two ends of a cable take plugs that no ordinary lead has together.

    On stage: the one adapter that nobody packed.
    Fix: none is computed: an adapter lead has to be bought or made, and packed.
    Blind to: leads from 3.5 to 6.3 mm, which are common.
    Source: MIDI Association RP-054 (2018): an adapter between 5-pin DIN and a TRS jack, at most 2 m long.
    """
    for cable in bench.project.patch.cables:
        plugs = [bench.jack(cable.source).plug, bench.jack(cable.target).plug]
        if any(p in USB for p in plugs):
            continue
        bodies = [BODIES[p] for p in plugs]
        if bodies[0] != bodies[1]:
            yield Finding(
                name_of(cable),
                f"{name_of(cable)} goes from {bodies[0]} ({plugs[0]}) to {bodies[1]} ({plugs[1]}); "
                "pack the adapter lead.",
                {"cables": 1},
                None,
                cable.where,
            )


@check("usb-port-overdrawn", severity=Severity.STOPS_THE_SHOW)
def usb_port_overdrawn(bench: Bench) -> Iterator[Finding]:
    """What hangs on a USB host jack draws more current than the jack gives.

    On stage: the controller goes dark or comes and goes, often at the moment when all its lamps are lit.
    Fix: none is computed: a hub with a supply of its own, or another port, has to be found.
    Blind to: devices whose sheet does not say what they draw, and what a long thin cable costs.
    Source: currents add. 500 mA for a port whose sheet is silent: USB 2.0 specification, 7.2.1, from memory.
    """
    for name, contacts in bench.contacts_of.items():
        jack = contacts[0].jack
        if jack.plug is not Plug.USB_HOST or name not in bench.cables_at:
            continue
        given_ma = jack.usb_ma if jack.usb_ma is not None else USB_PORT_MA
        draws = {d: usb_draw_ma(bench, d, frozenset((name,))) for d in usb_devices(bench, name)}
        draw_ma = sum(draws.values())
        if draw_ma > given_ma:
            told = listed([f"{d} {ma:g} mA" for d, ma in draws.items() if ma > 0.0])
            yield Finding(
                name,
                f"{name} gives {given_ma:g} mA and {told} hang on it.",
                {"draw_ma": draw_ma, "given_ma": given_ma, "over_ma": draw_ma - given_ma},
                None,
                bench.project.patch.cables[bench.cables_at[name][0]].where,
            )


def usb_devices(bench: Bench, host: str) -> list[str]:
    """Return the device jacks at the other end of the cables in a USB host jack."""
    cables = [bench.project.patch.cables[i] for i in bench.cables_at.get(host, ())]
    ends = [c.target if c.source == host else c.source for c in cables]
    return list(dict.fromkeys(e for e in ends if bench.jack(e).plug is Plug.USB_DEVICE))


def usb_draw_ma(bench: Bench, device: str, seen: frozenset[str]) -> float:
    """Return what a USB device draws, and through it what hangs on a hub without a supply of its own. [mA]

    A thing that says what it draws as a device and nothing of what its host jacks give passes the bus on.
    """
    own_ma = bench.jack(device).usb_ma
    if own_ma is None:
        return 0.0
    module = device.partition(".")[0]
    onward = [
        f"{module}.{jack.id}"
        for jack in bench.sheet(module).jacks.values()
        if jack.plug is Plug.USB_HOST and jack.usb_ma is None
    ]
    return own_ma + sum(
        usb_draw_ma(bench, other, seen | {host})
        for host in onward
        if host not in seen
        for other in usb_devices(bench, host)
    )


@check("midi-line-shared", severity=Severity.STOPS_THE_SHOW)
def midi_line_shared(bench: Bench) -> Iterator[Finding]:
    """More than one cable is in a serial MIDI jack or a USB jack.

    On stage: two senders garble each other; one sender cannot light two receivers, so neither may hear.
    Fix: pull out the later cables. Where both are needed, use a merger or a splitter.
    Blind to: boxes in the cable, such as powered splitters.
    Source: IEC 63035:2017 (MIDI 1.0), 4.1: one output drives one input, a 5 mA current loop.
    """
    for name, indices in bench.cables_at.items():
        jack = bench.jack(name)
        if jack.signal is Signal.MIDI and jack.plug in (*LINES, *USB) and len(indices) > 1:
            cables = bench.project.patch.cables
            others = [
                c.target if c.source == name else c.source for c in (cables[i] for i in indices)
            ]
            if len(set(others)) < 2:
                continue  # the same cable twice
            yield Finding(
                name,
                f"{name} takes one cable and has {len(indices)}: {listed(others)}.",
                {"cables": len(indices)},
                unplug(bench, list(indices[1:])),
                cables[indices[1]].where,
            )


# --- lengths and the box ---------------------------------------------------------------------------------------------


def free_stock(bench: Bench) -> Counter[tuple[str, int]]:
    """Return how many cables of each lead and length are in the box and not in use; below zero where some lack."""
    free: Counter[tuple[str, int]] = Counter()
    for stock in bench.project.rig.cables:
        free[stock.lead, stock.cm] += stock.count
    for cable in bench.project.patch.cables:
        if cable.cm is not None:
            free[lead_at(bench, cable), cable.cm] -= 1
    return free


def needed_cm(bench: Bench, cable: Cable, sag_ratio: float) -> float:
    """Return the least length that goes from jack to jack with some sag; 0 where their places are not known. [cm]"""
    straight = straight_mm(bench.project, cable.source, cable.target)
    return 0.0 if straight is None else straight * (1.0 + sag_ratio) / 10.0


def length_that_reaches(bench: Bench, index: int) -> Fix | None:
    """Return the fix that takes the shortest free cable of the same lead that reaches with good sag.

    It is safe where the rig says which cables are in the box; else nobody knows whether there is one of that length.
    """
    cable = bench.project.patch.cables[index]
    wanted_cm, lead = needed_cm(bench, cable, GOOD_SAG_RATIO), lead_at(bench, cable)
    if bench.project.rig.cables:
        free = free_stock(bench)
        lengths = [cm for (sort, cm), count in free.items() if sort == lead and count > 0]
    else:
        lengths = list(USUAL_CM)
    fitting = [cm for cm in lengths if cm >= wanted_cm and cm > (cable.cm or 0)]
    if not fitting:
        return None
    return fix_of(
        SetCableLength(cable.source, cable.target, min(fitting), bench.nth(index)),
        is_safe=bool(bench.project.rig.cables),
    )


@check("cable-too-short", severity=Severity.STOPS_THE_SHOW)
def cable_too_short(bench: Bench) -> Iterator[Finding]:
    """A cable is shorter than the straight line between its jacks.

    On stage: it does not reach.
    Fix: the shortest free cable of the same lead that reaches with 20 % to spare.
    Blind to: jacks whose place the sheet does not give, and everything outside the case.
    Source: distance of two points; rows are 133.35 mm apart, HP 5.08 mm wide: IEC 60297-3-100.
    """
    for index, cable in enumerate(bench.project.patch.cables):
        straight = straight_mm(bench.project, cable.source, cable.target)
        if cable.cm is not None and straight is not None and cable.cm * 10.0 < straight:
            yield Finding(
                place_of(bench, index),
                f"{name_of(cable)} is {straight / 10:.1f} cm in a straight line, "
                f"the cable {cable.cm} cm.",
                {"straight_mm": straight, "cable_mm": cable.cm * 10.0},
                length_that_reaches(bench, index),
                cable.where,
            )


@check("cable-taut", severity=Severity.HURTS)
def cable_taut(bench: Bench) -> Iterator[Finding]:
    """A cable reaches, but with less than 10 % to spare.

    On stage: it lies across the knobs like a string, and pulls at the jacks when a hand touches it.
    Fix: the shortest free cable of the same lead that reaches with 20 % to spare.
    Blind to: the way round other cables and knobs, and jacks whose place the sheet does not give.
    Source: sag and routing add 10 to 30 % to the straight line: common practice, no source.
    """
    for index, cable in enumerate(bench.project.patch.cables):
        straight = straight_mm(bench.project, cable.source, cable.target)
        if cable.cm is None or not straight:
            continue
        spare_ratio = cable.cm * 10.0 / straight - 1.0
        if 0.0 <= spare_ratio < SAG_RATIO:
            yield Finding(
                place_of(bench, index),
                f"{name_of(cable)} is {straight / 10:.1f} cm in a straight line, the cable "
                f"{cable.cm} cm: {100 * spare_ratio:.1f} % to spare.",
                {
                    "straight_mm": straight,
                    "cable_mm": cable.cm * 10.0,
                    "spare_ratio": spare_ratio,
                },
                length_that_reaches(bench, index),
                cable.where,
            )


@check("cable-not-in-stock", severity=Severity.HURTS)
def cable_not_in_stock(bench: Bench) -> Iterator[Finding]:
    """The patch uses more cables of a sort and length than the box holds.

    On stage: one cable short at the rebuild.
    Fix: the next longer ones that are free in the box.
    Blind to: rigs that state no stock; ribbons, which stay in the case; and cables whose length the patch leaves open,
    which are only counted together, the longest need against the longest cable.
    Source: counting; lengths are matched greedily, which is best for intervals with one open end (Hall's condition).
    """
    if not bench.project.rig.cables:
        return
    free = free_stock(bench)
    for (lead, cm), count in sorted(free.items()):
        if count >= 0 or lead in UNBOXED:
            continue
        users = [
            i
            for i, c in enumerate(bench.project.patch.cables)
            if c.cm == cm and lead_at(bench, c) == lead
        ]
        yield Finding(
            f"{lead} {cm} cm",
            f"{plural(len(users), 'cable')} of {cm} cm ({lead}) in the patch, "
            f"{len(users) + count} in the box: {-count} short.",
            {"used": len(users), "stock": len(users) + count, "short": -count, "length_cm": cm},
            _longer_ones(bench, users, lead, cm, -count),
            bench.project.patch.cables[users[-1]].where,
        )
    yield from _open_lengths(bench, free)


def _longer_ones(bench: Bench, users: list[int], lead: str, cm: int, short: int) -> Fix | None:
    free = free_stock(bench)
    longer = sorted(
        length
        for (sort, length), count in free.items()
        if sort == lead and length > cm
        for _ in range(count)
    )
    if len(longer) < short:
        return None
    cables = bench.project.patch.cables
    return fix_of(
        *(
            SetCableLength(cables[i].source, cables[i].target, length, bench.nth(i))
            for i, length in zip(users[-short:], longer, strict=False)
        ),
        is_safe=True,
    )


def _open_lengths(bench: Bench, free: Counter[tuple[str, int]]) -> Iterator[Finding]:
    """Match the cables whose length the patch leaves open with what the box has left, the longest first."""
    needs: dict[str, list[tuple[float, int]]] = {}
    for index, cable in enumerate(bench.project.patch.cables):
        lead = lead_at(bench, cable)
        if cable.cm is None and lead not in UNBOXED:
            needs.setdefault(lead, []).append((needed_cm(bench, cable, SAG_RATIO), index))
    for lead, wanted in needs.items():
        left = sorted(
            (cm for (sort, cm), count in free.items() if sort == lead for _ in range(count)),
            reverse=True,
        )
        without = []
        for need_cm, index in sorted(wanted, reverse=True):
            if left and left[0] >= need_cm:
                left.pop(0)
            else:
                without.append(index)
        if without:
            cables = [bench.project.patch.cables[i] for i in without]
            have = len(wanted) - len(without)
            yield Finding(
                lead,
                f"{plural(len(wanted), 'cable')} ({lead}) of no stated length, {have} left in the "
                f"box that reach: none for {listed([name_of(c) for c in cables])}.",
                {"used": len(wanted), "stock": have, "short": len(without)},
                None,
                cables[0].where,
            )
