"""MIDI messages as numbers on the bus: how they are made, read and how long they are. Plain functions; see `base`.

Source: MIDI 1.0 Detailed Specification: lengths of messages (they also follow from USB MIDI 1.0, table 4-1).
"""

from __future__ import annotations

from typing import Any

NOTE_OFF = 0x80
NOTE_ON = 0x90
CONTROL_CHANGE = 0xB0
PITCH_BEND = 0xE0
SYSTEM = 0xF0
SONG_POSITION = 0xF2
REAL_TIME = 0xF8
CLOCK = 0xF8
START, CONTINUE, STOP = 0xFA, 0xFB, 0xFC
CLOCKS_PER_QUARTER = 24
"""MIDI clocks a quarter note."""
CLOCKS_PER_BEAT = 6
"""MIDI clocks a step of the song position, which is a sixteenth note."""
LARGEST = float(0xFF + 256 * 0x7F + 65536 * 0x7F)

LENGTHS_BY_KIND = (3, 3, 3, 3, 2, 2, 3)
"""Bytes of channel messages with status 8n to En."""
LENGTHS_OF_SYSTEM = (0, 2, 3, 2, 0, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1)
"""Bytes of system messages F0 to FF; 0 for exclusive ones, which no row carries, and undefined ones."""


def message_of(status: int, data1: int, data2: int) -> float:
    """Return a message as one number."""
    return float(status + 256 * data1 + 65536 * data2)


def message_bytes(message: float) -> int:
    """Return the bytes of a message with its status byte; 0 when the number is no message."""
    if not 128.0 <= message <= LARGEST:
        return 0
    number = int(message)
    if number != message:
        return 0
    status = number & 0xFF
    if status < 0x80 or (number >> 8) & 0xFF > 0x7F:
        return 0
    if status < SYSTEM:
        return LENGTHS_BY_KIND[(status >> 4) - 8]
    return LENGTHS_OF_SYSTEM[status - SYSTEM]


def status_of(message: float) -> int:
    """Return the status byte of a message."""
    return int(message) & 0xFF


def data1_of(message: float) -> int:
    """Return the first data byte of a message."""
    return (int(message) >> 8) & 0xFF


def data2_of(message: float) -> int:
    """Return the second data byte of a message."""
    return (int(message) >> 16) & 0xFF


def channel_of(message: float) -> int:
    """Return the channel of a message, 1 to 16; 0 for system messages and for what is no message."""
    if message_bytes(message) <= 0:
        return 0
    status = status_of(message)
    return (status & 0x0F) + 1 if status < SYSTEM else 0


def controller_value(message: float, number: int, channel: int) -> int:
    """Return the value 0 to 127 that a message gives to a controller number on a channel (1 to 16); -1 if none."""
    if message_bytes(message) != 3:
        return -1
    if status_of(message) != CONTROL_CHANGE + channel - 1 or data1_of(message) != number:
        return -1
    return data2_of(message)


def is_quiet(row: Any) -> bool:
    """Return whether a stretch of a row, float64[n], carries no message at all, as most do."""
    found = 0
    for n in range(row.shape[0]):
        found |= int(row[n] != 0.0)
    return found == 0
