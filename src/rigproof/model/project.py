"""Project: one rig, one patch, perhaps a set, and the sheets they use, held together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from rigproof.errors import NOWHERE, Where
from rigproof.model.patch import Patch
from rigproof.model.rig import Outside, Rig
from rigproof.model.setlist import Setlist
from rigproof.model.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Inside:
    """What runs inside one host module: its programs, and how they are wired and set. Names in the patch are those of
    the programs; `host` means the module itself, whose inner jacks the programs are wired to.
    """

    host: str
    programs: tuple[Outside, ...]
    patch: Patch
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class Project:
    """Everything that one proof needs. `folder` is only a name here; nothing in the model opens files."""

    rig: Rig
    patch: Patch
    sheets: Mapping[str, Sheet] = field(default_factory=dict)
    setlist: Setlist | None = None
    insides: tuple[Inside, ...] = ()
    folder: str = ""


@dataclass(frozen=True, slots=True)
class Sound:
    """A sample as recorded: `data` float64[frames, channels], full scale 1.0, at `rate_hz`."""

    name: str
    rate_hz: float
    data: Any
    """A numpy array; the model does not import numpy."""
