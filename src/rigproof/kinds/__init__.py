"""The catalogue of section kinds: one explicit table, no logic."""

from __future__ import annotations

from rigproof.kinds import (
    clock,
    junction,
    mixer,
    one_sample_delay,
    oscillator,
    slew,
)
from rigproof.kinds.base import Kind

KINDS: dict[str, Kind] = {
    module.KIND.name: module.KIND
    for module in (
        clock,
        junction,
        mixer,
        one_sample_delay,
        oscillator,
        slew,
    )
}
