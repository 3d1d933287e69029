"""Note to CV: notes of one MIDI channel become pitch at 1 V/octave, a gate, a velocity and a trigger. One voice.

Note 60, middle C, is 0 V. Of several keys that are held, `priority` says which sounds: the last, the lowest or the
highest; when it is let go the next of them sounds again, without a new start. The pitch stays when all are let go.
With `retrigger` on, a key that takes over while the gate is high takes it low for 1 ms first, so that an envelope
starts again; off, the gate goes on. The trigger comes at every start of the gate. Velocity 1 to 127 is its share of
`velocity`, kept until the next start or take-over. Bend moves the pitch by `bend` semitones at its ends. All notes off
and all sound off let go of everything. `channel` 0 listens to every channel.

Left out: the damper pedal, aftertouch, glide, errors of the converter, which are about a cent in good ones.

Source: 1 V/octave by definition; note numbers, note on with velocity 0 as note off, bend of 14 bits about 8192: MIDI
1.0 Detailed Specification; all notes off is controller 123, all sound off 120 (the latter from memory). Priorities and
the gap of 1 ms are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RAIL_V,
    RATE_HZ,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.midi_messages import (
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    PITCH_BEND,
    channel_of,
    data1_of,
    data2_of,
    is_quiet,
    message_bytes,
    status_of,
)

CHANNEL, PRIORITY, RETRIGGER, BEND_SEMITONES, TRANSPOSE, LEVEL_V, VELOCITY_V = 1, 2, 3, 4, 5, 6, 7
PITCH_OUT, GATE_OUT, VELOCITY_OUT, TRIGGER_OUT = 0, 1, 2, 3
NOTE, IS_ON, VELOCITY, BEND, GAP_LEFT, TRIGGER_LEFT, COUNT, KEYS = 0, 1, 2, 3, 4, 5, 6, 7
"""The note that sounds or sounded last, the gate, its velocity, the bend, what is left of gap and trigger, keys pressed
so far, and for each of 128 keys when it was pressed (0: not held)."""
ALL_KEYS = 128
LAST, LOWEST, HIGHEST = 0, 1, 2
MIDDLE_C = 60.0
ALL_SOUND_OFF, ALL_NOTES_OFF = 120, 123
BEND_MIDDLE = 8192.0
GAP_S = 0.001
"""How long a gate goes low for a new start. Common practice, no source. [s]"""
TRIGGER_S = 0.005
"""Length of a trigger. Common practice, no source. [s]"""


def key_to_sound(state: Any, priority: int) -> int:
    """Return the held key that sounds, -1 when none is held."""
    found = -1
    for key in range(ALL_KEYS):
        pressed = state[KEYS + key]
        if pressed > 0.0:
            is_latest = found >= 0 and pressed > state[KEYS + found]
            if found < 0 or priority == HIGHEST or (priority == LAST and is_latest):
                found = key
    return found


def let_go(state: Any) -> None:
    """Let go of every key."""
    for key in range(ALL_KEYS):
        state[KEYS + key] = 0.0
    state[COUNT] = 0.0
    state[IS_ON] = 0.0


def press_key(
    state: Any, key: int, velocity: float, priority: int, gap: float, trigger: float
) -> None:
    """Press a key; let it take over if it is its turn. `gap` is 0 when the gate goes on. [samples]"""
    state[COUNT] += 1.0
    state[KEYS + key] = state[COUNT]
    if key_to_sound(state, priority) != key:
        return
    if state[IS_ON] <= 0.0 or gap > 0.0:
        state[TRIGGER_LEFT] = trigger
        state[GAP_LEFT] = gap if state[IS_ON] > 0.0 else 0.0
    state[NOTE] = float(key)
    state[VELOCITY] = velocity
    state[IS_ON] = 1.0


def hear_message(state: Any, message: float, priority: int, gap: float, trigger: float) -> None:
    """Do what a message on our channel says."""
    sort = status_of(message) & 0xF0
    key, value = data1_of(message), data2_of(message)
    if sort == NOTE_ON and value > 0:
        press_key(state, key, float(value), priority, gap, trigger)
    elif sort in (NOTE_ON, NOTE_OFF):
        state[KEYS + key] = 0.0
        found = key_to_sound(state, priority)
        if found < 0:
            let_go(state)
        else:
            state[NOTE] = float(found)
    elif sort == PITCH_BEND:
        state[BEND] = (key + 128.0 * value - BEND_MIDDLE) / BEND_MIDDLE
    elif sort == CONTROL_CHANGE and key in (ALL_SOUND_OFF, ALL_NOTES_OFF):
        let_go(state)


def note_to_cv(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Hear every message meant for us; write what sounds."""
    rate_hz = params[RATE_HZ, 0]
    in_v = bus_v[ins[0], start:stop]
    pitch_v, gate_v = bus_v[outs[PITCH_OUT], start:stop], bus_v[outs[GATE_OUT], start:stop]
    velocity_v = bus_v[outs[VELOCITY_OUT], start:stop]
    trigger_v = bus_v[outs[TRIGGER_OUT], start:stop]
    channel = int(params[CHANNEL, 0] + 0.5)
    priority = int(params[PRIORITY, 0] + 0.5)
    gap = max(1.0, math.floor(GAP_S * rate_hz + 0.5)) if params[RETRIGGER, 0] >= 0.5 else 0.0
    trigger = max(1.0, math.floor(TRIGGER_S * rate_hz + 0.5))
    bend_step, up_step = params[BEND_SEMITONES, 1], params[TRANSPOSE, 1]
    level_step, velocity_step = params[LEVEL_V, 1], params[VELOCITY_V, 1]
    bend_range = params[BEND_SEMITONES, 0] + start * bend_step
    up = params[TRANSPOSE, 0] + start * up_step
    level_v = params[LEVEL_V, 0] + start * level_step
    full_v = params[VELOCITY_V, 0] + start * velocity_step
    quiet = is_quiet(in_v)
    for n in range(stop - start):
        if not quiet and in_v[n] != 0.0:
            message = in_v[n]
            from_channel = channel_of(message)
            if message_bytes(message) == 3 and from_channel > 0 and channel in (0, from_channel):
                hear_message(state, message, priority, gap, trigger)
        semitones = state[NOTE] - MIDDLE_C + up + n * up_step
        semitones += state[BEND] * (bend_range + n * bend_step)
        pitch_v[n] = clamp(semitones / 12.0, -RAIL_V, RAIL_V)
        is_on = state[IS_ON] > 0.0 and state[GAP_LEFT] <= 0.0
        gate_v[n] = level_v + n * level_step if is_on else 0.0
        velocity_v[n] = state[VELOCITY] / 127.0 * (full_v + n * velocity_step)
        trigger_v[n] = level_v + n * level_step if state[TRIGGER_LEFT] > 0.0 else 0.0
        state[GAP_LEFT] = max(0.0, state[GAP_LEFT] - 1.0)
        state[TRIGGER_LEFT] = max(0.0, state[TRIGGER_LEFT] - 1.0)


