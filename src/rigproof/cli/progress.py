"""Progress on the error stream: a bar on a terminal after a second, plain lines elsewhere, nothing if it is quick.

A terminal that calls itself dumb cannot move its cursor, and so gets plain lines too.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rigproof.cli.screen import ACCENT, errors_console

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress, TaskID

PATIENCE_S = 1.0
"""What is done sooner shows no progress. [s]"""
LINE_EVERY_S = 10.0
"""Between two plain lines where there is no terminal. [s]"""


@dataclass(slots=True)
class Work:
    """One piece of work under way."""

    words: str
    console: Console
    clock: Callable[[], float]
    began_s: float
    said_s: float = field(init=False)
    bar: Progress | None = None
    task: TaskID | None = None

    def __post_init__(self) -> None:
        """The first plain line comes when patience is over."""
        self.said_s = self.began_s - LINE_EVERY_S

    def tell(self, done: float, total: float, note: str = "") -> None:
        """Say how far it is; quick work says nothing."""
        now_s = self.clock()
        if now_s - self.began_s < PATIENCE_S or total <= 0:
            return
        if not self.console.is_terminal or self.console.is_dumb_terminal:
            if now_s - self.said_s >= LINE_EVERY_S and done < total:
                self.said_s = now_s
                self.console.print(
                    f"{self.words} {done / total:.0%} {note}".rstrip(), soft_wrap=True
                )
            return
        if self.bar is None:
            self._begin(total)
        assert self.bar is not None
        assert self.task is not None
        self.bar.update(self.task, completed=done, total=total, note=note)

    def _begin(self, total: float) -> None:
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        self.bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(28, style="dim", complete_style=ACCENT, finished_style=ACCENT),
            TextColumn("{task.percentage:>3.0f} %"),
            TextColumn("{task.fields[note]}", style="dim"),
            TimeRemainingColumn(),
            console=self.console,
            transient=True,
        )
        self.task = self.bar.add_task(self.words, total=total, note="")
        self.bar.start()


@contextmanager
def progress(words: str, clock: Callable[[], float] = time.monotonic) -> Iterator[Work]:
    """Show the progress of a piece of work; the bar is gone when it ends, however it ends."""
    work = Work(words, errors_console(), clock, clock())
    try:
        yield work
    finally:
        if work.bar is not None:
            work.bar.stop()
