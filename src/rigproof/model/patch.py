"""Patch: how the rig is wired and set. Cables, settings, rhythms, sample banks and mappings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigproof.errors import NOWHERE, Where
from rigproof.model.sheet import RawValue


@dataclass(frozen=True, slots=True)
class Cable:
    """One cable, from `module.jack` to `module.jack`. `lead` is its sort; None takes the sort that the jacks need."""

    source: str
    target: str
    colour: str = ""
    cm: int | None = None
    lead: str | None = None
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Settings:
    """Where one control stands (`module.control`), as written: a number, a quantity with its unit, or a choice."""

    control: str
    value: RawValue
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Filling:
    """What a patch puts in a slot (`module.slot`): the options of a rhythm, or the files of a sample bank."""

    slot: str
    values: Mapping[str, RawValue] = field(default_factory=dict)
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Map:
    """A controller's knob or fader sends a MIDI controller number that one or more slots listen to."""

    control: str
    cc: int
    channel: int = 1
    to: tuple[str, ...] = ()
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Declined:
    """A finding that the performer has read and lets stand, and why."""

    finding: str
    at: str
    reason: str
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class InsideFile:
    """Which file holds the patch that runs inside a host module."""

    host: str
    file: str
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Patch:
    """How the rig is wired and set."""

    name: str
    rig: str = "rig.toml"
    tempo_bpm: float = 120.0
    seed: int = 1
    """From this all chance in the patch follows, so that a render repeats to the bit."""
    cables: tuple[Cable, ...] = ()
    settings: tuple[Settings, ...] = ()
    rhythms: tuple[Filling, ...] = ()
    samples: tuple[Filling, ...] = ()
    maps: tuple[Map, ...] = ()
    declined: tuple[Declined, ...] = ()
    insides: tuple[InsideFile, ...] = ()
    where: Where = NOWHERE
