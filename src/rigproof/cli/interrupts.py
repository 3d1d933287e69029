"""Ctrl-C held back while code is compiled or loaded, and heeded between two kernels.

A compiler that is interrupted in its own call-backs may swallow the interruption or fall over. A kernel takes a second
at most, so nobody waits long.
"""

from __future__ import annotations

import signal
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

    for name in HELD:
        number = getattr(signal, name, None)
        handler = signal.getsignal(number) if number is not None else None
        if number is None or not callable(handler):
            continue
        try:
            signal.signal(number, hold)
        except ValueError:  # not the main thread
            break
        before[number] = handler
    try:
        yield heed
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    heed()
