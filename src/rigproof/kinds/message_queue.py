"""A queue of MIDI messages inside a kernel's state. Plain functions; see `base`.

`at` says where in the state the queue begins: READ, COUNT and LOST stand there, then room for `ROOM` messages.
"""

from __future__ import annotations

from typing import Any

ROOM = 1024
"""Messages a queue holds: a second of a full 5-pin line. What comes on top is lost and counted. Our choice."""
READ, COUNT, LOST, MESSAGES = 0, 1, 2, 3
SIZE = MESSAGES + ROOM


def put_message(state: Any, at: int, message: float) -> None:
    """Put a message at the end, or count it as lost when there is no room."""
    count = int(state[at + COUNT])
    if count >= ROOM:
        state[at + LOST] += 1.0
        return
    state[at + MESSAGES + (int(state[at + READ]) + count) % ROOM] = message
    state[at + COUNT] += 1.0


def take_message(state: Any, at: int) -> float:
    """Take the oldest message out; 0 when there is none."""
    if state[at + COUNT] <= 0.0:
        return 0.0
    read = int(state[at + READ])
    state[at + READ] = float((read + 1) % ROOM)
    state[at + COUNT] -= 1.0
    return float(state[at + MESSAGES + read])
