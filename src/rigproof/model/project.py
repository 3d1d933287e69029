"""Project: one rig, one patch, perhaps a set, and the sheets they use, held together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from rigproof.model.patch import Patch
from rigproof.model.rig import Rig
from rigproof.model.setlist import Setlist
from rigproof.model.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Project:
    """Everything that one proof needs. `folder` is only a name here; nothing in the model opens files."""

    rig: Rig
    patch: Patch
    sheets: Mapping[str, Sheet] = field(default_factory=dict)
    setlist: Setlist | None = None
    folder: str = ""


@dataclass(frozen=True, slots=True)
class Sound:
    """A sample as recorded: `data` float64[frames, channels], full scale 1.0, at `rate_hz`."""

    name: str
    rate_hz: float
    data: Any
    """A numpy array; the model does not import numpy."""
