"""Lints of what is inside: sections that nothing reaches or that nobody hears, and settings that no hand reaches."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rigproof.checks.base import listed
from rigproof.checks.sheet.base import Described, Flaw, Weight, lint
from rigproof.kinds.base import Setting
from rigproof.model.sheet import SlotTakes, Way
from rigproof.net.sheets import SectionPlan

SLOT_KINDS: Mapping[str, tuple[SlotTakes, tuple[str, ...]]] = {
    # option of a kind -> what a slot takes for it; the sheet may also write it itself
    "files": (SlotTakes.SAMPLES, ("files",)),
    "steps": (SlotTakes.RHYTHM, ("steps", "euclid")),
    "notes": (SlotTakes.RHYTHM, ("notes", "volts")),
}


def setting_of(section: SectionPlan) -> Setting:
    """Return how a section is set while its sheet alone speaks."""
    return Setting(section.id, dict(section.values), {}, dict(section.options), section.ways)


def hands_on(module: Described) -> dict[str, set[str]]:
    """Return the parameters of each section that some control sets."""
    found: dict[str, set[str]] = {}
    for pairs in module.plan.controls.values():
        for section, param in pairs:
            found.setdefault(section, set()).add(param)
    return found


def slotted(module: Described) -> set[str]:
    """Return the sections that a slot fills."""
    return {section for slot in module.sheet.slots.values() for section in slot.sections}


def heard_sections(module: Described) -> set[str]:
    """Return the sections from which an output jack, or the room, hears anything."""
    feeds: dict[str, set[str]] = {}
    for port, driver in module.plan.drivers.items():
        if driver[0] == "wire":
            source = driver[1].partition(".")[0]
            feeds.setdefault(port.partition(".")[0], set()).add(source)
    todo = [
        port.partition(".")[0]
        for jack in module.sheet.jacks.values()
        if jack.way is Way.OUT
        for ports in jack.lanes.values()
        for port in ports
    ]
    todo += [s.id for s in module.plan.sections.values() if s.kind.is_ear]
    heard: set[str] = set()
    while todo:
        section = todo.pop()
        if section not in heard:
            heard.add(section)
            todo += feeds.get(section, ())
    return heard


@lint("section-unreached", Weight.WRONG)
def section_unreached(module: Described) -> Iterator[Flaw]:
    """Nothing reaches a section: no jack, no wire, no control and no slot, though it only passes on what it is given.

    Why: it is silent for ever, and with it whatever it feeds.
    Do: give one of its inputs a jack (`to`) or a wire, or take the section out.
    Source: by definition.
    """
    hands, slots = hands_on(module), slotted(module)
    for section in module.plan.sections.values():
        signal = {lag.source for lag in section.kind.lags(setting_of(section)) if lag.is_signal}
        signal &= set(section.inputs)
        driven = any(f"{section.id}.{port}" in module.plan.drivers for port in signal)
        if signal and not driven and section.id not in hands and section.id not in slots:
            yield Flaw(
                f"sections.{section.id}",
                f"nothing comes to {listed([f'`{p}`' for p in section.inputs if p in signal])}",
                section.where,
            )


@lint("section-unheard", Weight.WRONG)
def section_unheard(module: Described) -> Iterator[Flaw]:
    """No output hears a section.

    Why: whatever comes in there ends there, and a cable to it is a cable for nothing.
    Do: give one of its outputs a jack (`from`) or a wire, or take the section out.
    Source: by definition.
    """
    heard = heard_sections(module)
    for section in module.plan.sections.values():
        if section.id not in heard:
            yield Flaw(f"sections.{section.id}", "none of its outputs is used", section.where)


@lint("control-sets-nothing", Weight.WRONG)
def control_sets_nothing(module: Described) -> Iterator[Flaw]:
    """A control sets nothing.

    Why: a hand is planned for it, and nothing is heard.
    Do: write `sets = "section.parameter"`; `rigproof kinds NAME` lists the parameters of a kind.
    Source: by definition.
    """
    for control in module.sheet.controls.values():
        if not control.sets:
            yield Flaw(f"controls.{control.id}", "it has no `sets`", control.where)


@lint("parameter-out-of-hand", Weight.NOTE)
def parameter_out_of_hand(module: Described) -> Iterator[Flaw]:
    """No control sets some parameters of a section, and the sheet does not write them either.

    Why: they stand where the section kind puts them, which need not be where your module has them.
    Do: add a control that sets them, or write the value into the section; nothing, where the kind's value is right.
    Source: by definition.
    """
    hands, slots = hands_on(module), slotted(module)
    for section in module.plan.sections.values():
        if section.id in slots:
            continue
        names = [
            p.name
            for p in section.kind.params
            if not p.from_tempo
            and not is_handled(p.name, hands.get(section.id, set()), is_many=p.many)
            and f"sections.{section.id}.{p.name}" not in module.written
        ]
        if names:
            yield Flaw(
                f"sections.{section.id}",
                f"{listed(names, most=6)} of kind '{section.kind.name}'",
                section.where,
            )


def is_handled(name: str, hands: set[str], *, is_many: bool) -> bool:
    """Return whether some control sets a parameter; of one that comes in numbers, any number will do."""
    return name in hands or (is_many and any(hand.startswith(f"{name}-") for hand in hands))


@lint("slot-missing", Weight.DOUBTFUL)
def slot_missing(module: Described) -> Iterator[Flaw]:
    """A section plays samples, a rhythm or notes, and no patch can give it any.

    Why: it stays empty, or plays for ever what the kind begins with.
    Do: add a slot: `[slots]` and `bank = { takes = "samples", sections = "voice" }`, or `takes = "rhythm"`.
    Source: by definition.
    """
    slots = slotted(module)
    for section in module.plan.sections.values():
        for option, (takes, own) in SLOT_KINDS.items():
            if option not in section.options or section.id in slots:
                continue
            if not any(f"sections.{section.id}.{key}" in module.written for key in own):
                yield Flaw(
                    f"sections.{section.id}", f"no slot that takes {takes.value}", section.where
                )
