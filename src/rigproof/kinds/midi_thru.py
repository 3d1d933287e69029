"""MIDI thru: the same messages on several outputs, at once.

Left out: what each optocoupler of a chain of thru boxes adds (up to 2 us an edge, which adds up to unsafe bytes after
three or four in a row: common practice, no source).

Source: a thru output repeats what comes in: MIDI 1.0 Detailed Specification, hardware.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import MIDI_CODES, SILENT, Kind, Level, Port, Pulse, Setting, Span
from rigproof.kinds.midi_messages import is_quiet, message_bytes


def midi_thru(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Copy every message to every output."""
    in_v = bus_v[ins[0], start:stop]
    quiet = is_quiet(in_v)
    for o in range(outs.shape[0]):
        out_v = bus_v[outs[o], start:stop]
        for n in range(stop - start):
            out_v[n] = 0.0
        if not quiet:
            for n in range(stop - start):
                if message_bytes(in_v[n]) > 0:
                    out_v[n] = in_v[n]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES] * setting.ways


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT] * setting.ways


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Clock messages pass."""
    return [ins[0]] * setting.ways


KIND = Kind(
    name="midi-thru",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(Port("out", "the same messages", is_midi=True, many=True),),
    kernel=midi_thru,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 16, 3),
)