def prepare(setting: Setting) -> list[float]:
    """Stand on middle C, no key held."""
    return [MIDDLE_C, *[0.0] * (KEYS - 1 + ALL_KEYS)]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Every key with every bend."""
    keys = Span(-MIDDLE_C, ALL_KEYS - 1.0 - MIDDLE_C) + setting.span("transpose")
    semitones = keys + setting.span("bend") * Span(-1.0, 1.0)
    high = setting.span("level").including(0.0)
    velocity = setting.span("velocity").including(0.0)
    return [semitones.scaled(1.0 / 12.0).clipped(-RAIL_V, RAIL_V), high, velocity, high]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Two octaves about middle C, a gate that is high half of the time, all velocities: our guess of playing."""
    up_v = setting["transpose"] / 12.0
    high, velocity = setting["level"], setting["velocity"]
    return [
        Level(up_v - 1.0, up_v + 1.0, up_v, 1.0 / math.sqrt(3.0)).clipped(-RAIL_V, RAIL_V),
        Level(0.0, high, 0.5 * high, 0.5 * high),
        Level(0.0, velocity, 0.5 * velocity, velocity / math.sqrt(12.0)),
        Level(0.0, high, 0.0, 0.0),
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Keys are pressed when a hand likes."""
    return [NO_PULSE, IRREGULAR, NO_PULSE, IRREGULAR]


KIND = Kind(
    name="note-to-cv",
    doc=__doc__,
    inputs=(Port("in", "messages", is_midi=True),),
    outputs=(
        Port("pitch", "the note, 1 V/octave"),
        Port("gate", "high while a key is held"),
        Port("velocity", "how hard the key was struck"),
        Port("trigger", "5 ms at every start"),
    ),
    params=(
        Param("channel", "steps", 0.0, 16.0, 1.0, "MIDI channel to listen to; 0 is every one"),
        Param(
            "priority",
            "ratio",
            0.0,
            2.0,
            0.0,
            "which of the held keys sounds",
            ("last", "lowest", "highest"),
        ),
        Param("retrigger", "ratio", 0.0, 1.0, 0.0, "a key that takes over", ("off", "on")),
        Param("bend", "semitones", 0.0, 24.0, 2.0, "what full bend adds"),
        Param("transpose", "semitones", -60.0, 60.0, 0.0, "added to every note"),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of gate and trigger"),
        Param("velocity", "V", 0.0, 10.0, 5.0, "voltage of velocity 127"),
    ),
    kernel=note_to_cv,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
