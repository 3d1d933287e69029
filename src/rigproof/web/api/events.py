"""Events to every client that listens, from whichever thread they come. Whoever cannot keep up is let go: a client
that comes back reads everything again, so nothing that was missed can hurt.
"""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import dataclass, field

from rigproof.web.api.session import Event

CLIENTS_LIMIT = 32
QUEUE_LIMIT = 256


@dataclass(eq=False, slots=True)
class Listener:
    """One client's events; None ends them."""

    queue: asyncio.Queue[Event | None] = field(
        default_factory=lambda: asyncio.Queue(QUEUE_LIMIT + 1)
    )
    is_lost: bool = False
    """It could not keep up."""


@dataclass(slots=True)
class Hub:
    """All clients that listen."""

    listeners: set[Listener] = field(default_factory=set)
    loop: asyncio.AbstractEventLoop | None = None

    def tell(self, event: Event) -> None:
        """Tell every client, from any thread; before the server runs nobody listens."""
        loop = self.loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has just ended
                loop.call_soon_threadsafe(self.spread, event)

    def spread(self, event: Event) -> None:
        """Put an event into every client's queue; in the loop's own thread."""
        for listener in self.listeners:
            if listener.is_lost:
                continue
            if listener.queue.qsize() >= QUEUE_LIMIT:
                listener.is_lost = True
                listener.queue.put_nowait(None)
            else:
                listener.queue.put_nowait(event)
