"""Ctrl-C held back while others' code runs that would lose it, and heeded between two pieces of the work.

A compiler that is interrupted in its own call-backs may swallow the interruption or fall over, and an exception raised
while an object is done away with never comes out. A piece takes a second at most, so nobody waits long.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

HELD = ("SIGINT", "SIGTERM", "SIGHUP")


@contextmanager
def held_back() -> Iterator[Callable[[], None]]:
    """Hold back what would end the command; the function that is yielded heeds it, and so does the end of the block.

    Outside the main thread signals never arrive, so there is nothing to hold.
    """
    waiting: list[int] = []
    before: dict[int, Callable[[int, FrameType | None], object]] = {}

    def hold(number: int, _frame: FrameType | None) -> None:
        waiting.append(number)

    def heed() -> None:
        if waiting:
            number = waiting[0]
            waiting.clear()
            before[number](number, None)

    for name in HELD if threading.current_thread() is threading.main_thread() else ():
        number = getattr(signal, name, None)
        handler = signal.getsignal(number) if number is not None else None
        if number is None or not callable(handler):
            continue
        before[number] = handler  # first: it may strike as soon as it is held
        signal.signal(number, hold)
    try:
        yield heed
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        heed()  # an error of the block's own does not hide it
