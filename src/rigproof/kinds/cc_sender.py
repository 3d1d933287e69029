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


def value_at(params: Any, n: int) -> int:
    """Return the value 0 to 127 of the fader at column `n`."""
    return int(clamp(params[POSITION, 0] + n * params[POSITION, 1], 0.0, 1.0) * 127.0 + 0.5)


def cc_sender(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Look at the fader when a scan is due; send what has changed."""
    rate_hz = params[RATE_HZ, 0]
    scan_hz = min(params[SCAN_HZ, 0], rate_hz)
    out = bus_v[outs[0], start:stop]
    for n in range(stop - start):
        out[n] = 0.0
    phase = state[PHASE]
    sent = state[SENT]
    if params[POSITION, 1] == 0.0 and value_at(params, 0) == sent:
        # Nothing to send; whole numbers add up exactly, in one go as one by one.
        whole_rate, whole_scan, whole_phase = int(rate_hz), int(scan_hz), int(phase)
        if whole_rate == rate_hz and whole_scan == scan_hz and whole_phase == phase:
            state[PHASE] = float((whole_phase + (stop - start) * whole_scan) % whole_rate)
            return
    for n in range(stop - start):
        phase += scan_hz
        if phase >= rate_hz:
            phase -= rate_hz
            value = value_at(params, start + n)
            if value != sent:
                sent = float(value)
                status = CONTROL_CHANGE - 1 + int(clamp(params[CHANNEL, 0], 1.0, 16.0) + 0.5)
                number = int(clamp(params[NUMBER, 0], 0.0, 127.0) + 0.5)
                out[n] = message_of(status, number, value)
    state[PHASE] = phase
    state[SENT] = sent


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
