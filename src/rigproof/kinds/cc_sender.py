"""CC sender: a fader or knob, looked at so often a second, that sends a control change when its 7-bit value moves.

The position 0 to 1 becomes 0 to 127, rounded. At the start it sends where it stands, so that the receiver agrees with
the hand from the first bar on. Left out: noise of the fader, and the dead band that controllers put against it.

Source: control change and 7-bit values: MIDI 1.0 Detailed Specification; scan rate: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import MIDI_CODES, RATE_HZ, SILENT, Kind, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.midi_messages import CONTROL_CHANGE, message_of

POSITION, NUMBER, CHANNEL, SCAN_HZ = 1, 2, 3, 4
SENT, PHASE = 0, 1


def cc_sender(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Look at the fader when a scan is due; send what has changed."""
    rate_hz = params[RATE_HZ, 0]
    scan_hz = min(params[SCAN_HZ, 0], rate_hz)
    for n in range(start, stop):
        bus_v[outs[0], n] = 0.0
        state[PHASE] += scan_hz
        if state[PHASE] >= rate_hz:
            state[PHASE] -= rate_hz
            position = clamp(params[POSITION, 0] + n * params[POSITION, 1], 0.0, 1.0)
            value = int(position * 127.0 + 0.5)
            if value != state[SENT]:
                state[SENT] = float(value)
                status = CONTROL_CHANGE - 1 + int(clamp(params[CHANNEL, 0], 1.0, 16.0) + 0.5)
                number = int(clamp(params[NUMBER, 0], 0.0, 127.0) + 0.5)
                bus_v[outs[0], n] = message_of(status, number, value)


def prepare(setting: Setting) -> list[float]:
    """Nothing sent yet; the first sample is scanned."""
    return [-1.0, setting.rate_hz - min(setting["scan"], setting.rate_hz)]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Messages."""
    return [MIDI_CODES]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Messages have no level."""
    return [SILENT]


KIND = Kind(
    name="cc-sender",
    doc=__doc__,
    outputs=(Port("out", "control changes", is_midi=True),),
    params=(
        Param("position", "ratio", 0.0, 1.0, 0.0, "where the fader stands"),
        Param("number", "steps", 0.0, 127.0, 1.0, "controller number"),
        Param("channel", "steps", 1.0, 16.0, 1.0, "MIDI channel"),
        Param("scan", "Hz", 1.0, 8000.0, 1000.0, "how often the fader is looked at"),
    ),
    kernel=cc_sender,
    prepare=prepare,
    interval=interval,
    level=level,
)
